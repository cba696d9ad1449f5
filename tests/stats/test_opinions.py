from __future__ import annotations

import itertools
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
import statsmodels.formula.api as smf
from scipy.stats import f as f_distribution

from trials.model.trial import AppliedTo
from trials.stats import Question, compare, second_opinions
from trials.stats.design.table import PlotTable
from trials.stats.results import Comparison

MakeTable = Callable[..., PlotTable]


def both(table: PlotTable) -> Comparison:
    return second_opinions(table, Question(), compare(table, Question()))


def test_dealing_again_agrees_on_cultivars(
    published: Callable[[str], Any], plot_table: MakeTable
) -> None:
    trial = published("cultivars_rcbd")
    found = both(plot_table(trial.columns, "cultivar", block="block"))
    opinion = found.solid.randomisation
    assert opinion is not None
    # All 24^2 ways to deal four cultivars in the second and third block, counted by hand.
    grid = np.array(trial.columns["yield"]).reshape(3, 4)
    totals = [
        np.sum((grid[0] + grid[1, list(a)] + grid[2, list(b)]) ** 2)
        for a in itertools.permutations(range(4))
        for b in itertools.permutations(range(4))
    ]
    seen = np.sum(grid.sum(axis=0) ** 2)
    assert dict(opinion.p)["cultivar"] == pytest.approx(np.mean(np.array(totals) >= seen - 1e-9))
    assert all(pair.chance_by_randomisation is not None for pair in found.all_pairs)


def test_leaving_one_plot_out_of_blocks_is_fitting_again(
    published: Callable[[str], Any], plot_table: MakeTable
) -> None:
    trial = published("cultivars_rcbd")
    found = compare(plot_table(trial.columns, "cultivar", block="block"), Question())
    frame = {"y": trial.columns["yield"], **trial.columns}
    turned = {}
    for left_out in range(12):
        kept = {
            name: [v for i, v in enumerate(values) if i != left_out]
            for name, values in frame.items()
            if name != "yield"
        }
        p = sm.stats.anova_lm(smf.ols("y ~ block + cultivar", pd.DataFrame(kept)).fit(), typ=2)
        if p.loc["cultivar", "PR(>F)"] > 0.05:
            turned[f"P{left_out + 1}"] = p.loc["cultivar", "PR(>F)"]
    assert {each.plot: each.p_without for each in found.solid.fragile} == pytest.approx(turned)


def test_split_plots_are_fitted_again_without_each_plot(plot_table: MakeTable) -> None:
    rows = list(itertools.product([1, 2, 3], ["no", "yes"], "uvw"))
    columns: dict[str, list[Any]] = {
        name: [row[i] for row in rows] for i, name in enumerate(("b", "pinch", "entry"))
    }
    rng = np.random.default_rng(1)
    columns["yield"] = (rng.normal(20, 1, 18) + np.repeat(rng.normal(0, 1, 6), 3)).tolist()
    columns["yield"][4] += 9.0  # one wild plot
    table = plot_table(columns, "pinch", "entry", block="b", on={"pinch": AppliedTo.WHOLE_PLOT})
    plain = compare(table, Question())
    assert plain.solid.fragile == ()
    found = second_opinions(table, Question(), plain)
    tested = {test.term: test.p for test in found.tests}
    for each in found.solid.fragile:
        assert (each.p_without <= 0.05) != (tested[each.term] <= 0.05)


def stems(slope: float) -> dict[str, list[Any]]:
    rng = np.random.default_rng(4)
    entry, block = np.tile(np.arange(4), 4), np.repeat(np.arange(4), 4)
    plants = rng.integers(12, 17, 16)
    count = rng.poisson(plants * np.exp(2 + slope * entry + 0.1 * block))
    return {
        "b": block.tolist(),
        "entry": [f"v{i}" for i in entry],
        "plants": plants.tolist(),
        "count": count.tolist(),
        "yield": (count / plants).tolist(),
    }


def test_stems_are_also_counted(plot_table: MakeTable) -> None:
    columns = stems(0.3)
    found = both(plot_table(columns, "entry", block="b", plants="plants")).solid.count_model
    assert found is not None
    assert found.agrees
    frame = pd.DataFrame(columns)

    def glm(formula: str) -> Any:
        offset = np.log(frame["plants"])
        return smf.glm(formula, frame, family=sm.families.Poisson(), offset=offset).fit()

    plain, full = glm("count ~ C(b)"), glm("count ~ C(b) + entry")
    F = (plain.deviance - full.deviance) / 3 / (full.pearson_chi2 / 9)
    assert dict(found.p)["entry"] == pytest.approx(f_distribution.sf(F, 3, 9), rel=1e-6)


def test_lengths_are_not_counts(plot_table: MakeTable) -> None:
    columns = stems(0.3)
    columns["yield"] = np.random.default_rng(5).normal(48, 2, 16).tolist()
    found = both(plot_table(columns, "entry", block="b", plants="plants"))
    assert found.solid.count_model is None


def test_a_description_has_no_second_opinion(plot_table: MakeTable) -> None:
    columns = {"half": ["left", "left", "right"], "yield": [1.0, 2.0, 4.0]}
    table = plot_table(columns, "half", plot="half")
    plain = compare(table, Question())
    assert second_opinions(table, Question(), plain) is plain


def test_a_term_that_cannot_be_dealt_again_says_why(plot_table: MakeTable) -> None:
    rows = list(itertools.product([1, 2, 3, 4], ["no", "yes"], "uvw"))
    columns: dict[str, list[Any]] = {
        name: [row[i] for row in rows] for i, name in enumerate(("b", "pinch", "entry"))
    }
    columns["yield"] = np.random.default_rng(3).normal(20, 1, 24).tolist()
    columns["yield"][4] = None
    strip = {"pinch": AppliedTo.STRIP, "entry": AppliedTo.STRIP}
    found = both(plot_table(columns, "pinch", "entry", block="b", on=strip))
    said = dict(found.solid.not_dealt)
    assert said.keys() == {test.term for test in found.tests}
    assert all("a strip lost a plot" in why for why in said.values())
    assert found.solid.randomisation is None


def test_seasons_have_second_opinions(plot_table: MakeTable) -> None:
    rows = list(itertools.product([2024, 2025, 2026], [1, 2, 3], "uvw"))
    columns: dict[str, list[Any]] = {
        name: [row[i] for row in rows] for i, name in enumerate(("year", "b", "entry"))
    }
    rng = np.random.default_rng(3)
    columns["plants"] = [10] * 27
    columns["yield"] = [n / 10 for n in rng.poisson(80, 27) + 20 * np.tile([0, 1, 2], 9)]
    table = plot_table(columns, "entry", block="b", season="year", plants="plants")
    found = both(table)
    assert found.solid.not_dealt == ()
    assert found.solid.randomisation is not None
    assert found.solid.count_model is not None
    assert all(pair.chance_by_randomisation is not None for pair in found.all_pairs)
