"""Checks of residuals against scipy, and leaving out a plot against fitting again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import stats
from statsmodels.regression.linear_model import OLS

from trials.stats.checks.diagnostics import (
    equal_spread,
    equal_spread_in_blocks,
    fragile,
    normality,
    outlying_plots,
    p_by_refitting,
    p_without_each,
    residual_checks,
)
from trials.stats.design.design_matrix import design
from trials.stats.design.linear_model import Grouping, LinearModel
from trials.stats.design.table import Codes
from trials.stats.fit.methods import least_squares
from trials.stats.what_was_tested import Check, Diagnostic, FragileVerdict


@pytest.mark.parametrize("n", [4, 5, 6, 11, 12, 24, 48, 300])
@pytest.mark.parametrize("seed", [0, 1])
def test_normality_is_scipy_s_shapiro(n: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    for x in (rng.normal(size=n), rng.exponential(size=n)):
        expected = stats.shapiro(x)
        found = normality(x)
        assert found is not None
        assert found.statistic == pytest.approx(expected.statistic, abs=1e-6)
        assert found.p == pytest.approx(expected.pvalue, abs=1e-5)
        assert found.sound == (found.p >= 0.05)


def test_normality_of_nothing_has_no_meaning() -> None:
    assert normality(np.array([1.0, 2.0, 3.0])) is None
    assert normality(np.full(9, 0.7)) is None


def test_equal_spread_is_scipy_s_levene_about_the_median() -> None:
    rng = np.random.default_rng(3)
    groups = [rng.normal(0, 1 + i, 4 + i) for i in range(4)]
    levels = np.repeat(np.arange(4), [4, 5, 6, 7])
    expected = stats.levene(*groups, center="median")
    found = equal_spread(np.concatenate(groups), levels)
    assert found is not None
    assert found.statistic == pytest.approx(expected.statistic, rel=1e-10)
    assert found.p == pytest.approx(expected.pvalue, rel=1e-9)


def test_levels_with_two_plots_do_not_speak_of_spread() -> None:
    rng = np.random.default_rng(3)
    residuals = rng.normal(size=10)
    levels = np.array([0, 0, 0, 0, 1, 1, 1, 1, 2, 2])
    expected = stats.levene(residuals[:4], residuals[4:8], center="median")
    found = equal_spread(residuals, levels)
    assert found is not None
    assert found.p == pytest.approx(expected.pvalue, rel=1e-9)
    assert equal_spread(residuals[:4], np.array([0, 0, 1, 1])) is None


def in_blocks(k: int = 5, b: int = 4, seed: int = 7) -> LinearModel:
    rng = np.random.default_rng(seed)
    entry, block = np.divmod(np.arange(k * b), b)
    y = 20 + 2.0 * entry + block + rng.normal(size=k * b)
    return LinearModel(y, Grouping("entry", entry, k), (Grouping("block", block, b),))


def spread_in(model: LinearModel) -> Check | None:
    fit = least_squares(model)
    return equal_spread_in_blocks(fit.residuals, design(model).space, model.cells.codes)


def squares_left(model: LinearModel, kept: NDArray[np.bool_]) -> tuple[float, float]:
    columns = [np.eye(model.cells.count)[model.cells.codes[kept]]]
    columns += [np.eye(group.count)[group.codes[kept], 1:] for group in model.fixed]
    every = np.hstack(columns)
    fit = OLS(model.y[kept], every[:, every.any(axis=0)]).fit()
    return float(fit.ssr), float(fit.df_resid)


@pytest.mark.parametrize("lost", [(), (3, 11)])
@pytest.mark.parametrize("square", [False, True])
def test_spread_in_blocks_is_statsmodels_fit_with_and_without_a_level(
    lost: tuple[int, ...], square: bool
) -> None:
    model = in_blocks(5, 5)
    if square:
        column = (model.cells.codes + model.fixed[0].codes) % 5
        model = replace(model, fixed=(*model.fixed, Grouping("column", column, 5)))
    for i in reversed(lost):
        model = without(model, i)
    whole, df = squares_left(model, np.full(model.y.size, True))
    expected = []
    for level in range(5):
        rest, rest_df = squares_left(model, model.cells.codes != level)
        F = (whole - rest) / (df - rest_df) / (rest / rest_df)
        expected.append((stats.f.sf(F, df - rest_df, rest_df), F))
    found = spread_in(model)
    assert found is not None
    assert found.p == pytest.approx(min(1.0, 5 * min(expected)[0]), rel=1e-8)
    assert found.statistic == pytest.approx(max(F for _, F in expected), rel=1e-8)


def test_one_level_that_varies_24_times_as_much_is_seen_in_blocks() -> None:
    seen = {"in blocks": 0, "by distances": 0}
    for seed in range(50):
        rng = np.random.default_rng(seed)
        entry, block = np.divmod(np.arange(24), 8)
        y = 20 + block + rng.normal(size=24) * np.array([0.5, 0.5, 12.0])[entry]
        model = LinearModel(y, Grouping("entry", entry, 3), (Grouping("block", block, 8),))
        fit = least_squares(model)
        names = [str(i) for i in range(24)]
        for name, space in (("in blocks", design(model).space), ("by distances", None)):
            found = residual_checks(fit, entry, names, space).equal_spread
            assert found is not None
            seen[name] += not found.sound
    assert seen["in blocks"] == 50
    assert seen["by distances"] < 25


def test_equal_levels_in_blocks_raise_a_doubt_no_oftener_than_promised() -> None:
    found = [spread_in(in_blocks(4, 5, seed)) for seed in range(400)]
    doubted = sum(each is not None and not each.sound for each in found)
    assert abs(doubted / 400 - 0.05) < 3 * np.sqrt(0.05 * 0.95 / 400)


def test_two_levels_in_complete_blocks_cannot_show_which_varies_more() -> None:
    assert spread_in(in_blocks(2, 8)) is None
    model = in_blocks(2, 8)
    solid = residual_checks(
        least_squares(model),
        model.cells.codes,
        [str(i) for i in range(16)],
        design(model).space,
    )
    lacks = "it needs three treatments in blocks with 3 plots each"
    assert (Diagnostic.EQUAL_VARIANCES, lacks) in solid.not_made


def without(model: LinearModel, i: int) -> LinearModel:
    """The model without plot ``i``."""
    return LinearModel(
        np.delete(model.y, i),
        Grouping("entry", np.delete(model.cells.codes, i), model.cells.count),
        tuple(
            Grouping(group.source, np.delete(group.codes, i), group.count) for group in model.fixed
        ),
    )


def test_outlying_plots_are_found_by_leaving_each_out() -> None:
    model = in_blocks()
    y = model.y.copy()
    y[6] += 9.0
    model = LinearModel(y, model.cells, model.fixed)
    fit = least_squares(model)
    names = [f"P{i}" for i in range(len(y))]
    found = outlying_plots(
        fit.residuals, fit.leverage, fit.residual_df, fit.residual_variance, names
    )
    assert [each.plot for each in found] == ["P6"]
    # The definition: how far the plot is from what the others predict, in that error.
    others = least_squares(without(model, 6))
    entry, block = model.cells.codes[6], model.fixed[0].codes[6]
    rest = np.delete(np.arange(20), 6)
    design_matrix = np.hstack(
        [np.eye(5)[model.cells.codes], np.eye(4)[model.fixed[0].codes][:, 1:]]
    )
    new = np.hstack([np.eye(5)[entry], np.eye(4)[block][1:]])
    beta = np.linalg.lstsq(design_matrix[rest], y[rest], rcond=None)[0]
    spread = 1 + new @ np.linalg.inv(design_matrix[rest].T @ design_matrix[rest]) @ new
    expected = (y[6] - new @ beta) / np.sqrt(others.residual_variance * spread)
    assert found[0].studentised == pytest.approx(expected, rel=1e-9)
    assert found[0].p == pytest.approx(20 * 2 * stats.t.sf(expected, 11), rel=1e-9)
    assert found[0].residual == pytest.approx(fit.residuals[6])


def test_outliers_are_seen_where_there_are_none_no_oftener_than_promised() -> None:
    names = [str(i) for i in range(20)]
    seen = 0
    for seed in range(300):
        fit = least_squares(in_blocks(seed=seed))
        seen += bool(
            outlying_plots(
                fit.residuals, fit.leverage, fit.residual_df, fit.residual_variance, names
            )
        )
    assert seen / 300 < 0.05 + 2 * np.sqrt(0.05 * 0.95 / 300)


def test_one_degree_of_freedom_is_too_few_to_judge_a_plot_by() -> None:
    assert outlying_plots(np.array([1.0, -1.0]), np.zeros(2), 1.0, 1.0, ["a", "b"]) == ()


def test_the_three_checks_come_together() -> None:
    model = in_blocks()
    fit = least_squares(model)
    solid = residual_checks(fit, model.cells.codes, [str(i) for i in range(20)])
    assert solid.normality == normality(fit.residuals)
    assert solid.equal_spread == equal_spread(fit.residuals, model.cells.codes)
    assert solid.outliers == ()
    assert solid.randomisation is None


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 1000), st.integers(2, 5), st.integers(2, 4), st.booleans())
def test_leaving_out_a_plot_is_fitting_without_it(
    seed: int, k: int, b: int, lose_one: bool
) -> None:
    model = in_blocks(k, b, seed)
    if lose_one and k * b > k + b + 1:
        model = without(model, seed % (k * b))
    if len(model.y) - k - b + 1 < 2:
        return
    contrasts = np.hstack([np.ones((k - 1, 1)), -np.eye(k - 1)])
    fit = least_squares(model)
    found = p_without_each(fit, design(model).weights, contrasts)

    def refit(rows: Codes) -> list[float]:
        out = next(i for i in range(len(model.y)) if i not in rows)
        return [least_squares(without(model, out)).df.joint(contrasts).p]

    judged = np.isfinite(found)
    if judged.all():
        assert found == pytest.approx(
            p_by_refitting(len(model.y), np.arange(len(model.y)), refit)[:, 0], abs=1e-8
        )


def test_a_plot_that_alone_carries_its_entry_cannot_be_spared() -> None:
    entry = np.array([0, 0, 0, 1, 1, 1, 2])
    block = np.array([0, 1, 2, 0, 1, 2, 0])
    y = np.array([3.0, 4.1, 5.2, 6.0, 6.8, 8.3, 1.0])
    model = LinearModel(y, Grouping("entry", entry, 3), (Grouping("block", block, 3),))
    found = p_without_each(
        least_squares(model), design(model).weights, np.array([[1.0, -1.0, 0.0], [1.0, 0.0, -1.0]])
    )
    assert np.isnan(found[6])
    assert np.isfinite(found[:6]).all()


def test_only_verdicts_that_turn_are_fragile() -> None:
    terms = [("variety", 0.03), ("pinch", 0.4)]
    p = np.array([[0.02, 0.5], [0.2, np.nan], [0.06, 0.04]])
    assert fragile(terms, p, ["P1", "P2", "P3"], 0.05) == (
        FragileVerdict("variety", "P2", 0.2),
        FragileVerdict("variety", "P3", 0.06),
        FragileVerdict("pinch", "P3", 0.04),
    )


def test_a_term_that_cannot_be_tested_without_a_plot_has_no_p_value() -> None:
    found = p_by_refitting(3, np.arange(3), lambda rows: [None if 0 in rows else 0.2, 0.1])
    assert np.isnan(found[1:, 0]).all()
    assert found[0].tolist() == [0.2, 0.1]
