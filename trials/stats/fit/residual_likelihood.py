"""The residual likelihood of variance ratios, and the search for its summit.

A variance ratio is a random grouping's variance over the plots'. The plots' own variance is at its
best for given ratios throughout (profiled out).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from scipy.linalg import solve_triangular

from trials.errors import NotConverged
from trials.stats.design.design_matrix import Design, indicators
from trials.stats.design.linear_model import Grouping
from trials.stats.design.table import Floats

_FIRST_TRIES = (0.03, 0.3, 3.0, 30.0)  # ratios from which the search may set out
_MOST_STEPS = 200
_GAIN_LEFT = 1e-14  # log likelihood still to be won; the last step squares the error that is left
_ROUNDING = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Units:
    """What REML needs of the plots once the fixed part is swept out, q units in m groupings.

    With M the projector off the fixed part and Z the units' columns, S = Z'MZ = root'root. No
    matrix of plots by plots is formed.
    """

    columns: Floats  # (n, q) Z
    shadow: Floats  # (r, q) Z in the coordinates of the fixed part
    gram: Floats  # (q, q) S
    root: Floats  # (k, q)
    between: Floats  # (k,) y in the same coordinates
    left_over: Floats  # (n,) y with the units swept out as well
    free: int  # n - r
    member: Floats  # (m, q) 1 where a unit is of a grouping

    @property
    def rank(self) -> int:
        return int(self.root.shape[0])

    @classmethod
    def of(cls, random: tuple[Grouping, ...], swept: Design, y: Floats) -> Units:
        columns = np.hstack([indicators(grouping) for grouping in random])
        shadow = swept.space.T @ columns
        gram = columns.T @ columns - shadow.T @ shadow
        size, axes = np.linalg.eigh(gram)
        kept = size > 1e-9 * max(float(size[-1]), 1.0)
        size, axes = size[kept], axes[:, kept]
        off = y - swept.space @ (swept.space.T @ y)
        totals = axes.T @ (columns.T @ off)
        explained = axes @ (totals / size)
        left_over = off - (columns @ explained - swept.space @ (shadow @ explained))
        return cls(
            columns=columns,
            shadow=shadow,
            gram=gram,
            root=np.sqrt(size)[:, None] * axes.T,
            between=totals / np.sqrt(size),
            left_over=left_over,
            free=y.size - swept.rank,
            member=np.repeat(np.eye(len(random)), [g.count for g in random], axis=1),
        )


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """The likelihood at given variance ratios, the residual variance at its best for them."""

    log_likelihood: float
    square: float  # y'Py times the residual variance
    pull: Floats  # (q,) Z'Py, scaled alike
    projector: Floats  # (q, q) Z'PZ, scaled alike
    solved: Floats  # (k, q)
    inverse: Floats  # (k, k)


def _log_likelihood(units: Units, ratios: Floats) -> float:
    lower = _factor(units, ratios)
    part = solve_triangular(lower, units.between, lower=True, check_finite=False)
    square = float(units.left_over @ units.left_over + part @ part)
    return _likelihood(units, lower, square)


def _factor(units: Units, ratios: Floats) -> Floats:
    scaled = units.root * (ratios @ units.member)
    return np.asarray(np.linalg.cholesky(np.eye(units.rank) + scaled @ units.root.T))


def _likelihood(units: Units, lower: Floats, square: float) -> float:
    return -0.5 * units.free * float(np.log(square)) - float(np.sum(np.log(np.diagonal(lower))))


def state_at(units: Units, ratios: Floats) -> State:
    """Everything about ``ratios`` (m,) that slopes, errors and predictions are made of."""
    lower = _factor(units, ratios)
    sides = np.column_stack([units.root, units.between, np.eye(units.rank)])
    half = solve_triangular(lower, sides, lower=True, check_finite=False)
    q = units.root.shape[1]
    root, between, whole = half[:, :q], half[:, q], half[:, q + 1 :]
    square = float(units.left_over @ units.left_over + between @ between)
    return State(
        log_likelihood=_likelihood(units, lower, square),
        square=square,
        pull=root.T @ between,
        projector=root.T @ root,
        solved=whole.T @ root,
        inverse=whole.T @ whole,
    )


def _slopes(units: Units, state: State) -> tuple[Floats, Floats, Floats]:
    """Gradient, observed and expected information of the ratios, residual variance profiled out."""
    n = units.free
    square = units.member @ state.pull**2 / state.square
    trace = units.member @ np.diagonal(state.projector)
    double = units.member @ state.projector**2 @ units.member.T
    curve = state.pull[:, None] * state.projector * state.pull
    curve = units.member @ curve @ units.member.T / state.square
    gradient = -0.5 * (trace - n * square)
    observed = n * curve - 0.5 * double - 0.5 * n * np.outer(square, square)
    expected = 0.5 * (double - np.outer(trace, trace) / n)
    return gradient, observed, expected


def inverse_information(units: Units, state: State) -> Floats:
    """Inverse expected information (m + 1, m + 1) on the variances, residual first and of 1."""
    information = np.empty((units.member.shape[0] + 1,) * 2)
    information[0, 0] = units.free - units.rank + float(np.sum(state.inverse**2))
    information[0, 1:] = units.member @ np.sum(state.solved**2, axis=0)
    information[1:, 0] = information[0, 1:]
    information[1:, 1:] = units.member @ state.projector**2 @ units.member.T
    return np.asarray(2.0 * np.linalg.inv(information), dtype=np.float64)


def summit(units: Units) -> Floats:
    """The variance ratios (m,) of the greatest residual likelihood, each at least 0.

    Safeguarded Newton steps from the best of a few first tries. A step that would leave the
    allowed region stops at its edge; a ratio stays at 0 while the likelihood falls away from it.
    """
    ratios = max(_starts(units.member.shape[0]), key=lambda start: _log_likelihood(units, start))
    for _ in range(_MOST_STEPS):
        state = state_at(units, ratios)
        gradient, observed, expected = _slopes(units, state)
        step = _step(ratios, gradient, observed, expected)
        if 0.5 * float(gradient @ step) <= _GAIN_LEFT * units.free:
            last = np.where(ratios > 0.0, ratios + step, 0.0)
            return np.maximum(last, 0.0)
        ratios = _advance(units, ratios, step, state.log_likelihood)
    raise NotConverged(
        "The variances of the larger units could not be estimated: each step of the search changed "
        "them again. Leave out the classification that was recorded for the fewest plots, or look "
        "for a plot with a mistaken value."
    )


def _starts(m: int) -> list[Floats]:
    if m <= 3:
        return [np.array(start) for start in product(_FIRST_TRIES, repeat=m)]
    return [np.full(m, start) for start in _FIRST_TRIES]


def _step(ratios: Floats, gradient: Floats, observed: Floats, expected: Floats) -> Floats:
    """An ascent step among the ratios that are free to move."""
    free = (ratios > 0.0) | (gradient > 0.0)
    while True:
        step = np.zeros_like(ratios)
        if not free.any():
            return step
        inner = np.ix_(free, free)
        information = observed[inner]
        if np.linalg.eigvalsh(information)[0] <= 1e-3 * np.linalg.eigvalsh(expected[inner])[0]:
            information = expected[inner]
        step[free] = np.linalg.solve(information, gradient[free])
        stuck = free & (ratios == 0.0) & (step < 0.0)
        if not stuck.any():
            return step
        free &= ~stuck


def _advance(units: Units, ratios: Floats, step: Floats, before: float) -> Floats:
    """The furthest point along ``step`` (up to the edge) that does not lower the likelihood."""
    reach = np.full(ratios.size, np.inf)
    falling = step < 0.0
    reach[falling] = ratios[falling] / -step[falling]
    rising = step > 0.0
    reach[rising] = 10.0 * (ratios[rising] + 0.1) / step[rising]
    length = min(1.0, float(reach.min()))
    edge = falling & (reach <= length)
    rounding = _ROUNDING * max(abs(before), units.free)
    for _ in range(60):
        there = np.where(edge, 0.0, np.maximum(ratios + length * step, 0.0))
        if _log_likelihood(units, there) >= before - rounding:
            return there
        length /= 2.0
        edge = np.zeros_like(edge)
    raise NotConverged(
        "The variances of the larger units could not be estimated: the search found no way up. "
        "Look for a plot with a mistaken value."
    )
