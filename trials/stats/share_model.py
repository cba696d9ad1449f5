"""The share model beside the main analysis: so many of so many, varying more than by chance.

The log odds of a share are treatment + blocks. Its variance is a multiple of the binomial one that
the plots tell (quasi-binomial: McCullagh & Nelder 1989, Generalized Linear Models, 2nd edition,
sections 4.5 and 9.2), so that the stems of a plot never count as replicates.
"""

from __future__ import annotations

import numpy as np
from scipy.special import expit, fdtrc, xlogy

from trials.stats.counts import CountTest
from trials.stats.lottery import orthonormal
from trials.stats.table import Floats

_FURTHEST = 27.0  # log odds beyond which a share is as good as none or all


def share_test(counts: Floats, numbers: Floats, effect: Floats, rest: Floats) -> CountTest | None:
    """Test the columns ``effect`` (u, q) beside ``rest`` (u, r), which holds the constant.

    ``counts`` (u,) of ``numbers`` (u,), the latter positive. The drop in deviance per degree of
    freedom is held against Pearson's estimate of the dispersion. A level with none or all is no
    obstacle: its deviance has a limit. None where none or all were counted throughout, or nothing
    is left to estimate the dispersion from.

    Checked against ``statsmodels`` (GLM, Binomial, shares with the numbers as variance weights).
    """
    if (counts < 0).any() or (counts > numbers).any() or not (numbers > 0).all():
        raise ValueError("a share is of a positive number, and at most all of it")
    known = orthonormal(rest)
    own = orthonormal(effect - known @ (known.T @ effect))
    q, den_df = own.shape[1], len(counts) - known.shape[1] - own.shape[1]
    if q == 0 or den_df < 1 or not counts.any() or (counts == numbers).all():
        return None
    deviance, mean = _fit(counts, numbers, np.hstack([known, own]))
    dispersion = float(np.sum((counts - mean) ** 2 / (mean * (1.0 - mean / numbers)))) / den_df
    if dispersion <= 1e-12:
        return None
    without, _ = _fit(counts, numbers, known)
    F = max(without - deviance, 0.0) / q / dispersion
    return CountTest(F, q, den_df, float(fdtrc(q, den_df, F)), dispersion, 0.0)


def _fit(counts: Floats, numbers: Floats, columns: Floats) -> tuple[float, Floats]:
    """Deviance and fitted means (u,), by iteratively reweighted least squares."""
    share = (counts + 0.5) / (numbers + 1.0)  # none starts at none or all
    linear = np.log(share / (1.0 - share))
    deviance = np.inf
    for _ in range(100):
        share = expit(linear)
        root = np.sqrt(numbers * share * (1.0 - share))
        target = linear + (counts - numbers * share) / root**2
        found = np.linalg.lstsq(columns * root[:, None], target * root, rcond=None)[0]
        linear = np.clip(columns @ found, -_FURTHEST, _FURTHEST)
        mean = numbers * expit(linear)
        left = numbers * expit(-linear)
        before = deviance
        deviance = 2.0 * float(
            np.sum(
                xlogy(counts, counts / mean) + xlogy(numbers - counts, (numbers - counts) / left)
            )
        )
        if abs(before - deviance) <= 1e-12 * (1.0 + abs(deviance)):
            break
    return deviance, mean
