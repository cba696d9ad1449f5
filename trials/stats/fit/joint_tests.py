"""F tests of several contrasts together, whatever gave their errors."""

from __future__ import annotations

import numpy as np
from scipy.special import fdtrc

from trials.stats.design.linear_model import JointTest
from trials.stats.design.table import Floats

_RANK_TOLERANCE = 1e-9


def tested_rows(contrasts: Floats, estimable_basis: Floats) -> Floats:
    """Orthonormal rows (q, c) spanning what of ``contrasts`` (m, c) the layout can estimate.

    Redundant rows fall away. Raises ValueError where nothing estimable is left: ask
    ``Fit.estimable`` first.
    """
    rows = _row_space(np.atleast_2d(contrasts))
    if estimable_basis.shape[0] != estimable_basis.shape[1]:
        outside = rows - rows @ estimable_basis @ estimable_basis.T
        left, size, _ = np.linalg.svd(outside)
        rows = left[:, int(np.count_nonzero(size > 1e-8)) :].T @ rows
    if rows.shape[0] == 0:
        raise ValueError("none of the contrasts can be estimated from this layout")
    return rows


def _row_space(contrasts: Floats) -> Floats:
    _, size, right = np.linalg.svd(contrasts, full_matrices=False)
    return right[: int(np.count_nonzero(size > _RANK_TOLERANCE * size[0]))]


def wald(rows: Floats, means: Floats, cov: Floats) -> Floats:
    """The Wald statistic (...,) of independent ``rows`` (q, c) divided by q.

    ``means`` (..., c) and ``cov`` (..., c, c) may be of a stack of fits.
    """
    estimate = means @ rows.T
    spread = rows @ cov @ rows.T
    pulled = np.linalg.solve(spread, estimate[..., None])[..., 0]
    return np.asarray(np.sum(estimate * pulled, axis=-1) / rows.shape[0])


def f_test(F: float | Floats, num_df: float, den_df: float) -> JointTest:
    """The F test with its upper tail probability."""
    return JointTest(float(num_df), float(den_df), float(F), float(fdtrc(num_df, den_df, F)))


def quadratic_forms(contrasts: Floats, matrix: Floats) -> Floats:
    """Values l'Ml (..., m), one for each row l of ``contrasts`` (..., m, c)."""
    return np.asarray(np.sum(contrasts @ matrix * contrasts, axis=-1))
