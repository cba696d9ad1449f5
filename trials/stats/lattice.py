"""The largest of any correlated t statistics, by a fixed lattice over the box of their limits.

The box is integrated one independent variate after another: each is confined to the interval
that the statistics ending with it leave open, and its place inside the interval is a coordinate
of the lattice (Genz & Bretz 2009, Computation of Multivariate Normal and t Probabilities,
sections 4.2 and 5.2). The lattice is Richtmyer's (fractional parts of multiples of the square
roots of primes), folded by the baker's transformation and moved by eight fixed shifts, whose
disagreement is the stated error. Nothing is drawn at random.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy.linalg
from scipy.special import gammaincinv, ndtr, ndtri

from trials.stats.table import Codes, Floats

_POINTS = 2048
_SHIFTS = 8


@dataclass(frozen=True, slots=True, eq=False)
class Staircase:
    """Unit-variance statistics written as ``rows`` (m, r) times r independent variates.

    ``last`` (m,) is the index of the last variate that each statistic uses.
    """

    rows: Floats
    last: Codes

    @classmethod
    def around_factor(cls, loadings: Floats, rest: Floats) -> Staircase:
        """A common factor with ``loadings`` (k,) first, then the lower triangle ``rest`` (k, k)."""
        return cls(np.column_stack([loadings, rest]), np.arange(1, len(loadings) + 1))

    @classmethod
    def of(cls, contrasts: Floats, cov: Floats) -> Staircase:
        """The statistics of ``contrasts`` (m, k) among means with covariance ``cov`` (k, k).

        ``cov`` may be singular, and so may the covariance of the contrasts. Put the contrasts
        from which the others follow by subtraction first: the others then end early.
        """
        values, vectors = np.linalg.eigh(cov)
        root = vectors * np.sqrt(np.maximum(values, 0.0))
        loads = contrasts @ root
        loads = loads / np.linalg.norm(loads, axis=1, keepdims=True)
        triangle = scipy.linalg.qr(loads.T, mode="economic")[1].T
        triangle[np.abs(triangle) < 1e-9] = 0.0
        used = triangle != 0.0
        kept = used.any(axis=0)
        last = used.shape[1] - 1 - np.argmax(used[:, ::-1], axis=1)
        renumbered = np.cumsum(kept) - 1
        return cls(triangle[:, kept], np.asarray(renumbered[last], dtype=np.intp))


def box_cdf(t: float, staircase: Staircase, df: float, two_sided: bool) -> Floats:
    """P(max |T_i| <= t), or P(max T_i <= t), once for each fixed shift of the lattice.

    Subtract the values of a problem of the same size whose answer is known: the points are the
    same, and most of the error goes with them.
    """
    rows, last = staircase.rows, staircase.last
    variates = rows.shape[1]
    lattice = _lattice(variates + 1)
    if np.isinf(df):
        limit = np.full(lattice.shape[1], t)
    else:
        limit = t * np.sqrt(2.0 * gammaincinv(df / 2, lattice[variates]) / df)
    drawn = np.zeros((variates, lattice.shape[1]))
    inside = np.ones(lattice.shape[1])
    for i in range(variates):
        ending = np.flatnonzero(last == i)
        low = np.full(lattice.shape[1], -np.inf)
        high = np.full(lattice.shape[1], np.inf)
        for row in rows[ending]:
            before = row[:i] @ drawn[:i]
            bound = (limit - before) / row[i]
            opposite = (-limit - before) / row[i]
            if row[i] < 0:
                low = np.maximum(low, bound)
                high = np.minimum(high, opposite) if two_sided else high
            else:
                high = np.minimum(high, bound)
                low = np.maximum(low, opposite) if two_sided else low
        below = ndtr(low)
        width = np.maximum(ndtr(high) - below, 0.0)
        inside *= width
        drawn[i] = ndtri(np.clip(below + lattice[i] * width, 1e-16, 1.0 - 1e-16))
    return np.asarray(inside.reshape(_SHIFTS, -1).mean(axis=1))


@lru_cache(maxsize=8)
def _lattice(dimensions: int) -> Floats:
    """The points (dimensions, shifts x points), strictly inside the unit cube."""
    roots = np.sqrt(_primes(dimensions))[:, None]
    golden = (np.sqrt(5.0) - 1.0) / 2.0
    index = np.arange(1, _POINTS + 1)
    moved = [
        roots * index + shift * golden * np.arange(1, dimensions + 1)[:, None] + shift / _SHIFTS
        for shift in range(_SHIFTS)
    ]
    points = np.concatenate(moved, axis=1) % 1.0
    return np.asarray(np.clip(np.abs(2.0 * points - 1.0), 1e-12, 1.0 - 1e-12))


def _primes(count: int) -> Floats:
    found: list[int] = []
    candidate = 2
    while len(found) < count:
        if all(candidate % prime for prime in found if prime * prime <= candidate):
            found.append(candidate)
        candidate += 1
    return np.array(found, dtype=float)
