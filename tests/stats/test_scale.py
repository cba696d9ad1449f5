from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf

from trials.errors import ComparisonRefused
from trials.model.trial import Margin
from trials.report.comparison_page import comparison_page
from trials.report.document import comparison_document
from trials.stats import Comparison, PlotTable, Question, Scale, compare, second_opinions
from trials.stats.results import Verdict

MakeTable = Callable[..., PlotTable]

BLOCKS = ["1", "2", "3", "4"] * 3
VARIETIES = ["a"] * 4 + ["b"] * 4 + ["c"] * 4
STEMS = [4.1, 5.2, 4.6, 6.0, 8.3, 9.9, 7.7, 12.1, 4.4, 5.0, 5.1, 5.8]
SHARES = [0.2, 0.3, 0.25, 0.4, 0.7, 0.8, 0.65, 0.9, 0.22, 0.33, 0.3, 0.35]
TO: dict[Scale, Callable[[Any], Any]] = {
    Scale.LOG: np.log,
    Scale.SQUARE_ROOT: np.sqrt,
    Scale.LOGIT: lambda y: np.log(y / (1 - y)),
}
BACK: dict[Scale, Callable[[float], float]] = {
    Scale.LOG: math.exp,
    Scale.SQUARE_ROOT: lambda x: x * x,
    Scale.LOGIT: lambda x: 1 / (1 + math.exp(-x)),
}
EFFECT: dict[Scale, Callable[[float], float]] = {
    Scale.LOG: math.exp,
    Scale.SQUARE_ROOT: float,
    Scale.LOGIT: math.exp,
}


@pytest.fixture
def table(plot_table: MakeTable) -> Callable[[list[float]], PlotTable]:
    def made(y: list[float]) -> PlotTable:
        columns: dict[str, list[Any]] = {"yield": y, "variety": VARIETIES, "block": BLOCKS}
        return plot_table(columns, "variety", block="block")

    return made


Table = Callable[[list[float]], PlotTable]


def on(table: PlotTable, scale: Scale, **asked: Any) -> Comparison:
    return compare(table, Question(scale=scale, **asked))


def codes(found: Comparison) -> list[str]:
    return [caution.code for caution in found.cautions]


@pytest.mark.parametrize("scale", list(TO))
def test_it_is_least_squares_of_the_transformed_plots_brought_back(
    table: Table, scale: Scale
) -> None:
    found = on(table(SHARES), scale)
    frame = pd.DataFrame({"y": TO[scale](np.array(SHARES)), "v": VARIETIES, "b": BLOCKS})
    fit = smf.ols("y ~ C(v) + C(b, Sum)", frame).fit()
    for mean, x in zip(found.means, ([1, 0, 0], [1, 1, 0], [1, 0, 1]), strict=True):
        said = fit.t_test([*x, 0, 0, 0])
        low, high = said.conf_int()[0]
        assert mean.mean == pytest.approx(BACK[scale](said.effect[0]))
        assert mean.se == pytest.approx(said.sd.item())
        assert (mean.low, mean.high) == pytest.approx((BACK[scale](low), BACK[scale](high)))
    tukey = {("a", "b"): [0, -1, 0], ("a", "c"): [0, 0, -1], ("b", "c"): [0, 1, -1]}
    from scipy.stats import studentized_range

    q = studentized_range.ppf(0.95, 3, fit.df_resid)
    for pair in found.all_pairs:
        said = fit.t_test([*tukey[pair.a[0][1], pair.b[0][1]], 0, 0, 0])
        difference, reach = said.effect[0], q / math.sqrt(2) * said.sd.item()
        expected = [EFFECT[scale](x) for x in (difference, difference - reach, difference + reach)]
        assert [pair.difference, pair.low, pair.high] == pytest.approx(expected, rel=1e-5)
        assert pair.p == pytest.approx(said.pvalue.item())
    assert found.cv_percent is None
    assert found.grand_mean == pytest.approx(BACK[scale](float(frame["y"].mean())))
    assert found.scale == scale
    assert codes(found)[0] == "scale"


def test_as_measured_nothing_changes(table: Table) -> None:
    found = compare(table(STEMS), Question())
    assert found.scale == "as measured"
    assert found.cv_percent is not None
    assert "scale" not in codes(found)


