"""Linear models written out in numpy: what statsmodels' fits are held against."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from scipy.special import expit, fdtrc, xlogy

from trials.stats.design.table import Floats

_FURTHEST = 27.0  # log odds, or log rate below its offset, beyond which there is none


def dummies(values: Iterable[object]) -> Floats:
    """Indicator columns of a classification, its levels in order."""
    given = list(values)
    levels = sorted(set(given), key=str)
    return np.array([[value == level for level in levels] for value in given], dtype=float)


def sums(values: Iterable[object]) -> Floats:
    """Columns of a classification that sum to nothing over its levels."""
    columns = dummies(values)
    return columns[:, :-1] - columns[:, -1:]


def crossed(one: Floats, other: Floats) -> Floats:
    """The products of each column of one with each of the other."""
    return np.asarray(np.einsum("ni,nj->nij", one, other).reshape(len(one), -1))


def squares_left(y: Floats, *parts: Floats) -> tuple[float, int]:
    """The residual sum of squares of a regression on a constant and ``parts``, and its df."""
    columns = np.hstack([np.ones((len(y), 1)), *parts])
    found, _, rank, _ = np.linalg.lstsq(columns, y, rcond=None)
    return float(np.sum((y - columns @ found) ** 2)), len(y) - int(rank)


def f_between(y: Floats, effect: Floats, *rest: Floats) -> tuple[float, float]:
    """F and p of what ``effect`` explains beside ``rest`` (extra sum of squares)."""
    (all_left, df), (without, df_without) = squares_left(y, effect, *rest), squares_left(y, *rest)
    F = (without - all_left) / (df_without - df) / (all_left / df)
    return F, float(fdtrc(df_without - df, df, F))


def poisson(
    counts: Floats, columns: Floats, exposure: Floats, square: float = 0.0
) -> tuple[float, Floats]:
    """Deviance and means (n,) of counts, by iteratively reweighted least squares.

    The variance is mean + square x mean^2; McCullagh & Nelder 1989, Generalized Linear Models,
    2nd edition, section 2.5.
    """
    offset = np.log(exposure)
    mean = 0.5 * (counts + exposure * counts.sum() / exposure.sum())
    linear = np.log(mean) - offset
    for _ in range(200):
        root = np.sqrt(mean / (1.0 + square * mean))
        target = linear + (counts - mean) / mean
        found = np.linalg.lstsq(columns * root[:, None], target * root, rcond=None)[0]
        linear = np.maximum(columns @ found, -_FURTHEST - offset)
        mean = exposure * np.exp(linear)
    own = xlogy(counts, counts / mean)
    if square == 0.0:
        return 2.0 * float(np.sum(own - (counts - mean))), mean
    joint = np.log1p(square * counts) - np.log1p(square * mean)
    return 2.0 * float(np.sum(own - (counts + 1.0 / square) * joint)), mean


def binomial(counts: Floats, columns: Floats, numbers: Floats) -> tuple[float, Floats]:
    """Deviance and expected counts (n,) of so many of so many, likewise."""
    share = (counts + 0.5) / (numbers + 1.0)
    linear = np.log(share / (1.0 - share))
    for _ in range(200):
        share = expit(linear)
        root = np.sqrt(numbers * share * (1.0 - share))
        target = linear + (counts - numbers * share) / root**2
        found = np.linalg.lstsq(columns * root[:, None], target * root, rcond=None)[0]
        linear = np.clip(columns @ found, -_FURTHEST, _FURTHEST)
    mean, left = numbers * expit(linear), numbers * expit(-linear)
    parts = xlogy(counts, counts / mean) + xlogy(numbers - counts, (numbers - counts) / left)
    return 2.0 * float(np.sum(parts)), mean


def f_of_drop(
    counts: Floats, of: Floats, effect: Floats, rest: Floats, *, shares: bool = False
) -> tuple[float, float, float]:
    """F of the drop in deviance over Pearson's dispersion, its p-value, and the dispersion.

    ``of`` is the exposure of counts, or the numbers that shares are of.
    """
    fit = binomial if shares else poisson
    columns = np.hstack([rest, effect])
    columns = columns[:, np.any(columns != 0, axis=0)]
    rest = rest[:, np.any(rest != 0, axis=0)]
    without, _ = fit(counts, rest, of)
    deviance, mean = fit(counts, columns, of)
    rank = np.linalg.matrix_rank(columns)
    q, df = rank - np.linalg.matrix_rank(rest), len(counts) - rank
    spread = mean * (1.0 - mean / of) if shares else mean
    dispersion = float(np.sum((counts - mean) ** 2 / spread)) / df
    F = (without - deviance) / q / dispersion
    return F, float(fdtrc(q, df, F)), dispersion
