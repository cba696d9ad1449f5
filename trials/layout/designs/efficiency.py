"""The average efficiency factor of incomplete blocks, and what no design of that size exceeds."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Whole = NDArray[np.intp]

# Canonical efficiency factors below this are those of contrasts that the blocks do not connect.
DISCONNECTED = 1e-9


def incidence(blocks: Sequence[Sequence[int]], entries: int) -> Whole:
    """How often each entry stands in each block, (entries, blocks)."""
    counts = np.zeros((entries, len(blocks)), dtype=np.intp)
    for block, inside in enumerate(blocks):
        for entry in inside:
            counts[entry, block] += 1
    return counts


def average_efficiency(blocks: Sequence[Sequence[int]], entries: int) -> float:
    """The harmonic mean of the canonical efficiency factors, for equally replicated entries.

    The mean variance of a difference in complete blocks of the same plots over that within these
    blocks: v - 1 over the sum of the reciprocal eigenvalues of I - N K^-1 N' / r (James & Wilkinson
    1971, Biometrika 58:279; John & Williams 1995, Cyclic and Computer Generated Designs, chapter
    2). 0 where the blocks leave some entries unconnected.
    """
    counts = incidence(blocks, entries)
    replication = counts[0].sum()
    information = np.eye(entries) - (counts / counts.sum(axis=0)) @ counts.T / replication
    factors = np.linalg.eigvalsh(information)[1:]
    if factors.size == 0 or factors[0] < DISCONNECTED:
        return 0.0
    return float(factors.size / np.sum(1 / factors))


def efficiency_bound(entries: int, replicates: int, sizes: Sequence[int]) -> float:
    """An upper bound of the efficiency factor of resolvable blocks of ``sizes`` a replicate.

    The v - 1 canonical factors sum to v - s. Blocks within replicates span r (s - 1) contrasts, so
    at least v - 1 - r (s - 1) factors are 1; that the others are equal gives the bound of Patterson
    & Williams 1976, Biometrika 63:83, (v - 1)(r - 1) / ((v - 1)(r - 1) + r (s - 1)), and without
    unit factors v (k - 1) / (k (v - 1)), which balanced blocks reach. Where block sizes are equal
    the factors cannot be equal unless the concurrences can: with the smallest sum of squares that
    whole concurrences allow (of entries, or of blocks of different replicates) the harmonic mean
    is bounded as in Jarrett 1977, Biometrika 64:67.
    """
    blocks = len(sizes)
    lost = blocks - 1  # the sum of 1 - e over all factors
    unlike = min(entries - 1, replicates * lost)
    if unlike == 0:
        return 1.0
    mean = 1 - lost / unlike
    spread = _least_spread(entries, replicates, sizes, unlike)
    below = _harmonic_bound(mean, spread, unlike)
    return (entries - 1) / (entries - 1 - unlike + unlike / below) if below > 0 else 0.0


def _harmonic_bound(mean: float, spread: float, count: int) -> float:
    """The largest harmonic mean of ``count`` numbers with that mean and sum of squares about it.

    It is reached with one number above and the others alike below the mean.
    """
    if count < 2 or spread <= 0:
        return mean
    step = sqrt(spread / (count * (count - 1)))
    return mean - (count - 1) * step * step / (mean + (count - 2) * step)


def _least_spread(entries: int, replicates: int, sizes: Sequence[int], unlike: int) -> float:
    """The least sum of squares about their mean of the factors that need not be 1."""
    if len(set(sizes)) > 1:
        return 0.0
    size, blocks = sizes[0], len(sizes)
    by_entries = entries * (
        replicates**2 + _least_squares(replicates * (size - 1), entries - 1)
    )  # tr (NN')^2
    by_blocks = (
        replicates * blocks * (size**2 + (replicates - 1) * _least_squares(size, blocks))
    )  # tr (N'N)^2, the same number
    total = max(by_entries, by_blocks) / (replicates * size) ** 2 - 1
    return max(total - (blocks - 1) ** 2 / unlike, 0.0)


def _least_squares(total: int, parts: int) -> int:
    """The least sum of squares of ``parts`` whole numbers that sum to ``total``."""
    low, over = divmod(total, parts)
    return over * (low + 1) ** 2 + (parts - over) * low**2
