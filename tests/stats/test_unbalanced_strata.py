# ruff: noqa: SIM300 - F is the name of a statistic, not a constant
"""Layouts that lost plots, where larger units differ no more than the plots inside them.

The figures of layouts with plots lost are compared in ``test_every_layout``; here, that losing
none gives the exact strata, and that nothing else changes.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import jsonschema
import numpy as np
import pytest
import statsmodels.api as sm

from trials.model.trial import AppliedTo
from trials.report.document import comparison_document, schema
from trials.stats import Question, compare
from trials.stats.design.linear_model import Fit, Grouping, LinearModel
from trials.stats.design.table import Floats, PlotTable
from trials.stats.fit.analysis import fit_of
from trials.stats.fit.reml import reml
from trials.stats.fit.strata import is_orthogonal, strata
from trials.stats.results import Method

if TYPE_CHECKING:
    from tests.stats.conftest import Published


@pytest.fixture
def rice(published: Callable[[str], Published]) -> LinearModel:
    """A published split plot whose whole plots differ less than their plots would make them."""
    trial = published("rice_nitrogen_split_plot")
    return LinearModel(
        trial.y,
        trial.grouping("nitrogen", "variety"),
        (trial.grouping("block"),),
        (replace(trial.grouping("block", "nitrogen"), source="whole plot"),),
    )


def crossed(*sizes: int) -> list[np.ndarray]:
    return [axis.ravel() for axis in np.meshgrid(*map(range, sizes), indexing="ij")]


def alike(kind: str, seed: int) -> LinearModel:
    """A complete layout with nothing but plots that vary."""
    block, a, b, c = crossed(4, 2, 3, 2)
    whole = Grouping("whole plot", block * 2 + a, 8)
    split = Grouping("split plot", (block * 2 + a) * 3 + b, 24)
    across = Grouping("strip", block * 3 + b, 12)
    random = {"split-split-plot": (whole, split), "strips": (whole, across)}[kind]
    y = 20 + np.random.default_rng(seed).normal(size=block.size)
    cells = Grouping("cell", (a * 3 + b) * 2 + c, 12)
    return LinearModel(y, cells, (Grouping("block", block, 4),), random)


def without(model: LinearModel, *lost: int) -> LinearModel:
    def left(grouping: Grouping) -> Grouping:
        return replace(grouping, codes=np.delete(grouping.codes, lost))

    return LinearModel(
        np.delete(model.y, lost),
        left(model.cells),
        tuple(map(left, model.fixed)),
        tuple(map(left, model.random)),
    )


def require_same(exact: Fit, fit: Fit, rows: Floats, joint: list[Floats]) -> None:
    assert fit.means == pytest.approx(exact.means, rel=1e-8)
    assert fit.cov == pytest.approx(exact.cov, abs=1e-8 * float(exact.cov.max()))
    for one, two in zip(exact.estimates(rows), fit.estimates(rows), strict=True):
        assert two == pytest.approx(one, rel=1e-8, abs=1e-8 * float(np.abs(one).max()))
    for contrasts in joint:
        due, got = exact.df.joint(contrasts), fit.df.joint(contrasts)
        assert got.F == pytest.approx(due.F, rel=1e-8)
        assert (got.num_df, got.den_df) == pytest.approx((due.num_df, due.den_df), rel=1e-8)
    parts = {part.source: part.variance for part in fit.components}
    for part in exact.components:
        assert parts[part.source] == pytest.approx(part.variance, rel=1e-8)
    assert fit.residual_variance == pytest.approx(exact.residual_variance, rel=1e-8)
    scale = float(np.abs(exact.residuals).max())
    assert fit.residuals == pytest.approx(exact.residuals, abs=1e-8 * scale)
    assert fit.leverage == pytest.approx(exact.leverage, abs=1e-8)


def test_with_no_plot_lost_it_is_the_exact_strata_of_rice(
    rice: LinearModel, contrasts: Callable[[int], Floats], pairs: Callable[[int], Floats]
) -> None:
    exact, fit = strata(rice), reml(rice)
    assert (exact.method, fit.method) == (Method.STRATA, Method.REML_STRATA)
    nitrogen = np.kron(contrasts(6), np.full((1, 4), 0.25)).astype(float)
    variety = np.kron(np.full((1, 6), 1 / 6), contrasts(4))
    both = np.kron(contrasts(6), contrasts(4)).astype(float)
    require_same(exact, fit, np.vstack([pairs(24), np.eye(24)]), [nitrogen, variety, both])


@pytest.mark.parametrize("kind", ["split-split-plot", "strips"])
@pytest.mark.parametrize("seed", range(3, 7))
def test_with_no_plot_lost_it_is_the_exact_strata_of_several_units(
    kind: str, seed: int, contrasts: Callable[[int], Floats], pairs: Callable[[int], Floats]
) -> None:
    model = alike(kind, seed)
    assert is_orthogonal(model)
    exact, fit = strata(model), reml(model)
    assert any(part.variance < 0 for part in exact.components)
    assert fit.method is Method.REML_STRATA
    half, third = np.full((1, 2), 0.5), np.full((1, 3), 1 / 3)
    joint: list[Floats] = [
        np.kron(contrasts(2), np.kron(third, half)).astype(float),
        np.kron(half, np.kron(contrasts(3), half)),
        np.kron(contrasts(2), np.kron(contrasts(3), contrasts(2))).astype(float),
    ]
    require_same(exact, fit, pairs(12), joint)


def test_the_mean_squares_are_those_of_a_general_library(rice: LinearModel) -> None:
    """Sequential sums of squares by ordinary least squares, with three plots lost."""
    model = without(rice, 0, 17, 40)
    fixed = np.hstack([np.eye(24)[model.cells.codes], np.eye(3)[model.fixed[0].codes][:, 1:]])
    units = np.eye(18)[model.random[0].codes]
    # The whole plots of the first block and of the first nitrogen level add nothing to these.
    added = units[:, [*range(7, 12), *range(13, 18)]]
    first = sm.OLS(model.y, fixed).fit()
    last = sm.OLS(model.y, np.hstack([fixed, added])).fit()
    whole, plots = reml(model).components
    assert plots.mean_square == plots.variance
    assert plots.variance == pytest.approx(last.mse_resid, rel=1e-8)
    between = (first.ssr - last.ssr) / (first.df_resid - last.df_resid)
    assert whole.mean_square == pytest.approx(between, rel=1e-8)
    # The mean square's expectation: plots + (mean of the units' plots that are left over) whole.
    left = units - fixed @ np.linalg.lstsq(fixed, units)[0]
    times = np.sum(left**2) / (first.df_resid - last.df_resid)
    assert whole.variance == pytest.approx((between - last.mse_resid) / times, rel=1e-8)
    assert whole.variance < 0


@pytest.mark.slow
def test_losing_a_plot_changes_the_test_of_whole_plots_by_little(
    rice: LinearModel, contrasts: Callable[[int], Floats]
) -> None:
    nitrogen = np.kron(contrasts(6), np.full((1, 4), 0.25))
    whole = fit_of(rice).df.joint(nitrogen)
    F = [fit_of(without(rice, plot)).df.joint(nitrogen).F for plot in range(rice.y.size)]
    held = replace(rice, random=(replace(rice.random[0], floored=True),))
    at_zero = [fit_of(without(held, plot)).df.joint(nitrogen).F for plot in range(rice.y.size)]
    assert np.median(F) == pytest.approx(whole.F, rel=0.1)
    assert np.median(at_zero) < 0.6 * whole.F


def test_a_floored_variance_stays_at_zero(rice: LinearModel) -> None:
    held = replace(rice, random=(replace(rice.random[0], floored=True),))
    fit = reml(held)
    assert fit.method is Method.REML
    assert fit.components[0].variance == 0.0


def test_units_that_do_not_differ_at_all_keep_the_errors_of_plots(rice: LinearModel) -> None:
    """No mean square of 0 is taken for an error."""
    codes = np.tile(np.arange(4), 18)
    luck = np.random.default_rng(4).normal(size=(18, 4))
    order = np.argsort(rice.random[0].codes, kind="stable")
    y = np.empty(72)
    y[order] = (luck - luck.mean(axis=1, keepdims=True)).ravel()
    fit = reml(replace(rice, y=50 + y, cells=Grouping("variety", codes[np.argsort(order)], 4)))
    assert fit.method is Method.REML
    assert np.isfinite(fit.cov).all()


def test_means_stay_as_they_are_at_zero(rice: LinearModel) -> None:
    lost = without(rice, 0, 17, 40)
    held = replace(lost, random=(replace(lost.random[0], floored=True),))
    assert reml(lost).means == pytest.approx(reml(held).means, rel=1e-12)


def table_of(
    published: Callable[[str], Published], plot_table: Callable[..., PlotTable]
) -> PlotTable:
    trial = published("rice_nitrogen_split_plot")
    columns = dict(trial.columns)
    columns["yield"] = [None if row in {0, 17} else y for row, y in enumerate(columns["yield"])]
    return plot_table(
        columns,
        "nitrogen",
        "variety",
        block="block",
        on={"nitrogen": AppliedTo.WHOLE_PLOT},
    )


def test_a_comparison_says_what_was_done(
    published: Callable[[str], Published], plot_table: Callable[..., PlotTable]
) -> None:
    found = compare(table_of(published, plot_table), Question())
    assert found.method is Method.REML_STRATA
    said = {each.code: each.text for each in found.cautions}
    assert said["negative-variance"].startswith(
        "Whole plots differed no more than the plots inside them"
    )
    assert "mean squares of larger units and of plots" in said["errors-by-strata"]
    document = json.loads(json.dumps(comparison_document(found)))
    jsonschema.validate(document, schema())
    assert document["model"]["method"] == "REML + errors by strata"
