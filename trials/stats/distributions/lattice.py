"""Points spread evenly over many dimensions, the same on every machine.

A rank-1 lattice whose generating vector was chosen component by component for the Korobov space
of smoothness 1 with weights 1 / j (Nuyens & Cools 2006, Mathematics of Computation 75:903), folded
by the baker's transformation (Hickernell 2002, Monte Carlo and Quasi-Monte Carlo Methods,
page 274). Nothing is drawn at random.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy.special import ndtri

from trials.stats.design.table import Floats

POINTS = 8191  # a prime
_GENERATOR = (
    *(1, 2431, 3799, 1141, 520, 5326, 7116, 2098, 3405, 2643, 7333, 4117, 6205, 2529, 1449, 4069),
    *(5581, 5990, 1555, 6159, 4488, 3655, 8133, 4425, 3390, 6573, 4271, 3029, 3019, 949, 6669),
    *(1151, 313, 5745, 4753, 3082, 3188, 5576, 4493, 1401, 4324, 1300, 7888, 2605, 6005, 1926),
    *(7517, 727, 5379, 366, 2403, 3915, 3809, 6366, 7252, 8143, 6419, 5740, 3910, 1146, 7199),
    *(3448, 2822, 6414),
)
MOST_DIMENSIONS = len(_GENERATOR)


@lru_cache(maxsize=8)
def normal_points(dimensions: int, shifts: int = 1) -> Floats:
    """Standard normal variates (dimensions, shifts x POINTS), of equal weight."""
    points = np.hstack([shifted_points(dimensions, shift) for shift in range(1, shifts + 1)])
    points.flags.writeable = False
    return points


def shifted_points(dimensions: int, shift: int) -> Floats:
    """One lattice of standard normal variates (dimensions, POINTS).

    Each ``shift`` moves the whole lattice on by the roots of the primes, one for each dimension.
    """
    if not 1 <= dimensions <= MOST_DIMENSIONS:
        raise ValueError(f"the lattice has 1 to {MOST_DIMENSIONS} dimensions, not {dimensions}")
    steps = np.outer(_GENERATOR[:dimensions], np.arange(POINTS)) % POINTS / POINTS
    places = (steps + (shift * np.sqrt(_primes(dimensions)))[:, None]) % 1.0
    folded = 1.0 - np.abs(2.0 * places - 1.0)
    return np.asarray(ndtri(np.clip(folded, 1e-12, 1.0 - 1e-12)))


def _primes(count: int) -> Floats:
    found: list[int] = []
    candidate = 2
    while len(found) < count:
        if all(candidate % prime for prime in found):
            found.append(candidate)
        candidate += 1
    return np.array(found, dtype=float)
