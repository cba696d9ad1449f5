"""The largest of all pairs under any covariance: exact in the length, a lattice over directions.

Means with errors z = r u, r the length and u the direction in the space of their k - 1 differences:
the largest studentised difference is r M(u) / s. r and s are independent of u, so that

    P(largest > t) = average over u of P(F > (t / M(u))^2 / (k - 1)),  F on k - 1 and df,

for every t and every df at once (Deak 1980, Numerische Mathematik 35:369; Genz & Bretz 2009,
Computation of Multivariate Normal and t Probabilities, section 4.1). What has to be averaged is
smooth in M, so the lattice's directions come down to a few nodes with weights.

Two control variates with known averages take most of the error away: the same directions when all
errors of a difference are equal, whose answer is the studentised range, and the slope towards
the actual covariance, which averages to nothing over the orders of the entries.

Formula: P(largest > t) = average over u of P(F > (t / M(u))² / (k - 1)), as above.
Limits: Used up to 40 entries; within 3e-4 where errors are as unequal as in augmented blocks.
Source: Deak 1980, Numerische Mathematik 35:369; Genz & Bretz 2009, section 4.1.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import fdtrc

from trials.stats.design.table import Codes, Floats
from trials.stats.distributions.chebyshev import (
    cardinal,
    chebyshev,
    crossing,
    slopes_at_nodes,
    through_nodes,
)
from trials.stats.distributions.lattice import POINTS, shifted_points
from trials.stats.distributions.quadrature import (
    studentised_range_quantile,
    studentised_range_sf,
)

MOST_ENTRIES = 40  # more take too long
_NODES = 24
_BELOW_EVEN = np.array([0.95, 0.965, 0.98, 1.0])  # about where the critical value is
_CELLS = 1024
_WANTED = 0.8e-5
_MOST_LATTICES, _MOST_PAIRS = 8, 3600  # of one lattice each
_TOGETHER = 2048  # directions whose differences stay in the processor's cache


@dataclass(frozen=True, slots=True, eq=False)
class LargestPair:
    """The distribution of the largest studentised difference of ``entries`` means.

    The share ``even`` of the studentised range, plus ``weights`` (n,) at the values ``nodes`` (n,)
    of M(u).
    """

    entries: int
    nodes: Floats
    weights: Floats
    even: float

    @classmethod
    def of(cls, cov: Floats, alpha: float, df: float) -> LargestPair:
        """From the means' covariance (k, k), 3 <= k <= MOST_ENTRIES, all differences with error.

        ``alpha`` and ``df`` say where the control variates are to fit best.
        """
        even = _in_order(cov)
        return _from_lattice(even.tobytes(), len(even), alpha, round(df, 3))

    def sf(self, t: Floats, df: Floats) -> Floats:
        """P(largest > t) for each of ``t`` (m,) at its own ``df`` (m,)."""
        even = studentised_range_sf(np.sqrt(2.0) * t, self.entries, df)
        return np.asarray(self.even * even + self._rest(t, df))

    def quantile(self, alpha: float, df: Floats) -> Floats:
        """The t that the largest exceeds with probability ``alpha``, for each of ``df`` (m,)."""

        def root(inverse: Floats) -> Floats:
            freedom = 1.0 / inverse
            even = studentised_range_quantile(alpha, self.entries, freedom) / np.sqrt(2.0)
            at = even[:, None] * _BELOW_EVEN
            tail = self.sf(at.ravel(), np.repeat(freedom, len(_BELOW_EVEN))).reshape(at.shape)
            return crossing(at, np.log(np.maximum(tail, 1e-300) / alpha))[None, :]

        distinct, which = np.unique(np.round(np.minimum(df, 1e7), 8), return_inverse=True)
        return np.asarray(through_nodes(root, np.asarray(1.0 / distinct), nodes=4)[0][which])

    def _rest(self, t: Floats, df: Floats) -> Floats:
        place = np.minimum(t, 1e6)[:, None]
        beyond = _beyond(place, self.nodes, self.entries, df[:, None])
        return np.asarray(beyond @ self.weights)


@lru_cache(maxsize=64)
def _from_lattice(figures: bytes, entries: int, alpha: float, df: float) -> LargestPair:
    """The distribution of a covariance given by its bytes: levels within levels ask it again."""
    cov = np.frombuffer(figures).reshape(entries, entries)
    t = float(studentised_range_quantile(alpha, entries, df)) / np.sqrt(2.0)
    seen = _Seen.of(cov, _sphere(entries, 1))
    multiples, left = seen.fitted(t, df)
    wanted = int(np.ceil((float(left.std()) / _WANTED) ** 2 / POINTS))
    more = range(2, min(wanted, _most_lattices(entries)) + 1)
    if more:
        seen = seen.joined([_Seen.of(cov, _sphere(entries, lattice)) for lattice in more])
        multiples, _ = seen.fitted(t, df)
    return seen.summed_up(multiples)


@dataclass(frozen=True, slots=True, eq=False)
class _Sphere:
    """Directions as centred values of the entries ``places`` (k, n), in single precision.

    ``top`` and ``bottom`` are the entries with the largest and the smallest value, ``even`` is M(u)
    where all errors are equal.
    """

    places: np.ndarray[tuple[int, int], np.dtype[np.float32]]
    top: Codes
    bottom: Codes
    highest: Floats
    lowest: Floats
    even: Floats


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """What a covariance makes of directions: M(u) ``actual`` and ``even``, and the ``surplus``."""

    entries: int
    actual: Floats
    even: Floats
    surplus: Floats

    @classmethod
    def of(cls, cov: Floats, sphere: _Sphere) -> _Seen:
        root, se = _even_root(cov), _errors(cov)
        values = root.astype(np.float32) @ sphere.places
        return cls(len(cov), _largest(values, se), sphere.even, _surplus(values, root, se, sphere))

    def joined(self, more: Sequence[_Seen]) -> _Seen:
        return _Seen(
            self.entries,
            np.concatenate([self.actual, *(each.actual for each in more)]),
            np.concatenate([self.even, *(each.even for each in more)]),
            np.concatenate([self.surplus, *(each.surplus for each in more)]),
        )

    def summed_up(self, multiples: Floats) -> LargestPair:
        """The distribution, with these multiples of the control variates."""
        grid, at, share = self._grid()
        first, second = multiples.tolist()
        actual = _binned(self.actual, grid)
        even = _binned(self.even, grid)
        sloped = _binned(self.even, grid, self.surplus) @ share @ slopes_at_nodes(at)
        weights = (actual - first * even) @ share - second * sloped
        return LargestPair(self.entries, at, weights, first)

    def _grid(self) -> tuple[Floats, Floats, Floats]:
        low = float(min(self.actual.min(), self.even.min()))
        high = float(max(self.actual.max(), self.even.max()))
        grid = np.linspace(low, high, _CELLS + 1)
        at = chebyshev(low, high, _NODES)
        return grid, at, cardinal(at, grid)

    def fitted(self, t: float, df: float) -> tuple[Floats, Floats]:
        """The two control variates' multiples (2,) by least squares, and what they leave (n,)."""
        grid, at, share = self._grid()
        tails = _beyond(t, at, self.entries, df)
        tail, steep = share @ tails, share @ (slopes_at_nodes(at) @ tails)
        even = _cells(self.even, grid)[0]  # a cell is near enough to fit by
        controls = np.stack([tail[even], steep[even] * self.surplus])
        controls -= controls.mean(axis=1, keepdims=True)
        target = tail[_cells(self.actual, grid)[0]]
        target -= target.mean()
        multiples = np.linalg.lstsq(controls @ controls.T, controls @ target, rcond=1e-12)[0]
        return np.asarray(multiples), np.asarray(target - multiples @ controls)


