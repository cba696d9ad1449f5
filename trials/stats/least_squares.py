"""Least squares for layouts with one error stratum: blocks, rows and columns fixed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trials.stats.design_matrix import design, refuse_no_error, refuse_no_spread
from trials.stats.joint_tests import f_test, tested_rows, wald
from trials.stats.model import Fit, JointTest, LinearModel
from trials.stats.results import Component, Method
from trials.stats.table import Floats


@dataclass(frozen=True, slots=True, eq=False)
class ResidualDf:
    """One error for every contrast: the residual degrees of freedom, and exact F tests."""

    residual_df: int
    means: Floats
    cov: Floats
    estimable_basis: Floats

    def of_contrasts(self, contrasts: Floats) -> Floats:
        """The residual degrees of freedom, once for each row of ``contrasts`` (m, c)."""
        return np.full(contrasts.shape[0], float(self.residual_df))

    def joint(self, contrasts: Floats) -> JointTest:
        """The F test of the estimable part of ``contrasts`` (m, c); rows may be redundant."""
        rows = tested_rows(contrasts, self.estimable_basis)
        return f_test(wald(rows, self.means, self.cov), rows.shape[0], self.residual_df)


def least_squares(model: LinearModel) -> Fit:
    """Fit a model without random groupings by ordinary least squares.

    Returns adjusted cell means weighted equally over the levels of the fixed groupings, with
    covariates at their mean. Disconnected blocks are allowed: ``Fit.estimable`` tells what they
    leave. Refuses (ComparisonRefused) a table with no residual degrees of freedom or no spread
    among like-treated plots. Raises ValueError where ``model.random`` is not empty.

    Source: Searle 1987, Linear Models for Unbalanced Data, chapters 4 and 5 (cell means models).
    """
    if model.random:
        raise ValueError("least squares takes no random groupings: use strata or REML")
    swept = design(model)
    residual_df = model.y.size - swept.rank
    refuse_no_error(residual_df)
    centre = float(model.y.mean())  # digits are kept where the measure is large but varies little
    y = model.y - centre
    coordinates = swept.space.T @ y
    residuals = y - swept.space @ coordinates
    refuse_no_spread(residuals, model.y)
    variance = float(residuals @ residuals) / residual_df
    means = swept.solve @ coordinates
    cov = variance * (swept.solve @ swept.solve.T)
    return Fit(
        method=Method.LEAST_SQUARES,
        means=means + centre,
        cov=cov,
        df=ResidualDf(residual_df, means, cov, swept.estimable_basis),
        residual_df=float(residual_df),
        residual_variance=variance,
        components=(Component("residual", variance, float(residual_df), variance),),
        residuals=residuals,
        fitted=model.y - residuals,
        leverage=np.einsum("ij,ij->i", swept.space, swept.space),
        estimable_basis=swept.estimable_basis,
    )
