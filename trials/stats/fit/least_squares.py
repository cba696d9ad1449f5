"""Least squares for layouts with one error stratum: blocks, rows and columns fixed.

statsmodels fits and tests (``OLS``). What it does not know is prepared here: which contrasts of
cell means a layout can estimate, and means weighted equally over blocks.

Formula: b = (X'X)^-1 X'y; F = (Cb)' (C (X'X)^-1 C')^-1 (Cb) / (q s²) on q and n - rank(X) degrees
    of freedom.
Limits: One error stratum, normal errors of one variance; a table without residual degrees of
    freedom is refused.
Source: Searle 1987, Linear Models for Unbalanced Data, chapters 4 and 5 (cell means models).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from trials.stats.design.design_matrix import design, refuse_no_error, refuse_no_spread
from trials.stats.design.linear_model import Fit, JointTest, LinearModel
from trials.stats.design.table import Floats
from trials.stats.fit.joint_tests import tested_rows
from trials.stats.results import Component, Method


@dataclass(frozen=True, slots=True, eq=False)
class ResidualDf:
    """One error for every contrast: the residual degrees of freedom, and exact F tests.

    ``fitted`` is statsmodels' result; ``solve`` (c, r) turns its coefficients into cell means.
    """

    residual_df: int
    fitted: Any
    solve: Floats
    estimable_basis: Floats

    def of_contrasts(self, contrasts: Floats) -> Floats:
        """The residual degrees of freedom, once for each row of ``contrasts`` (m, c)."""
        return np.full(contrasts.shape[0], float(self.residual_df))

    def joint(self, contrasts: Floats) -> JointTest:
        """The F test of the estimable part of ``contrasts`` (m, c); rows may be redundant."""
        rows = tested_rows(contrasts, self.estimable_basis)
        test = self.fitted.f_test(rows @ self.solve)
        return JointTest(
            float(test.df_num), float(test.df_denom), float(test.fvalue), float(test.pvalue)
        )


def least_squares(model: LinearModel) -> Fit:
    """Fit a model without random groupings by ordinary least squares.

    Returns adjusted cell means weighted equally over the levels of the fixed groupings, with
    covariates at their mean. Disconnected blocks are allowed: ``Fit.estimable`` tells what they
    leave. Refuses (ComparisonRefused) a table with no residual degrees of freedom or no spread
    among like-treated plots. Raises ValueError where ``model.random`` is not empty.
    """
    from statsmodels.regression.linear_model import OLS  # half a second that only fits wait for

    if model.random:
        raise ValueError("least squares takes no random groupings: use strata or REML")
    swept = design(model)
    residual_df = model.y.size - swept.rank
    refuse_no_error(residual_df)
    centre = float(model.y.mean())  # digits are kept where the measure is large but varies little
    fitted = OLS(model.y - centre, swept.space, hasconst=False).fit(method="qr")
    residuals = np.asarray(fitted.resid)
    refuse_no_spread(residuals, model.y)
    variance = float(fitted.ssr) / residual_df
    means = swept.solve @ fitted.params
    cov = variance * (swept.solve @ swept.solve.T)
    return Fit(
        method=Method.LEAST_SQUARES,
        means=means + centre,
        cov=cov,
        df=ResidualDf(residual_df, fitted, swept.solve, swept.estimable_basis),
        residual_df=float(residual_df),
        residual_variance=variance,
        components=(Component("residual", variance, float(residual_df), variance),),
        residuals=residuals,
        fitted=model.y - residuals,
        leverage=np.asarray(fitted.get_influence().hat_matrix_diag),
        estimable_basis=swept.estimable_basis,
    )
