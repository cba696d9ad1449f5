"""The residual likelihood of variance ratios, and the search for its summit.

A variance ratio is a random grouping's variance over the plots'. The plots' own variance is at its
best for given ratios throughout (profiled out). All works on stacks too: arrays with further axes
in front (``...``), one trial for each place in them.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from trials.errors import NotConverged
from trials.stats.design.design_matrix import Design, indicators
from trials.stats.design.linear_model import Grouping
from trials.stats.design.table import Floats

_FIRST_TRIES = (0.03, 0.3, 3.0, 30.0)  # ratios from which the search may set out
_MOST_STEPS = 200
_GAIN_LEFT = 1e-14  # log likelihood still to be won; the last step squares the error that is left
_ROUNDING = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Reduced:
    """What the likelihood needs once the fixed part is swept out, q units in m groupings.

    With M the projector off the fixed part and Z the units' columns, Z'MZ = root'root. No matrix
    of plots by plots is formed.
    """

    root: Floats  # (..., k, q)
    between: Floats  # (..., k) y in the same coordinates
    left_square: Floats  # (...,) sum of squares of y with the units swept out as well
    free: int  # n - r
    member: Floats  # (m, q) 1 where a unit is of a grouping

    @property
    def rank(self) -> int:
        return int(self.root.shape[-2])

    def stacked(self, places: NDArray[np.intp] | None = None) -> Reduced:
        """Some of a stack; without ``places`` the one there is, as a stack of one."""
        at = None if places is None else places
        return Reduced(
            self.root[at], self.between[at], self.left_square[at], self.free, self.member
        )


@dataclass(frozen=True, slots=True, eq=False)
class Units(Reduced):
    """The same of one trial, with what leads back to its plots."""

    columns: Floats  # (n, q) Z
    shadow: Floats  # (r, q) Z in the coordinates of the fixed part
    gram: Floats  # (q, q) Z'MZ
    basis: Floats  # (n, k) orthonormal, MZ = basis root
    left_over: Floats  # (n,) y with the units swept out as well

    @classmethod
    def of(cls, random: tuple[Grouping, ...], swept: Design, y: Floats) -> Units:
        columns = np.hstack([indicators(grouping) for grouping in random])
        shadow = swept.space.T @ columns
        gram = columns.T @ columns - shadow.T @ shadow
        size, axes = np.linalg.eigh(gram)
        kept = size > 1e-9 * max(float(size[-1]), 1.0)
        size, axes = size[kept], axes[:, kept]
        basis = (columns @ axes - swept.space @ (shadow @ axes)) / np.sqrt(size)
        off = y - swept.space @ (swept.space.T @ y)
        totals = axes.T @ (columns.T @ off)
        explained = axes @ (totals / size)
        left_over = off - (columns @ explained - swept.space @ (shadow @ explained))
        return cls(
            root=np.sqrt(size)[:, None] * axes.T,
            between=totals / np.sqrt(size),
            left_square=np.asarray(left_over @ left_over),
            free=y.size - swept.rank,
            member=np.repeat(np.eye(len(random)), [g.count for g in random], axis=1),
            columns=columns,
            shadow=shadow,
            gram=gram,
            basis=basis,
            left_over=left_over,
        )


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """The likelihood at given variance ratios, the residual variance at its best for them."""

    square: Floats  # (...,) y'Py times the residual variance
    pull: Floats  # (..., q) Z'Py, scaled alike
    projector: Floats  # (..., q, q) Z'PZ, scaled alike
    solved: Floats  # (..., k, q)
    inverse: Floats  # (..., k, k)
    log_likelihood: Floats  # (...,)


def _log_likelihood(units: Reduced, ratios: Floats) -> Floats:
    covariance = _covariance(units, ratios)
    part = np.linalg.solve(covariance, units.between[..., None])[..., 0]
    return _likelihood(units, covariance, units.left_square + np.sum(units.between * part, axis=-1))


def _covariance(units: Reduced, ratios: Floats) -> Floats:
    scaled = units.root * (ratios @ units.member)[..., None, :]
    return np.asarray(np.eye(units.rank) + scaled @ units.root.swapaxes(-1, -2))


def _likelihood(units: Reduced, covariance: Floats, square: Floats) -> Floats:
    diagonals = np.linalg.cholesky(covariance).diagonal(axis1=-2, axis2=-1)
    return np.asarray(-0.5 * units.free * np.log(square) - np.sum(np.log(diagonals), axis=-1))


def state_at(units: Reduced, ratios: Floats) -> State:
    """Everything about ``ratios`` (..., m) that slopes, errors and predictions are made of."""
    covariance = _covariance(units, ratios)
    inverse = np.asarray(np.linalg.inv(covariance), dtype=np.float64)
    solved = inverse @ units.root
    pull = (units.between[..., None, :] @ solved)[..., 0, :]
    within = (units.between[..., None, :] @ inverse)[..., 0, :]
    square = np.asarray(units.left_square + np.sum(units.between * within, axis=-1))
    return State(
        square=square,
        pull=pull,
        projector=units.root.swapaxes(-1, -2) @ solved,
        solved=solved,
        inverse=inverse,
        log_likelihood=_likelihood(units, covariance, square),
    )


def _slopes(units: Reduced, state: State) -> tuple[Floats, Floats, Floats]:
    """Gradient, observed and expected information of the ratios, residual variance profiled out."""
    n, member = units.free, units.member
    square = state.pull**2 @ member.T / state.square[..., None]
    trace = state.projector.diagonal(axis1=-2, axis2=-1) @ member.T
    double = member @ state.projector**2 @ member.T
    curve = state.pull[..., :, None] * state.projector * state.pull[..., None, :]
    curve = member @ curve @ member.T / state.square[..., None, None]
    gradient = -0.5 * (trace - n * square)
    observed = n * curve - 0.5 * double - 0.5 * n * _outer(square)
    expected = 0.5 * (double - _outer(trace) / n)
    return gradient, observed, expected


def _outer(rows: Floats) -> Floats:
    return np.asarray(rows[..., :, None] * rows[..., None, :])


def inverse_information(units: Reduced, state: State) -> Floats:
    """Inverse expected information (..., m + 1, m + 1) on the variances, the plots' first, as 1."""
    m = units.member.shape[0] + 1
    information = np.empty((*state.square.shape, m, m))
    information[..., 0, 0] = units.free - units.rank + np.sum(state.inverse**2, axis=(-1, -2))
    information[..., 0, 1:] = np.sum(state.solved**2, axis=-2) @ units.member.T
    information[..., 1:, 0] = information[..., 0, 1:]
    information[..., 1:, 1:] = units.member @ state.projector**2 @ units.member.T
    return np.asarray(2.0 * np.linalg.inv(information), dtype=np.float64)


