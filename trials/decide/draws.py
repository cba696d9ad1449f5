"""Reproducible draws of what next season may bring: the same seed gives the same draws anywhere.

Only the generator's raw integers are used (their stream is fixed for good), turned into normal and
chi-square deviates by inverse distribution functions.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaincinv, ndtri

from trials.decide.two_stage import StackedSeasons

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

    def stretch(self, df: Floats, count: int) -> Floats:
        """What turns normal into t deviates: (count, len(df)) of sqrt(df / chi-square on df)."""
        uniform = self.uniform(count, df.size)
        known = np.isinf(df)
        half = np.where(known, 1.0, df) / 2
        return np.where(known, 1.0, np.sqrt(half / gammaincinv(half, uniform)))


def next_season(
    stacked: StackedSeasons,
    swings: Floats,
    season_sd: float,
    draws: int,
    deviates: Deviates,
) -> Floats:
    """Joint draws (at least ``draws``, k) of the entries' true values next season.

    The draws are shared equally among ``swings``, the equally likely values of the swing's
    standard deviation. Given one of them, an entry's value is its combined mean, less the errors
    and past swings that went into it, plus a swing of its own for next season and the season's
    general level. The errors of a trial are a multivariate t on that trial's degrees of freedom;
    everything else is normal. Every draw is paired with its mirror image, so that the draws of
    a part average to the combined means exactly.
    """
    seasons = stacked.seasons
    half = -(-draws // (2 * swings.size))
    df = np.array([season.df for season in seasons], dtype=np.float64)
    level_sd = season_sd * np.sqrt(1 + 1 / len(seasons))
    root = np.linalg.cholesky(stacked.cov)
    parts = []
    for swing in swings:
        combined = stacked.combine(float(swing))
        n, k = stacked.y.size, len(stacked.entries)
        errors = deviates.normal(half, n) @ root.T
        errors *= deviates.stretch(df, half)[:, stacked.season_of]
        errors += swing * deviates.normal(half, n)
        departure = swing * deviates.normal(half, k) - errors @ combined.weights.T
        departure += level_sd * deviates.normal(half, 1)
        parts += [combined.means + departure, combined.means - departure]
    return np.vstack(parts)
