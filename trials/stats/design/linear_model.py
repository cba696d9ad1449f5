"""The linear model behind a comparison: what is fitted, and what a fit hands on.

The treatments enter as *cells* (one per combination of levels that was planted), so that a fit
is always of the full factorial and every term is a set of contrasts among the cells.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from trials.stats.design.table import Codes, Floats
from trials.stats.results import Component, Method


@dataclass(frozen=True, slots=True, eq=False)
class Grouping:
    """A classification of the plots: ``codes`` (n,) in ``range(count)``.

    ``floored``: a variance of 0 is taken as it is where the search for it ends there. So it is for
    incomplete blocks, which only add to comparisons made inside them, and over seasons and sites
    together, where no layout has exact strata. Other larger units are the error of their
    treatments, which then comes from their own mean square.
    """

    source: str
    codes: Codes
    count: int
    floored: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class LinearModel:
    """Plots (n) = cell + fixed groupings + covariates + random groupings + plot error.

    ``y`` (n,) complete (no NaN). ``cells`` are the treatment combinations. ``fixed`` are nuisance
    classifications (complete blocks, rows, columns). ``random`` are the larger units (whole plots,
    strips, incomplete blocks), each distinct from the plots themselves. ``covariates`` (n, q) are
    taken at their mean in the adjusted means.
    """

    y: Floats
    cells: Grouping
    fixed: tuple[Grouping, ...] = ()
    random: tuple[Grouping, ...] = ()
    covariates: Floats | None = None


@dataclass(frozen=True, slots=True)
class JointTest:
    """An F test of several contrasts together."""

    num_df: float
    den_df: float
    F: float
    p: float


class DegreesOfFreedom(Protocol):
    """How a method gives degrees of freedom to contrasts among the cell means."""

    def of_contrasts(self, contrasts: Floats) -> Floats:
        """Degrees of freedom (m,) of each row of ``contrasts`` (m, c)."""

    def joint(self, contrasts: Floats) -> JointTest:
        """The F test that all rows of ``contrasts`` (m, c) are zero; the rows may be redundant."""


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """Adjusted cell means with their errors.

    ``means`` (c,) are equally weighted over the fixed groupings, covariates at their mean.
    ``cov`` (c, c) is their covariance (Kenward-Roger's adjusted one under REML). Contrasts that
    the layout cannot estimate are found by ``estimable``. ``residuals`` (n,) are conditional on
    the random units' predicted effects.
    """

    method: Method
    means: Floats
    cov: Floats
    df: DegreesOfFreedom
    residual_df: float
    residual_variance: float
    components: tuple[Component, ...]
    residuals: Floats
    fitted: Floats
    leverage: Floats
    estimable_basis: Floats  # (c, r) orthonormal basis of the estimable contrasts' row space

    def estimable(self, contrasts: Floats) -> NDArray[np.bool_]:
        """Which rows of ``contrasts`` (m, c) the layout can estimate."""
        inside = contrasts @ self.estimable_basis @ self.estimable_basis.T
        size = np.maximum(np.abs(contrasts).max(axis=1), 1e-300)
        return np.asarray(np.abs(contrasts - inside).max(axis=1) <= 1e-8 * size)

    def estimates(self, contrasts: Floats) -> tuple[Floats, Floats, Floats]:
        """Estimate, standard error and degrees of freedom (each (m,)) of each row."""
        variance = np.einsum("ij,ij->i", contrasts @ self.cov, contrasts)
        return (
            contrasts @ self.means,
            np.sqrt(np.maximum(variance, 0.0)),
            self.df.of_contrasts(contrasts),
        )


@dataclass(frozen=True, slots=True, eq=False)
class AdjustedMeans:
    """The adjusted means of one factor with their covariance: what a decision is drawn from.

    ``means`` (k,) and ``cov`` (k, k) follow ``levels``; ``df`` is the smallest number of degrees
    of freedom of any pairwise difference.
    """

    factor: str
    levels: tuple[str, ...]
    means: Floats
    cov: Floats
    df: float
