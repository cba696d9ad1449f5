"""A smooth function at many points, from its values at a few well-chosen ones."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from trials.stats.design.table import Floats


def through_nodes(function: Callable[[Floats], Floats], points: Floats, nodes: int) -> Floats:
    """A smooth ``function`` at many points, from its values at Chebyshev nodes.

    ``function`` maps (n,) to (parts, n); it is asked directly where the points are few.
    """
    low, high = float(points.min()), float(points.max())
    if len(points) <= 1.2 * nodes or high - low <= 1e-9 * max(abs(low), abs(high)):
        return function(points)
    at = chebyshev(low, high, nodes)
    return np.asarray(function(at) @ cardinal(at, points).T)


def chebyshev(low: float, high: float, nodes: int) -> Floats:
    """Chebyshev points of the second kind from ``low`` to ``high`` (nodes,)."""
    angle = np.pi * np.arange(nodes) / (nodes - 1)
    return np.asarray(0.5 * (low + high) - 0.5 * (high - low) * np.cos(angle))


def cardinal(at: Floats, points: Floats) -> Floats:
    """What each node contributes to the interpolant at each point (points, nodes).

    Barycentric formula of the second kind (Berrut & Trefethen 2004, SIAM Review 46:501,
    equations 4.2 and 5.4).
    """
    sign = np.where(np.arange(len(at)) % 2, -1.0, 1.0)
    sign[[0, -1]] *= 0.5
    gap = points[:, None] - at
    tiny = 1e-13 * (at[-1] - at[0])
    kernel = sign / np.where(np.abs(gap) < tiny, tiny, gap)
    return np.asarray(kernel / kernel.sum(axis=1, keepdims=True))


def crossing(at: Floats, height: Floats) -> Floats:
    """Where ``height`` (d, n), falling along ``at`` (d, n), is 0: Neville's inverse scheme."""
    table = at.copy()
    for order in range(1, at.shape[1]):
        low, high = height[:, :-order], height[:, order:]
        table = (low * table[:, 1:] - high * table[:, :-1]) / (low - high)
    return table[:, 0]


def slopes_at_nodes(at: Floats) -> Floats:
    """The matrix that turns values at the nodes into the interpolant's slopes there (n, n).

    Berrut & Trefethen 2004, equations 9.4 and 9.5.
    """
    sign = np.where(np.arange(len(at)) % 2, -1.0, 1.0)
    sign[[0, -1]] *= 0.5
    gap = at[:, None] - at + np.eye(len(at))
    slopes = sign / sign[:, None] / gap
    np.fill_diagonal(slopes, 0.0)
    np.fill_diagonal(slopes, -slopes.sum(axis=1))
    return np.asarray(slopes)