def summit(units: Reduced) -> Floats:
    """The variance ratios (m,) of the greatest residual likelihood, each at least 0."""
    return np.asarray(summits(units.stacked())[0])


def summits(units: Reduced, near: Floats | None = None) -> Floats:
    """The same for each trial of a stack (N, m), with one more first try ``near`` (m,).

    Safeguarded Newton steps from the best of a few first tries. A step that would leave the
    allowed region stops at its edge; a ratio stays at 0 while the likelihood falls away from it.
    """
    ratios = _best_start(units, near)
    rising = np.arange(len(ratios))
    for _ in range(_MOST_STEPS):
        some = units.stacked(rising)
        state = state_at(some, ratios[rising])
        gradient, observed, expected = _slopes(some, state)
        step = _step(ratios[rising], gradient, observed, expected)
        there = 0.5 * np.sum(gradient * step, axis=-1) <= _GAIN_LEFT * units.free
        last = ratios[rising[there]]
        last = np.where(last > 0.0, last + step[there], 0.0)
        ratios[rising[there]] = np.maximum(last, 0.0)
        rising, on = rising[~there], ~there
        if not rising.size:
            return ratios
        ratios[rising] = _advance(
            some.stacked(np.flatnonzero(on)), ratios[rising], step[on], state.log_likelihood[on]
        )
    raise NotConverged(
        "The variances of the larger units could not be estimated: each step of the search changed "
        "them again. Leave out the classification that was recorded for the fewest plots, or look "
        "for a plot with a mistaken value."
    )


def _best_start(units: Reduced, near: Floats | None) -> Floats:
    m = units.member.shape[0]
    tries = list(product(_FIRST_TRIES, repeat=m)) if m <= 3 else [(t,) * m for t in _FIRST_TRIES]
    starts = np.array(tries if near is None else [*tries, near])
    heights = np.array([_log_likelihood(units, start) for start in starts])  # (starts, N)
    return np.array(starts[heights.argmax(axis=0)])


def _step(ratios: Floats, gradient: Floats, observed: Floats, expected: Floats) -> Floats:
    """An ascent step (N, m) among the ratios that are free to move."""
    free = (ratios > 0.0) | (gradient > 0.0)
    while True:
        lean = _lowest(observed, free) <= 1e-3 * _lowest(expected, free)
        information = np.where(lean[:, None, None], expected, observed)
        # Those that are not free have an equation of their own, whose answer is 0.
        alone = np.where(_outer(free.astype(float)) > 0.0, information, np.eye(free.shape[1]))
        step = np.linalg.solve(alone, np.where(free, gradient, 0.0)[..., None])[..., 0]
        stuck = free & (ratios == 0.0) & (step < 0.0)
        if not stuck.any():
            return np.asarray(np.where(free, step, 0.0))
        free &= ~stuck


def _lowest(information: Floats, free: NDArray[np.bool_]) -> Floats:
    """The smallest eigenvalue (N,) of each matrix (N, m, m), only ``free`` (N, m) rows counting."""
    both = free[..., :, None] & free[..., None, :]
    high = np.abs(information).max(axis=(-1, -2), initial=1.0)[:, None, None]
    return np.asarray(
        np.linalg.eigvalsh(np.where(both, information, high * np.eye(free.shape[1])))[:, 0]
    )


def _advance(units: Reduced, ratios: Floats, step: Floats, before: Floats) -> Floats:
    """The furthest point along each step (up to the edge) that does not lower the likelihood."""
    reach = np.full(ratios.shape, np.inf)
    falling, rising = step < 0.0, step > 0.0
    reach[falling] = ratios[falling] / -step[falling]
    reach[rising] = 10.0 * (ratios[rising] + 0.1) / step[rising]
    length = np.minimum(1.0, reach.min(axis=1))
    edge = falling & (reach <= length[:, None])
    least = before - _ROUNDING * np.maximum(np.abs(before), units.free)
    found = ratios.copy()
    left = np.arange(len(ratios))
    for _ in range(60):
        there = np.maximum(ratios[left] + length[left, None] * step[left], 0.0)
        there[edge[left]] = 0.0
        high = _log_likelihood(units.stacked(left), there) >= least[left]
        found[left[high]] = there[high]
        left = left[~high]
        if not left.size:
            return found
        length[left] /= 2.0
        edge[left] = False
    raise NotConverged(
        "The variances of the larger units could not be estimated: the search found no way up. "
        "Look for a plot with a mistaken value."
    )
