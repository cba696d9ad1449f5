"""Reproducible draws of what next season may bring: the same seed gives the same draws anywhere.

Only the generator's raw integers are used (their stream is fixed for good), turned into normal
deviates by the inverse distribution function.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaincinv, ndtri

Floats = NDArray[np.float64]


class Deviates:
    """A stream of random deviates from a stored seed."""

    def __init__(self, seed: int) -> None:
        self._bits = np.random.PCG64(seed)

    def uniform(self, *shape: int) -> Floats:
        """Uniform deviates strictly between 0 and 1, on 53 bits."""
        raw = self._bits.random_raw(int(np.prod(shape))).reshape(shape)
        return np.asarray(((raw >> np.uint64(11)).astype(np.float64) + 0.5) * 2.0**-53)

    def normal(self, *shape: int) -> Floats:
        """Standard normal deviates."""
        return np.asarray(ndtri(self.uniform(*shape)))

    def student(self, df: float, *shape: int) -> Floats:
        """Student deviates on ``df`` degrees of freedom."""
        half = df / 2
        stretch = np.sqrt(half / gammaincinv(half, self.uniform(*shape)))
        return np.asarray(self.normal(*shape) * stretch)
