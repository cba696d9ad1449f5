"""The largest of many correlated normal statistics, by the few factors that tie them together.

Any correlation matrix is a diagonal of what each statistic has to itself plus the covariance of
factors common to several. Given the factors the statistics are independent, and what is left
to integrate is smooth: the more of its variance a statistic has to itself, the smoother. So the
diagonal is made as large as it can be (minimum trace factor analysis, Bentler & Woodward 1980,
Psychometrika 45:249). In augmented blocks that leaves the blocks and the checks.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import ndtr

from trials.stats.design.table import Codes, Floats
from trials.stats.distributions.lattice import MOST_DIMENSIONS, normal_points

_BARRIER_END = 1e-8
_NO_FACTOR = 1e-6  # a factor with less variance than this is left to the statistics themselves
_ONE_VARIANCE = 1e-4  # components this near in variance are taken together
_LEAST_OWN = 1e-9
_SHARP, _SHIFTS = 0.15, 8  # an own deviation this small makes edges, which want more points
_PER_UNIT = 1024.0
_END = 9.0


def own_variances(correlation: Floats) -> Floats:
    """The largest own variances (k,) that leave a covariance behind (k, k).

    Maximises their sum d with ``correlation`` - diag(d) positive definite and d > 0, by Newton's
    steps on logarithmic barriers (Boyd & Vandenberghe 2004, Convex Optimization, section 11.3).
    """
    k = len(correlation)
    matrix = correlation + 1e-10 * np.eye(k)
    d = np.full(k, 0.5 * max(float(np.linalg.eigvalsh(matrix)[0]), 1e-12))
    barrier = 1.0
    while barrier > _BARRIER_END:
        for _ in range(3):
            inverse = np.linalg.inv(matrix - np.diag(d))
            slope = 1.0 - barrier * np.diag(inverse) + barrier / d
            bend = barrier * inverse**2 + np.diag(barrier / d**2)
            d = _inside(matrix, d, np.linalg.solve(bend, slope))
        barrier *= 0.1
    return d


def _inside(matrix: Floats, d: Floats, step: Floats) -> Floats:
    """The longest of a full step, half, a quarter ... that stays inside the cone."""
    for halvings in range(60):
        moved = d + 0.5**halvings * step
        if (moved > 0.0).all():
            try:
                np.linalg.cholesky(matrix - np.diag(moved))
            except np.linalg.LinAlgError:
                continue
            return np.asarray(moved)
    return d


@dataclass(frozen=True, slots=True, eq=False)
class HiddenFactors:
    """A correlation matrix as factors and own variances, statistics of one kind counted together.

    ``loadings`` (kinds, factors), the factors of largest variance first; ``own`` (kinds,) standard
    deviations of what is left; ``counts`` (kinds,).
    """

    loadings: Floats
    own: Floats
    counts: Codes

    @classmethod
    def of(cls, correlation: Floats) -> HiddenFactors:
        """The factors of a correlation matrix (k, k), which may be singular."""
        loadings = _principal(correlation - np.diag(own_variances(correlation)))
        _, first, counts = np.unique(
            np.round(loadings, 6) + 0.0, axis=0, return_index=True, return_counts=True
        )
        loadings = loadings[first]
        own = np.sqrt(np.maximum(1.0 - (loadings**2).sum(axis=1), _LEAST_OWN))
        return cls(loadings, own, counts)

    def inside(self, w: Floats, two_sided: bool) -> Floats:
        """P(max |Z_i| <= w), or P(max Z_i <= w), for each of ``w`` (n,)."""
        shifts = _SHIFTS if float(self.own.min()) < _SHARP else 1
        points = normal_points(max(self.loadings.shape[1], 1), shifts)
        moved = self.loadings @ points[: self.loadings.shape[1]] / self.own[:, None]
        found = np.empty(len(w))
        for place, width in enumerate(w):
            product = np.ones(points.shape[1])
            for shift, own, count in zip(moved, self.own, self.counts, strict=True):
                inside = _normal_cdf(width / own - shift)
                if two_sided:
                    inside -= _normal_cdf(-width / own - shift)
                product *= _power(inside, int(count))
            found[place] = product.mean()
        return found


def _principal(cov: Floats) -> Floats:
    """Principal components of a covariance (k, factors), scaled by their standard deviations.

    Components of one variance may be turned into one another at will, and rounding would: each
    such set is fixed by the pivoted triangle of its projection, so that neither the units nor the
    machine moves the answer.
    """
    values, vectors = np.linalg.eigh(cov)
    kept = np.flatnonzero(values > _NO_FACTOR)[::-1]
    apart = np.flatnonzero(np.diff(values[kept]) < -_ONE_VARIANCE * values[kept[:-1]]) + 1
    columns: list[Floats] = []
    for together in np.split(kept, apart):
        projection = vectors[:, together] @ vectors[:, together].T
        for value in values[together]:
            pivot = int(np.argmax(np.round(np.diag(projection), 6)))
            column = projection[:, pivot] / np.sqrt(projection[pivot, pivot])
            projection = projection - np.outer(column, column)
            columns.append(np.sqrt(value) * column)
    return np.array(columns[:MOST_DIMENSIONS]).reshape(-1, len(cov)).T


def _power(base: Floats, exponent: int) -> Floats:
    """``base`` multiplied by itself: far quicker than a general power."""
    found = np.ones_like(base)
    while exponent:
        if exponent % 2:
            found = found * base
        base = base * base
        exponent //= 2
    return found


@lru_cache(maxsize=1)
def _normal_table() -> tuple[Floats, Floats]:
    at = np.arange(-_END * _PER_UNIT, _END * _PER_UNIT + 2) / _PER_UNIT
    values = ndtr(at)
    return values, np.diff(values, append=1.0)


def _normal_cdf(x: Floats) -> Floats:
    """The normal distribution function from a table, to 3e-8 and several times as fast."""
    values, rises = _normal_table()
    place = (np.clip(x, -_END, _END) + _END) * _PER_UNIT
    step = place.astype(np.int32)
    place -= step
    place *= rises.take(step)
    place += values.take(step)
    return np.asarray(place)
