"""The columns of a linear model, swept once, and the contrasts of cell means that they carry."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from trials.errors import ComparisonRefused
from trials.stats.design.linear_model import Grouping, LinearModel
from trials.stats.design.table import Floats

_RANK_TOLERANCE = 1e-10  # of the largest singular value; indicator columns are far from it


@dataclass(frozen=True, slots=True, eq=False)
class Design:
    """The fixed part of a model as an orthonormal basis of its column space.

    ``space`` (n, r) spans the columns. ``solve`` (c, r) turns coordinates in it into adjusted cell
    means: ``solve @ space.T @ y`` with weights equal over the levels of each fixed grouping and
    covariates at their mean. ``estimable_basis`` (c, e) spans the contrasts that the layout can
    estimate; means outside it are finite but arbitrary.
    """

    space: Floats
    solve: Floats
    estimable_basis: Floats

    @property
    def rank(self) -> int:
        return int(self.space.shape[1])

    @property
    def weights(self) -> Floats:
        """The plots' weights (n, c) in each least-squares cell mean."""
        return self.space @ self.solve.T


def design(model: LinearModel) -> Design:
    """Sweep the cells, fixed groupings and covariates of ``model``.

    Cells enter as full indicators, each fixed grouping in sum-to-zero coding (so that its effects
    average to nothing over its levels), covariates centred. A fixed grouping that another one
    refines adds nothing and is left out: the means are then weighted equally over the finer one.
    """
    cells = model.cells.count
    columns = [indicators(model.cells)]
    columns += [_sum_to_zero(grouping) for grouping in finest(model.fixed)]
    if model.covariates is not None and model.covariates.size:
        columns.append(_centred(model.covariates))
    left, singular, right = np.linalg.svd(np.hstack(columns), full_matrices=False)
    rank = int(np.count_nonzero(singular > _RANK_TOLERANCE * singular[0]))
    solve = right[:rank, :cells].T / singular[:rank]
    full = rank == singular.size == right.shape[1]
    basis = np.eye(cells) if full else _estimable(right[:rank], cells)
    return Design(np.ascontiguousarray(left[:, :rank]), solve, basis)


def indicators(grouping: Grouping) -> Floats:
    """Indicator columns (n, count) of a classification."""
    return np.eye(grouping.count)[grouping.codes]


def used(grouping: Grouping) -> Grouping:
    """The same classification without the levels that no plot carries."""
    present = np.bincount(grouping.codes, minlength=grouping.count) > 0
    if present.all():
        return grouping
    place = np.cumsum(present) - 1
    return replace(grouping, codes=place[grouping.codes], count=int(present.sum()))


def finest(groupings: tuple[Grouping, ...]) -> tuple[Grouping, ...]:
    """The groupings that no other one refines, unused levels dropped."""
    tidy = [used(grouping) for grouping in groupings]
    if len(tidy) < 2:
        return tuple(tidy)
    kept: list[Grouping] = []
    for coarse in sorted(tidy, key=lambda grouping: -grouping.count):
        if not any(_refines(fine, coarse) for fine in kept):
            kept.append(coarse)
    return tuple(grouping for grouping in tidy if any(grouping is k for k in kept))


def _refines(fine: Grouping, coarse: Grouping) -> bool:
    order = np.argsort(fine.codes, kind="stable")
    same_unit = np.diff(fine.codes[order]) == 0
    same_group = np.diff(coarse.codes[order]) == 0
    return bool(np.all(same_group[same_unit]))


def _sum_to_zero(grouping: Grouping) -> Floats:
    free = grouping.count - 1
    return np.vstack([np.eye(free), -np.ones((1, free))])[grouping.codes]


def _centred(covariates: Floats) -> Floats:
    columns = covariates.reshape(covariates.shape[0], -1)
    centred = columns - columns.mean(axis=0)
    spread = np.sqrt(np.mean(centred**2, axis=0))
    constant = spread <= 1e-12 * np.abs(columns).max(axis=0)
    return np.where(constant, 0.0, centred / np.where(constant, 1.0, spread))


def _estimable(rows: Floats, cells: int) -> Floats:
    # A contrast (l, 0) is estimable when it is orthogonal to every null vector of the columns,
    # that is, when l is orthogonal to the cells' part of the null space.
    complement = np.eye(rows.shape[1]) - rows.T @ rows
    hidden, size, _ = np.linalg.svd(complement[:cells], full_matrices=True)
    lost = int(np.count_nonzero(size > 1e-8))
    return np.ascontiguousarray(hidden[:, lost:])


def refuse_no_spread(residuals: Floats, y: Floats) -> None:
    """Refuse a fit whose residuals are nothing but rounding: it has no error to judge by."""
    rounding = 8 * np.finfo(float).eps * float(np.abs(y).max())
    if float(np.sqrt(np.mean(residuals**2))) <= rounding:
        raise ComparisonRefused(
            "Plots treated alike agree exactly, so there is no variation to test differences "
            "with. Check that the measure was recorded plot by plot, or choose another "
            "measure."
        )


def refuse_no_error(residual_df: int, source: str = "plots") -> None:
    """Refuse a fit that leaves no degrees of freedom for the error among ``source``."""
    if residual_df < 1:
        raise ComparisonRefused(
            f"No {source} are left over to show how much like-treated {source} vary. "
            "Repeat the treatments in more blocks, or compare fewer factors at once."
        )
