"""The restricted likelihood of how much entries swing from season to season."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LIKELIHOOD_DROP = 1.920729  # half the 95 % point of chi-square on 1 df
GRID_POINTS = 4001
GOLDEN = (5**0.5 - 1) / 2


@dataclass(frozen=True, slots=True, eq=False)
class SwingLikelihood:
    """The restricted likelihood of the swing's standard deviation.

    ``estimate`` maximises it; ``low`` and ``high`` bound the 95 % likelihood interval; ``grid``
    and ``weights`` (summing to 1) spread the likelihood over that interval. ``contrasts`` is how
    many independent contrasts the seasons offer.
    """

    estimate: float
    low: float
    high: float
    grid: Floats
    weights: Floats
    contrasts: int

    def spread(self, parts: int) -> Floats:
        """The mid-quantiles of ``parts`` equally likely slices of the interval."""
        reached = np.cumsum(self.weights)
        return np.asarray(np.interp((np.arange(parts) + 0.5) / parts, reached, self.grid))


def swing_likelihood(roots: Floats, squares: Floats) -> SwingLikelihood:
    """The likelihood from independent error contrasts with squares ``squares`` (q,).

    Each has variance ``roots`` (q,) (known error) plus the square of the swing's deviation.
    """

    def log_likelihood(swing: Floats) -> Floats:
        variances = roots + np.atleast_1d(swing)[:, None] ** 2
        return np.asarray(-0.5 * (np.log(variances) + squares / variances).sum(axis=1))

    # Every term falls once swing² exceeds its square, so the top lies below the largest of them.
    ceiling = float(np.sqrt(squares.max()))
    estimate = _top(log_likelihood, ceiling)
    floor = float(log_likelihood(np.array([estimate]))[0]) - LIKELIHOOD_DROP
    beyond = max(ceiling, float(np.sqrt(roots.max())))
    while log_likelihood(np.array([beyond]))[0] > floor:
        beyond *= 2
    high = _edge(log_likelihood, floor, inside=estimate, outside=beyond)
    starts_inside = log_likelihood(np.array([0.0]))[0] >= floor
    low = 0.0 if starts_inside else _edge(log_likelihood, floor, inside=estimate, outside=0.0)
    grid = np.linspace(low, high, GRID_POINTS)
    heights = log_likelihood(grid)
    density = np.exp(heights - heights.max())
    return SwingLikelihood(estimate, low, high, grid, density / density.sum(), roots.size)


class _LogLikelihood(Protocol):
    def __call__(self, swing: Floats) -> Floats: ...


def _top(log_likelihood: _LogLikelihood, ceiling: float) -> float:
    """Where the likelihood is highest: the best of a grid, narrowed by golden section."""
    grid = np.linspace(0.0, ceiling, GRID_POINTS)
    best = int(np.argmax(log_likelihood(grid)))
    low, high = grid[max(best - 1, 0)], grid[min(best + 1, GRID_POINTS - 1)]
    for _ in range(60):
        step = GOLDEN * (high - low)
        left, right = log_likelihood(np.array([high - step, low + step]))
        if left >= right:
            high = low + step
        else:
            low = high - step
    middle = float(low + high) / 2
    at_zero, at_middle = log_likelihood(np.array([0.0, middle]))
    return 0.0 if at_zero >= at_middle else middle


def _edge(log_likelihood: _LogLikelihood, floor: float, inside: float, outside: float) -> float:
    """Where the likelihood crosses ``floor``, by halving."""
    for _ in range(80):
        middle = (inside + outside) / 2
        if log_likelihood(np.array([middle]))[0] >= floor:
            inside = middle
        else:
            outside = middle
    return inside
