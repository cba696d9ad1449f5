"""Tables of several seasons and sites: own results, swings, and a next season by hand."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
import pytest
from scipy import stats

from trials.model.trial import AppliedTo, Better
from trials.stats import Question, Scale, compare
from trials.stats.design.design_matrix import indicators
from trials.stats.design.table import Floats, PlotTable
from trials.stats.fit.analysis import analyse
from trials.stats.results import Method, OverSeasons

MakeTable = Callable[..., PlotTable]


def invented(seed: int, swing: float = 1.0, /, **columns: list[Any]) -> dict[str, list[Any]]:
    """Every combination of the columns, with effects of the variety, its swings and its luck."""
    rows = list(itertools.product(*columns.values()))
    found: dict[str, list[Any]] = {name: [row[i] for row in rows] for i, name in enumerate(columns)}
    rng = np.random.default_rng(seed)
    entry = {v: rng.normal(0, 1.5) for v in columns["variety"]}
    other: dict[tuple[Any, ...], float] = {}
    y = []
    for row in rows:
        at = dict(zip(columns, row, strict=True))
        where = tuple(at[name] for name in ("season", "site") if name in at)
        own = other.setdefault((at["variety"], *where), rng.normal(0, swing))
        level = other.setdefault(where, rng.normal(0, 2))
        y.append(20 + entry[at["variety"]] + own + level + rng.normal(0, 0.8))
    found["yield"] = y
    return found


def some(columns: dict[str, list[Any]], keep: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
    rows = [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]
    rows = [row for row in rows if keep(row)]
    return {name: [row[name] for row in rows] for name in columns}


def grown_in(year: int, row: dict[str, Any]) -> bool:
    return bool(row["season"] == year)


def seasons_of(table: PlotTable, question: Question | None = None) -> OverSeasons:
    found = compare(table, question or Question()).over_seasons
    assert found is not None
    return found


def three_seasons(**columns: list[Any]) -> dict[str, list[Any]]:
    return invented(5, season=[2024, 2025, 2026], b=[1, 2, 3, 4], variety=list("uvwxyz"), **columns)


def test_one_season_has_none_beside_it(plot_table: MakeTable) -> None:
    columns = some(three_seasons(), lambda row: row["season"] == 2025)
    found = compare(plot_table(columns, "variety", block="b", season="season"), Question())
    assert found.over_seasons is None
    assert "one-season" in {caution.code for caution in found.cautions}


def test_each_season_by_itself_is_its_own_trial(plot_table: MakeTable) -> None:
    columns = three_seasons()
    found = seasons_of(plot_table(columns, "variety", block="b", season="season"))
    assert [part.name for part in found.own] == ["2024", "2025", "2026"]
    for part in found.own:
        only = some(columns, partial(grown_in, int(part.season or 0)))
        alone = compare(plot_table(only, "variety", block="b"), Question())
        assert part.means == alone.means
        assert part.all_pairs == alone.all_pairs
        assert part.tests == alone.tests
        grid = np.array(only["yield"]).reshape(4, 6)
        left = grid - grid.mean(axis=0) - grid.mean(axis=1, keepdims=True) + grid.mean()
        error = np.sqrt(2 * np.sum(left**2) / 15 / 4)
        assert part.all_pairs[0].se == pytest.approx(error)


def test_a_season_that_cannot_be_compared_says_why(plot_table: MakeTable) -> None:
    columns = some(three_seasons(), lambda row: row["season"] != 2024 or row["variety"] == "u")
    found = seasons_of(
        plot_table(columns, "variety", block="b", season="season"), Question(check="v")
    )
    assert "only one level" in found.own[0].why_not
    assert found.own[0].means == ()
    assert found.own[1].means
    once = some(three_seasons(), lambda row: row["b"] == 1)
    alone = seasons_of(plot_table(once, "variety", season="season"))
    assert all(part.method is Method.DESCRIPTION for part in alone.own)
    assert all("only one plot" in part.why_not for part in alone.own)
    assert "the chance variation of plots" in alone.not_told_apart[0]


def balanced(columns: dict[str, list[Any]]) -> tuple[Floats, dict[str, float]]:
    """The table as seasons x blocks x varieties, and the mean squares of its analysis by hand."""
    y = np.array(columns["yield"]).reshape(3, 4, 6)
    by_season, entries, seasons = y.mean(axis=1), y.mean(axis=(0, 1)), y.mean(axis=(1, 2))
    swing = by_season - entries - seasons[:, None] + y.mean()
    left = y - by_season[:, None] - y.mean(axis=2, keepdims=True) + seasons[:, None, None]
    return y, {
        "entry": 12 * float(np.var(entries, ddof=1)),
        "swing": 4 * float(np.sum(swing**2)) / 10,
        "plot": float(np.sum(left**2)) / 45,
    }


def test_predictions_of_a_balanced_table_by_hand(plot_table: MakeTable) -> None:
    columns = three_seasons()
    found = seasons_of(plot_table(columns, "variety", block="b", season="season")).ranking
    assert found is not None
    y, square = balanced(columns)
    shrink = 1 - square["swing"] / square["entry"]
    between = (square["entry"] - square["swing"]) / 12
    swing = (square["swing"] - square["plot"]) / 4
    assert found.reliability == pytest.approx(shrink, rel=1e-6)
    assert found.entry_sd == pytest.approx(np.sqrt(between), rel=1e-6)
    assert found.swing_sd == pytest.approx(np.sqrt(swing), rel=1e-6)
    assert found.level_sd == pytest.approx(np.std(y.mean(axis=(1, 2)), ddof=1), rel=1e-9)
    means = dict(zip("uvwxyz", y.mean(axis=(0, 1)), strict=True))
    assert [entry.level for entry in found.entries] == sorted(means, key=lambda v: -means[v])
    for entry in found.entries:
        lead = shrink * (means[entry.level] - y.mean())
        assert entry.lead == pytest.approx(lead, rel=1e-5)
        assert entry.mean == pytest.approx(y.mean() + lead, rel=1e-6)
        assert entry.reliability == pytest.approx(shrink, rel=1e-6)
        assert entry.se**2 == pytest.approx(between * (1 - shrink) * 5 / 6, rel=1e-5)


def test_a_next_season_is_less_sure_than_the_mean(plot_table: MakeTable) -> None:
    columns = three_seasons()
    table = plot_table(columns, "variety", block="b", season="season")
    found = compare(table, Question())
    assert found.over_seasons is not None
    ranking = found.over_seasons.ranking
    assert ranking is not None
    y, square = balanced(columns)
    variance = (square["entry"] - square["swing"]) / 12 * square["swing"] / square["entry"]
    swing = (square["swing"] - square["plot"]) / 4
    lead = (variance + swing) * 5 / 6
    level = np.var(y.mean(axis=(1, 2)), ddof=1) * 4 / 3
    narrowest = stats.norm.ppf(0.975)
    widest = stats.t.ppf(0.975, 2)  # three seasons carry two degrees of freedom at least
    for entry in ranking.entries:
        assert entry.low is not None
        assert entry.high is not None
        assert entry.lead_low is not None
        assert entry.lead_high is not None
        assert (entry.low + entry.high) / 2 == pytest.approx(entry.mean)
        reach = (entry.lead_high - entry.lead_low) / 2 / np.sqrt(lead)
        assert narrowest < reach <= widest
        assert (entry.high - entry.low) / 2 > narrowest * np.sqrt(lead + level)
        mean = next(m for m in found.means if m.levels == (("variety", entry.level),))
        assert mean.high is not None
        assert entry.high - entry.mean > mean.high - mean.mean


def test_where_small_is_good_the_lowest_comes_first(plot_table: MakeTable) -> None:
    table = plot_table(three_seasons(), "variety", block="b", season="season")
    high = seasons_of(table).ranking
    low = seasons_of(table, Question(better=Better.LOWER)).ranking
    assert high is not None
    assert low is not None
    assert [e.level for e in low.entries] == [e.level for e in high.entries][::-1]


def test_on_the_log_scale_leads_are_ratios(plot_table: MakeTable) -> None:
    columns = three_seasons()
    logs = dict(columns, **{"yield": np.log(columns["yield"]).tolist()})
    names = {"block": "b", "season": "season"}
    ratio = seasons_of(plot_table(columns, "variety", **names), Question(scale=Scale.LOG)).ranking
    plain = seasons_of(plot_table(logs, "variety", **names)).ranking
    assert ratio is not None
    assert plain is not None
    for a, b in zip(ratio.entries, plain.entries, strict=True):
        assert b.lead_high is not None
        assert b.low is not None
        assert a.mean == pytest.approx(np.exp(b.mean))
        assert a.lead == pytest.approx(np.exp(b.lead))
        assert a.lead_high == pytest.approx(np.exp(b.lead_high))
        assert a.low == pytest.approx(np.exp(b.low))


# --- seasons and sites ------------------------------------------------------------------------


def both(seed: int = 8) -> dict[str, list[Any]]:
    return invented(
        seed, season=[2024, 2025, 2026], site=["hill", "vale"], b=[1, 2, 3], variety=list("uvwxyz")
    )


def residual_likelihood(y: Floats, fixed: Floats, covariance: Floats) -> float:
    """Minus twice the residual log likelihood, all matrices in full."""
    inverse = np.linalg.inv(covariance)
    xvx = fixed.T @ inverse @ fixed
    left = y - fixed @ np.linalg.solve(xvx, fixed.T @ inverse @ y)
    return float(
        np.linalg.slogdet(covariance)[1] + np.linalg.slogdet(xvx)[1] + left @ inverse @ left
    )


def test_three_swings_are_at_the_summit_of_the_full_likelihood(plot_table: MakeTable) -> None:
    table = plot_table(both(), "variety", block="b", season="season", site="site")
    analysis = analyse(table)
    model, fit = analysis.model, analysis.fit
    assert fit is not None
    sources = [part.source for part in fit.components]
    assert sources == [
        "variety × season",
        "variety × site",
        "variety × season and site",
        "residual",
    ]
    n = model.y.size
    fixed = np.hstack([indicators(model.cells), indicators(model.fixed[0])[:, 1:]])
    parts = [indicators(g) @ indicators(g).T for g in model.random] + [np.eye(n)]
    at = np.array([part.variance for part in fit.components])

    def height(variances: Floats) -> float:
        covariance = np.tensordot(variances, np.array(parts), axes=1)
        return residual_likelihood(model.y, fixed, covariance)

    for k in range(4):
        step = np.zeros(4)
        step[k] = 0.02
        assert height(at + step) >= height(at) - 1e-9
        if at[k] > step[k]:
            assert height(at - step) >= height(at) - 1e-9


def test_the_mean_over_seasons_and_sites_is_tested_against_both_swings(
    plot_table: MakeTable,
) -> None:
    columns = both(seed=21)
    found = compare(
        plot_table(columns, "variety", block="b", season="season", site="site"), Question()
    )
    variance = {part.source: part.variance for part in found.components}
    assert min(variance.values()) > 0
    # Balanced and inside the boundary: the variance of a difference is that of the model.
    expected = 2 * (
        variance["variety × season"] / 3
        + variance["variety × site"] / 2
        + variance["variety × season and site"] / 6
        + variance["residual"] / 18
    )
    assert found.all_pairs[0].se ** 2 == pytest.approx(expected, rel=1e-6)


def test_a_season_at_each_site_cannot_be_told_from_the_site(plot_table: MakeTable) -> None:
    columns = some(both(), lambda row: (row["season"] == 2024) == (row["site"] == "hill"))
    columns = some(columns, lambda row: row["season"] != 2026)
    found = compare(
        plot_table(columns, "variety", block="b", season="season", site="site"), Question()
    )
    assert [part.source for part in found.components] == ["variety × season and site", "residual"]
    assert found.over_seasons is not None
    (said,) = found.over_seasons.not_told_apart
    assert "its own site" in said
    assert [part.name for part in found.over_seasons.own] == ["2024 at hill", "2025 at vale"]


def test_seasons_within_sites(plot_table: MakeTable) -> None:
    columns = some(both(), lambda row: (row["season"] == 2024) == (row["site"] == "hill"))
    found = compare(
        plot_table(columns, "variety", block="b", season="season", site="site"), Question()
    )
    assert [part.source for part in found.components] == [
        "variety × site",
        "variety × season and site",
        "residual",
    ]
    assert found.over_seasons is not None
    assert "Every season had one site only" in found.over_seasons.not_told_apart[0]


def test_sites_of_one_season_leave_the_next_unknown(plot_table: MakeTable) -> None:
    columns = some(both(), lambda row: row["season"] == 2025)
    found = seasons_of(plot_table(columns, "variety", block="b", season="season", site="site"))
    assert [part.name for part in found.own] == ["hill", "vale"]
    assert found.ranking is not None
    assert found.ranking.swing_sd is None
    assert all(entry.low is None and entry.lead_low is None for entry in found.ranking.entries)
    assert "one season" in found.not_told_apart[0]


def test_two_levels_and_two_factors_are_not_predicted(plot_table: MakeTable) -> None:
    columns = some(three_seasons(), lambda row: row["variety"] in "uv")
    found = seasons_of(plot_table(columns, "variety", block="b", season="season"))
    assert found.ranking is None
    assert "fewer than 3" in found.why_no_ranking
    columns = three_seasons(pinch=["no", "yes"])
    table = plot_table(
        columns,
        "pinch",
        "variety",
        block="b",
        season="season",
        on={"pinch": AppliedTo.WHOLE_PLOT},
    )
    found = seasons_of(table)
    assert found.ranking is None
    assert "one treatment column" in found.why_no_ranking
    assert {mean.term for mean in found.own[0].means} == {"pinch", "variety", "pinch:variety"}


def test_no_swing_seen_is_said(plot_table: MakeTable) -> None:
    table = plot_table(
        invented(3, 0.0, season=[2024, 2025, 2026], b=[1, 2, 3], variety=list("uvwxyz")),
        "variety",
        block="b",
        season="season",
    )
    found = compare(table, Question())
    part = next(part for part in found.components if part.source == "variety × season")
    assert ("no-swing-seen" in {c.code for c in found.cautions}) == (part.variance <= 0)
