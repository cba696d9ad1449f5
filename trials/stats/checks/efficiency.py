"""How even the ground was, and whether the blocks helped: CV and relative efficiency.

Formula: CV = 100 sqrt(error mean square) / mean; efficiency = error without blocks / error with
    them, for b blocks of k: ((b - 1) E_b + b (k - 1) E) / ((b k - 1) E).
Limits: Of this ground in this season; no figure for layouts where no such comparison is published.
Source: Gomez & Gomez 1984, sections 2.2.3 and 2.3.3; Cochran & Cox 1957, Experimental Designs;
    Yates 1935.
"""

from __future__ import annotations

import numpy as np

from trials.stats.design.linear_model import Fit, Grouping, LinearModel
from trials.stats.design.replication import error_df, rank_of
from trials.stats.design.structure import Structure
from trials.stats.design.table import Floats
from trials.stats.fit.methods import least_squares
from trials.stats.results import Method, UnitEfficiency

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


def unit_efficiencies(
    structure: Structure, model: LinearModel, fit: Fit
) -> tuple[UnitEfficiency, ...]:
    """For each size of ground of a split or strip layout: what one of its plots counts for.

    Had single plots been dealt within the blocks, their error would have been the mean of the
    strata's mean squares, each as often as its units differ within blocks; that over a stratum's
    own mean square is what a plot counts for there, corrected for few degrees of freedom as
    blocks are. With a whole plots of b plots in a block: ((a - 1) E_a + a (b - 1) E_b) / (ab - 1)
    over E_a or E_b (Yates 1935, J. R. Statist. Soc. Suppl. 2:181; Cochran & Cox 1957, chapter 7;
    from memory). Without blocks the plots are dealt over the whole ground.

    Empty where the layout is not orthogonal (a plot was lost), or over several seasons.
    """
    units = structure.ground.units
    if fit.method is not Method.STRATA or structure.ground.trial is not None:
        return ()
    factors = {unit.grouping.source: unit.factors for unit in units}
    if any(grouping.source not in factors for grouping in model.random):
        return ()
    n = model.y.size
    blocks = [Grouping("all", np.zeros(n, dtype=np.intp), 1), *model.fixed]
    within = n - rank_of(blocks)
    spread = dict(
        zip((g.source for g in model.random), error_df(blocks, model.random), strict=True)
    )
    spread["residual"] = within - sum(spread.values())
    factors["residual"] = structure.ground.plot_factors
    squares = {part.source: (part.mean_square, part.df) for part in fit.components}
    single = sum(count * (squares[source][0] or 0.0) for source, count in spread.items()) / within
    single_df = within - (model.cells.count - 1)
    found = []
    for source in spread:
        square, df = squares[source]
        if not square or df is None or single_df < 1:
            continue
        efficiency = single / square * _fewer_df(df, single_df)
        names = tuple(structure.cells.factors[i] for i in factors[source])
        unit = structure.ground.plot_unit if source == "residual" else source
        found.append(UnitEfficiency(unit, names, efficiency))
    return tuple(found)


def _fewer_df(df: float, df_without: float) -> float:
    """Fisher's correction for the degrees of freedom that a layout takes from its error."""
    if df >= FEW_ERROR_DF:
        return 1.0
    return (df + 1) * (df_without + 3) / ((df + 3) * (df_without + 1))


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
    return unblocked / error * _fewer_df(fit.residual_df, df_without)


def _of_incomplete_blocks(model: LinearModel, fit: Fit) -> float | None:
    plain = LinearModel(model.y, model.cells, model.fixed, (), model.covariates)
    cells = model.cells.count
    if plain.y.size <= cells + sum(grouping.count - 1 for grouping in plain.fixed):
        return None
    return _mean_variance(least_squares(plain).cov) / _mean_variance(fit.cov)


def _mean_variance(cov: Floats) -> float:
    """The mean variance of a difference of two cells, but for a constant factor."""
    return float(len(cov) * np.trace(cov) - cov.sum())
