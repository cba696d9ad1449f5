"""How even the ground was, and whether the blocks helped: CV and relative efficiency."""

from __future__ import annotations

import numpy as np

from trials.stats.fit import least_squares
from trials.stats.model import Fit, LinearModel
from trials.stats.structure import Structure
from trials.stats.table import Floats

# With fewer error degrees of freedom the loss of those that blocks take is allowed for.
FEW_ERROR_DF = 20


def cv_percent(fit: Fit, grand_mean: float) -> float | None:
    """The plots' standard deviation in per cent of the mean; None where that is not positive."""
    if grand_mean <= 0:
        return None
    return 100 * float(np.sqrt(fit.residual_variance)) / grand_mean


def relative_efficiency(structure: Structure, model: LinearModel, fit: Fit) -> float | None:
    """How many times as many plots would be needed without the blocks; under 1 they did not help.

    Fixed blocks, rows and columns: against complete randomisation, by Gomez & Gomez 1984,
    Statistical Procedures for Agricultural Research, sections 2.2.3 and 2.3.3 (Cochran & Cox 1957,
    sections 4.26 and 4.37), with Fisher's correction under 20 error degrees of freedom. Incomplete
    blocks: the mean variance of a difference against complete blocks (Cochran & Cox, section
    9.41). None for other layouts.
    """
    if structure.ground.units or structure.ground.trial is not None:
        return None
    if model.random:
        return _of_incomplete_blocks(model, fit)
    return _of_fixed_blocks(model, fit) if model.fixed else None


def _of_fixed_blocks(model: LinearModel, fit: Fit) -> float | None:
    n = model.y.size
    columns = [np.eye(model.cells.count)[model.cells.codes]]
    if model.covariates is not None:
        columns.append(model.covariates - model.covariates.mean(axis=0))
    without = np.hstack(columns)
    y = model.y - model.y.mean()
    left = y - without @ np.linalg.lstsq(without, y, rcond=None)[0]
    df_without = n - int(np.linalg.matrix_rank(without))
    df_blocks = df_without - fit.residual_df
    if df_blocks < 1:
        return None
    error = fit.residual_variance
    blocks = float(left @ left) - error * fit.residual_df
    unblocked = (blocks + (n - 1 - df_blocks) * error) / (n - 1)
    efficiency = unblocked / error
    if fit.residual_df < FEW_ERROR_DF:
        df = fit.residual_df
        efficiency *= (df + 1) * (df_without + 3) / ((df + 3) * (df_without + 1))
    return efficiency


def _of_incomplete_blocks(model: LinearModel, fit: Fit) -> float | None:
    plain = LinearModel(model.y, model.cells, model.fixed, (), model.covariates)
    cells = model.cells.count
    if plain.y.size <= cells + sum(grouping.count - 1 for grouping in plain.fixed):
        return None
    return _mean_variance(least_squares(plain).cov) / _mean_variance(fit.cov)


def _mean_variance(cov: Floats) -> float:
    """The mean variance of a difference of two cells, but for a constant factor."""
    return float(len(cov) * np.trace(cov) - cov.sum())