def _most_lattices(entries: int) -> int:
    return min(_MOST_LATTICES, 2 * _MOST_PAIRS // (entries * (entries - 1)))


@lru_cache(maxsize=32)
def _sphere(entries: int, lattice: int) -> _Sphere:
    """The directions of one lattice, made when it is first wanted: most trials want only one."""
    points = shifted_points(entries - 1, lattice)
    # Rows of an orthonormal basis of the differences: each entry against those before it.
    basis = (
        np.tri(entries - 1, entries)
        - np.eye(entries - 1, entries, 1) * np.arange(1, entries)[:, None]
    )
    basis /= np.linalg.norm(basis, axis=1, keepdims=True)
    places = basis.T @ (points / np.linalg.norm(points, axis=0))
    top, bottom = places.argmax(axis=0), places.argmin(axis=0)
    every = np.arange(places.shape[1])
    highest, lowest = places[top, every], places[bottom, every]
    return _Sphere(
        places.astype(np.float32),
        top,
        bottom,
        highest,
        lowest,
        (highest - lowest) / np.sqrt(2.0),
    )


def _in_order(cov: Floats) -> Floats:
    """The covariance about the average, in one unit, entries ordered by their own figures.

    The order of the entries and the unit of the measure then move nothing.
    """
    k = len(cov)
    centre = np.eye(k) - 1.0 / k
    about = centre @ cov @ centre
    about = about / np.diag(about).mean()
    figures = [np.round(f, 9) for f in ((about**3).sum(axis=0), np.diag(about))]
    order = np.lexsort(figures)
    return np.asarray(np.round(about[np.ix_(order, order)], 9) + 0.0)


def _even_root(cov: Floats) -> Floats:
    """The symmetric root of the covariance about the average: the root nearest to even."""
    values, vectors = np.linalg.eigh(cov)
    return np.asarray((vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T)


def _errors(cov: Floats) -> Floats:
    """Standard errors of all differences (k, k), 1 on the diagonal."""
    variance = np.diag(cov)
    spread = np.maximum(variance[:, None] + variance - 2.0 * cov, 0.0)
    return np.asarray(np.sqrt(spread) + np.eye(len(cov)))


def _largest(values: np.ndarray[tuple[int, int], np.dtype[np.float32]], se: Floats) -> Floats:
    shrink = (1.0 / se).astype(np.float32)
    largest = np.zeros(values.shape[1], dtype=np.float32)
    together = max(_TOGETHER, 16 * _TOGETHER // len(values))
    for start in range(0, values.shape[1], together):
        some, found = values[:, start : start + together], largest[start : start + together]
        for i in range(len(values) - 1):
            gap = some[i + 1 :] - some[i]
            np.abs(gap, out=gap)
            gap *= shrink[i, i + 1 :, None]
            np.maximum(found, gap.max(axis=0), out=found)
    return largest.astype(np.float64)


def _surplus(
    values: np.ndarray[tuple[int, int], np.dtype[np.float32]],
    root: Floats,
    se: Floats,
    sphere: _Sphere,
) -> Floats:
    """The difference of the entries that would lead, less its average over orders of the entries.

    With given ordered values every pair of entries is equally likely to be at the two ends. The
    values between weigh as much for the one as for the other and drop out, so that the average is
    linear in the highest and the lowest.
    """
    top, bottom = sphere.top, sphere.bottom
    every = np.arange(len(top))
    led = (values[top, every].astype(float) - values[bottom, every]) / se[top, bottom]
    off = ~np.eye(len(root), dtype=bool)
    own = np.diag(root)
    up = float(((own[:, None] - root) / se)[off].mean())
    down = float(((root - own) / se)[off].mean())
    return np.asarray(led - up * sphere.highest - down * sphere.lowest)


def _binned(values: Floats, grid: Floats, mass: Floats | None = None) -> Floats:
    """The mean mass at each point of an even grid, each value shared by its two neighbours."""
    cell, part = _cells(values, grid)
    mass = np.ones(len(values)) if mass is None else mass
    left = np.bincount(cell, (1.0 - part) * mass, len(grid))
    return np.asarray((left + np.bincount(cell + 1, part * mass, len(grid))) / len(values))


def _cells(values: Floats, grid: Floats) -> tuple[Codes, Floats]:
    """The cell of an even grid that holds each value, and how far into it the value is."""
    place = (values - grid[0]) / (grid[1] - grid[0])
    cell = np.minimum(place.astype(np.intp), len(grid) - 2)
    return cell, np.asarray(place - cell)


def _beyond(t: Floats | float, largest: Floats, entries: int, df: Floats | float) -> Floats:
    """P(r / s > t / M), r on entries - 1 and s on df."""
    ratio = (t / largest) ** 2 / (entries - 1)
    return np.asarray(fdtrc(entries - 1, np.minimum(df, 1e7), ratio))
