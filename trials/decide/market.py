"""What stems bring on the markets of one week, and what one more of each would bring.

Selling a week's stems is a transportation problem. Its dual corners depend on the prices alone, so
they are listed once; the best sale of any number of stems is then the lowest of a few linear
functions, exact and fast over hundreds of drawn seasons (linear programming duality; the corners of
a transportation problem's dual are forests of ties between supplies and demands: Dantzig 1963,
Linear Programming and Extensions, ch. 14).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
MOST_CORNERS = 20_000


@dataclass(frozen=True, slots=True, eq=False)
class Corners:
    """The dual corners of one table of prices.

    ``stem`` (corners, classes) is what one more stem of a class is worth at a corner, ``place``
    (corners, outlets) what room for one more is worth.
    """

    stem: Floats
    place: Floats

    def worth(self, stems: Floats, room: Floats) -> tuple[Floats, NDArray[np.intp]]:
        """The best sale of ``stems`` (rows, classes) with ``room`` (outlets); its corner by row."""
        values = stems @ self.stem.T + self.place @ room
        best = np.argmin(values, axis=1)
        return values[np.arange(len(values)), best], best


def corners(prices: Floats) -> Corners:
    """The dual corners for ``prices`` (classes, outlets), NaN where an outlet takes none.

    At a corner the worth of an outlet's room is 0, the price of some class, or differs from another
    outlet's by the difference of a class's two prices.
    """
    classes, outlets = prices.shape
    if (1 + classes * outlets) ** outlets > MOST_CORNERS:
        raise ValueError(f"too many markets for the same stems: {outlets} for {classes} classes")
    found: set[tuple[float, ...]] = set()
    choices = [None, *((k, n) for k in range(classes) for n in range(outlets))]
    for ties in product(choices, repeat=outlets):
        place = _follow(prices, ties)
        if place is not None:
            found.add(place)
    rooms = np.array(sorted(found))
    gains = np.where(np.isnan(prices), -np.inf, prices)[None, :, :] - rooms[:, None, :]
    return _lowest(np.maximum(gains.max(axis=2), 0.0), rooms)


def _follow(prices: Floats, ties: tuple[tuple[int, int] | None, ...]) -> tuple[float, ...] | None:
    """The worth of each outlet's room when outlet m is tied to outlet n by class k.

    Tied to itself, the class is worth nothing there. None where ties go round in a circle or a
    price is missing.
    """
    place: list[float] = []
    for start in range(len(ties)):
        worth, at, seen = 0.0, start, {start}
        while (tie := ties[at]) is not None:
            by, other = tie
            if np.isnan(prices[by, at]) or np.isnan(prices[by, other]):
                return None
            if other == at:
                worth += float(prices[by, at])
                break
            if other in seen:
                return None
            worth += float(prices[by, at] - prices[by, other])
            seen.add(other)
            at = other
        if worth < -1e-12:
            return None
        place.append(round(max(worth, 0.0), 12))
    return tuple(place)


def _lowest(stem: Floats, place: Floats) -> Corners:
    """Only the corners that no other undercuts everywhere."""
    both = np.hstack([stem, place])
    both = both[np.lexsort(both.T[::-1])]
    keep = [
        i
        for i, row in enumerate(both)
        if not np.any(np.all(both <= row + 1e-12, axis=1) & np.any(both < row - 1e-12, axis=1))
    ]
    return Corners(both[keep, : stem.shape[1]], both[keep, stem.shape[1] :])
