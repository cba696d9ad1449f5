"""A variance for each level, against scipy's and statsmodels' tests and a published example."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.oneway import anova_oneway

from trials.stats import PlotTable, Question, compare, second_opinions
from trials.stats.design.linear_model import Grouping, LinearModel
from trials.stats.design.table import Floats
from trials.stats.fit.unequal_variances import LevelVariances, level_variances
from trials.stats.results import Comparison
from trials.stats.what_was_tested import Diagnostic

MakeTable = Callable[..., PlotTable]


def fitted(groups: list[Floats], block: list[int] | None = None) -> LevelVariances:
    codes = np.repeat(np.arange(len(groups)), [len(group) for group in groups])
    fixed = () if block is None else (Grouping("block", np.array(block), max(block) + 1),)
    model = LinearModel(np.concatenate(groups), Grouping("t", codes, len(groups)), fixed)
    found = level_variances(model)
    assert isinstance(found, LevelVariances)
    return found


def t_of(found: LevelVariances, first: int, second: int) -> tuple[float, float, float]:
    contrast = np.zeros(found.means.size)
    contrast[[first, second]] = 1.0, -1.0
    t = float(contrast @ found.means / np.sqrt(contrast @ found.cov @ contrast))
    one = contrast[None, :]
    return t, float(found.of_contrasts(one)[0]), found.joint(one).p


@pytest.mark.parametrize("sizes", [(3, 3), (5, 12), (20, 4)])
def test_two_levels_are_welch_s_test(sizes: tuple[int, int]) -> None:
    rng = np.random.default_rng(sum(sizes))
    a, b = rng.normal(10, 1, sizes[0]), rng.normal(12, 6, sizes[1])
    expected = stats.ttest_ind(a, b, equal_var=False)
    t, df, p = t_of(fitted([a, b]), 0, 1)
    assert t == pytest.approx(expected.statistic, rel=1e-9)
    assert df == pytest.approx(expected.df, rel=1e-9)
    assert p == pytest.approx(expected.pvalue, rel=1e-9)


def test_the_hours_of_sleep_of_cushny_and_peebles() -> None:
    """The example of the two-sample t test in R's documentation (data: Student 1908).

    t = -1.8608, df = 17.776, p = 0.07939; the three figures are from memory.
    """
    first = np.array([0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0])
    second = np.array([1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4])
    t, df, p = t_of(fitted([first, second]), 0, 1)
    assert t == pytest.approx(-1.8608, abs=5e-5)
    assert df == pytest.approx(17.776, abs=5e-4)
    assert p == pytest.approx(0.07939, abs=5e-6)


def test_equally_many_plots_of_several_levels_are_brown_and_forsythe_s_test_of_means() -> None:
    """Brown & Forsythe 1974, Biometrics 30:719, with Mehrotra's (1997) degrees of freedom."""
    rng = np.random.default_rng(4)
    groups = [rng.normal(10 + i, 1 + i**2, 6) for i in range(4)]
    expected = anova_oneway(groups, use_var="bf")
    contrasts = np.eye(4)[1:] - np.eye(4)[:1]
    found = fitted(groups).joint(contrasts)
    assert pytest.approx(expected.statistic, rel=1e-9) == found.F
    assert (found.num_df, found.den_df) == pytest.approx(expected.df, rel=1e-9)
    assert found.p == pytest.approx(expected.pvalue, rel=1e-9)


def test_three_levels_in_complete_blocks_are_paired_t_tests() -> None:
    """Three variances explain the covariance of two differences fully (Grubbs 1948)."""
    rng = np.random.default_rng(8)
    blocks = 12
    soil = rng.normal(0, 3, blocks)
    groups = [soil + rng.normal(i, sd, blocks) for i, sd in enumerate((2.0, 3.0, 4.0))]
    found = fitted(groups, list(range(blocks)) * 3)
    assert found.variances.min() > 1e-3  # inside the bounds, or Grubbs' estimators do not hold
    for first, second in ((0, 1), (0, 2), (1, 2)):
        expected = stats.ttest_rel(groups[first], groups[second])
        t, df, p = t_of(found, first, second)
        assert t == pytest.approx(expected.statistic, rel=1e-4)
        assert df == pytest.approx(blocks - 1, rel=1e-3)
        assert p == pytest.approx(expected.pvalue, rel=1e-2)


def test_what_the_layout_cannot_show_is_said() -> None:
    two_in_blocks = LinearModel(
        np.array([1.0, 2.0, 4.0, 3.0, 6.0, 9.0]),
        Grouping("t", np.tile([0, 1], 3), 2),
        (Grouping("block", np.repeat([0, 1, 2], 2), 3),),
    )
    assert "does not show" in str(level_variances(two_in_blocks))
    once = LinearModel(np.array([1.0, 2.0, 3.0, 5.0]), Grouping("t", np.array([0, 1, 1, 1]), 2))
    assert "does not show" in str(level_variances(once))


def _compared(plot_table: MakeTable, spread: float) -> Comparison:
    rng = np.random.default_rng(1)
    entry = np.repeat(["x", "z", "w"], 8)
    y = np.concatenate([rng.normal(10, 0.3, 8), rng.normal(11, 0.3, 8), rng.normal(14, spread, 8)])
    table = plot_table({"entry": entry.tolist(), "yield": y.tolist()}, "entry")
    return second_opinions(table, Question(), compare(table, Question()))


def test_it_is_asked_where_the_variances_were_found_unequal(plot_table: MakeTable) -> None:
    equal, unequal = (_compared(plot_table, spread).solid for spread in (0.3, 5.0))
    assert equal.unequal_variances is None
    assert Diagnostic.UNEQUAL_VARIANCES not in equal.made
    assert unequal.unequal_variances is not None
    assert Diagnostic.UNEQUAL_VARIANCES in unequal.made


def test_the_pairs_whose_verdict_changes_are_named(plot_table: MakeTable) -> None:
    found = _compared(plot_table, 5.0)
    opinion = found.solid.unequal_variances
    assert opinion is not None
    main = {(p.a, p.b): p.p_adjusted <= 0.05 for p in found.all_pairs}
    x_z = next(key for key in main if {key[0][0][1], key[1][0][1]} == {"x", "z"})
    assert not main[x_z]  # the pooled error hides what two quiet levels show by themselves
    assert x_z in opinion.turned_pairs
    assert not opinion.agrees


def test_levels_without_a_variance_of_their_own_are_not_compared_so(
    plot_table: MakeTable,
) -> None:
    """A square of four, whole, whose highest likelihood has two variances at their bound."""
    letters = ["abcd"[(row + column) % 4] for row in range(4) for column in range(4)]
    y = [22.243, 20.365, 18.560, 19.131, 20.951, 16.767, 21.266, 19.182]
    y += [20.178, 18.465, 20.090, 17.966, 20.159, 18.987, 19.938, 21.321]
    places = {"row": np.repeat(range(4), 4).tolist(), "column": list(range(4)) * 4}
    columns = {**places, "entry": letters, "yield": y}
    table = plot_table(columns, "entry", row="row", column="column")
    found = second_opinions(table, Question(), compare(table, Question())).solid
    assert found.unequal_variances is None
    assert ("too few plots for a variance of each level") in dict(found.not_made).values()
