"""What is thought of the SDs of entries and seasons beforehand, and the nodes to integrate them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import eigh_tridiagonal

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SpreadPrior:
    """What is thought of the two SDs before the trials speak, as shares of the usual value.

    The entry SD follows a half-t on 3 degrees of freedom with scale ``entry_share``, the season SD
    a half-normal with scale ``season_share``. Weak by design: variety trials of cut flowers show
    entry SDs of 10 to 20 % of the mean and season SDs of about half of that (judgement, no
    source); the first is hardly held back by its prior, the second must be, as one season alone
    cannot tell the two apart.
    """

    entry_share: float = 0.12
    season_share: float = 0.07

    def log_entry(self, sd: Floats, usual: float) -> Floats:
        """Log density of the entry SD, up to a constant."""
        return np.asarray(-2.0 * np.log1p((sd / (self.entry_share * usual)) ** 2 / 3.0))

    def log_season(self, sd: Floats, usual: float) -> Floats:
        """Log density of the season SD, up to a constant."""
        return np.asarray(-0.5 * (sd / (self.season_share * usual)) ** 2)


@dataclass(frozen=True, slots=True)
class SDs:
    """The SDs of entries and of entry × season, where they are given."""

    entry: float
    season: float


class Axis:
    """Quadrature over a positive SD: Gauss-Legendre nodes on asinh(SD / unit)."""

    def __init__(self, low: float, high: float, unit: float, nodes: int) -> None:
        at, weights = np.polynomial.legendre.leggauss(nodes)
        a, b = np.arcsinh(low / unit), np.arcsinh(high / unit)
        u = (a + b) / 2 + (b - a) / 2 * at
        self.sd = unit * np.sinh(u)
        self.log_weight = np.log((b - a) / 2 * weights * unit * np.cosh(u))


def around(sd: Floats, near: NDArray[np.bool_], unit: float, nodes: int) -> Axis:
    """An axis about those of a grid's SDs that are ``near`` the top of the posterior."""
    at = np.flatnonzero(near)
    low = 0.0 if at[0] == 0 else float(sd[at[0] - 1])
    return Axis(low, float(sd[min(at[-1] + 1, sd.size - 1)]), unit, nodes)


def precision_nodes(df: float, count: int) -> tuple[Floats, Floats]:
    """Gauss nodes and weights for chi-square on ``df`` over ``df`` (mean 1).

    By the eigenvalues of the Jacobi matrix of the generalised Laguerre polynomials (Golub & Welsch
    1969, Math. Comp. 23:221), whose weights do not overflow where ``df`` is large.
    """
    i = np.arange(count)
    alpha = df / 2 - 1
    off = np.sqrt((i[1:]) * (i[1:] + alpha))
    at, vectors = eigh_tridiagonal(2 * i + alpha + 1, off)
    return at * 2 / df, vectors[0] ** 2