def test_another_unit_leaves_ratios_as_they_are(table: Table) -> None:
    mine = on(table(STEMS), Scale.LOG, check="a")
    theirs = on(table([2.54 * y for y in STEMS]), Scale.LOG, check="a")
    for one, other in zip(
        (*mine.all_pairs, *mine.with_check), (*theirs.all_pairs, *theirs.with_check), strict=True
    ):
        assert (one.difference, one.low, one.high) == pytest.approx(
            (other.difference, other.low, other.high)
        )
        assert one.verdict is other.verdict
    for a, b in zip(mine.with_best, theirs.with_best, strict=True):
        assert (a.low, a.high) == pytest.approx((b.low, b.high))
        assert 1.0 in (a.low, a.high)
    for m, n in zip(mine.means, theirs.means, strict=True):
        assert n.mean == pytest.approx(2.54 * m.mean)


def test_odds_of_the_rest_are_turned_round(table: Table) -> None:
    share = on(table(SHARES), Scale.LOGIT)
    rest = on(table([1 - y for y in SHARES]), Scale.LOGIT)
    for one, other in zip(share.all_pairs, rest.all_pairs, strict=True):
        assert one.difference == pytest.approx(1 / other.difference)
        assert (one.low, one.high) == pytest.approx((1 / other.high, 1 / other.low))


@pytest.mark.parametrize(
    ("scale", "bad"),
    [
        (Scale.LOG, 0.0),
        (Scale.LOG, -1.0),
        (Scale.SQUARE_ROOT, -0.5),
        (Scale.LOGIT, 0.0),
        (Scale.LOGIT, 1.0),
        (Scale.LOGIT, 1.5),
    ],
)
def test_a_figure_without_a_place_on_the_scale_is_refused(
    table: Table, scale: Scale, bad: float
) -> None:
    made = table([SHARES[0], bad, *SHARES[2:]])
    with pytest.raises(ComparisonRefused) as refused:
        on(made, scale)
    assert f"{made.plot_names[1]} ({bad:g})" in str(refused.value)
    assert made.plot_names[0] + " (" not in str(refused.value)
    assert "as measured" in str(refused.value)


def test_a_plot_without_a_figure_is_no_zero(table: Table) -> None:
    assert on(table([math.nan, *STEMS[1:]]), Scale.LOG).plots == 11
    assert on(table([0.0, *STEMS[1:]]), Scale.SQUARE_ROOT).plots == 12


def test_a_margin_in_per_cent_is_a_ratio_on_the_log_scale(table: Table) -> None:
    found = on(table(STEMS), Scale.LOG, margin=Margin(60, percent=True))
    assert found.margin == pytest.approx(1.6)
    for pair in found.all_pairs:
        inside = pair.low > 1 / 1.6 and pair.high < 1.6
        assert (pair.verdict is Verdict.SAME) == inside
    assert Verdict.SAME in {pair.verdict for pair in found.all_pairs}


@pytest.mark.parametrize(
    ("scale", "margin"), [(Scale.LOG, Margin(3)), (Scale.LOGIT, Margin(10, percent=True))]
)
def test_a_margin_without_a_size_on_the_scale_is_said_to_be_unused(
    table: Table, scale: Scale, margin: Margin
) -> None:
    found = on(table(SHARES), scale, margin=margin)
    assert found.margin is None
    assert "margin-not-used" in codes(found)


def test_counts_stay_counts_whatever_the_scale(table: Table) -> None:
    plants = np.full(12, 10.0)
    made = replace(table(STEMS), plants=plants)
    opinions = [
        second_opinions(made, question, compare(made, question)).solid
        for question in (Question(), Question(scale=Scale.LOG))
    ]
    assert opinions[0].count_model is not None
    assert opinions[1].count_model is not None
    assert opinions[0].count_model.p == opinions[1].count_model.p
    assert opinions[0].normality != opinions[1].normality


@pytest.mark.parametrize(
    ("scale", "said"),
    [
        (Scale.LOG, ["b is about", "times a, and at least", "differences are ratios", "× "]),
        (Scale.LOGIT, ["the odds of b are about", "and at least", "odds ratios", "× "]),
        (Scale.SQUARE_ROOT, ["have no unit", "difference of roots"]),
    ],
)
def test_the_page_says_what_the_differences_are(
    table: Table, scale: Scale, said: list[str]
) -> None:
    found = on(table(SHARES), scale, check="a")
    page = " ".join(comparison_page(found, "trial").split())
    for words in (*said, f"on the {scale} scale"):
        assert words in page
    assert "CV" not in page
    assert comparison_document(found)["scale"] == scale


@pytest.mark.parametrize("scale", Scale)
def test_the_document_of_every_scale_is_as_described(table: Table, scale: Scale) -> None:
    import jsonschema

    from trials.report.document import schema

    jsonschema.validate(comparison_document(on(table(SHARES), scale)), schema())
