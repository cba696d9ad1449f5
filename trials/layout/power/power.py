"""The chance that a comparison finds what is there, and the difference it finds at a wanted chance.

The noncentral distributions are summed here rather than taken from a library, whose versions
differ in the tails. Two-sided tests count a finding in either direction.

Formula: chance = P(|noncentral t with shift difference / sed| > critical t); jointly P(noncentral F
    > critical F).
Limits: As good as the coefficient of variation that is put in: plots that vary more find less.
Source: Johnson, Kotz & Balakrishnan 1995, Continuous Univariate Distributions, chapters 30 and 31;
    Scheffe 1959, The Analysis of Variance, sections 2.8 and 3.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from enum import StrEnum
from functools import lru_cache

import numpy as np
from scipy.special import betaincc, gammaincc, gammaln, xlogy

from trials.stats.design.table import Floats
from trials.stats.distributions.multivariate_t import (
    FactorCorrelation,
    largest_t_quantile,
)
from trials.stats.distributions.quadrature import studentised_range_quantile, t_quantile


class Family(StrEnum):
    """The comparisons that share one risk of a false alarm."""

    ONE_PAIR = "one pair chosen beforehand"
    ALL_PAIRS = "all pairs"
    WITH_CHECK = "with the check"


# --- noncentral distributions -----------------------------------------------------------------


def noncentral_f_upper(f: float, num_df: float, den_df: float, noncentrality: float) -> float:
    """P(F > f) of the noncentral F, with ``noncentrality`` the sum of squared shifts.

    A Poisson mixture of beta probabilities (Johnson, Kotz & Balakrishnan 1995, chapter 30),
    summed until less than 1e-15 of the Poisson is left. ``den_df`` may be infinite.
    """
    _positive(num_df, "degrees of freedom")
    _positive(den_df, "degrees of freedom")
    if noncentrality < 0:
        raise ValueError(f"a noncentrality is not negative, as {noncentrality!r} is")
    weights, terms = _poisson(noncentrality / 2.0)
    shape = num_df / 2.0 + terms
    if np.isinf(den_df):
        tails = gammaincc(shape, num_df * f / 2.0)
    else:
        tails = betaincc(shape, den_df / 2.0, num_df * f / (num_df * f + den_df))
    return float(np.clip(weights @ tails, 0.0, 1.0))


def _poisson(mean: float) -> tuple[Floats, Floats]:
    """The Poisson's probabilities and counts, wherever they matter."""
    reach = 9.0 * np.sqrt(mean) + 25.0
    terms = np.arange(max(0.0, np.floor(mean - reach)), np.ceil(mean + reach) + 1.0)
    weights = np.exp(xlogy(terms, mean) - mean - gammaln(terms + 1.0))
    return np.asarray(weights / weights.sum()), np.asarray(terms)


# --- critical values --------------------------------------------------------------------------


def critical_t(
    family: Family, alpha: float, entries: int, df: float, check_share: float = 0.5
) -> float:
    """The |t| that a difference must exceed for its family's risk of a false alarm to be ``alpha``.

    Parameters
    ----------
    entries : how many levels are compared, the check among them
    df : degrees of freedom of error, possibly fractional
    check_share : the correlation of two differences from the check, which is the check's part in
        their variance: 1/2 where the check has as many units as each entry, less where it has more
    """
    if not 0 < alpha < 1:
        raise ValueError(f"alpha lies between 0 and 1, not {alpha!r}")
    if entries < 2:
        raise ValueError(f"a comparison needs at least two entries, not {entries}")
    _positive(df, "degrees of freedom")
    return _CRITICAL[family](alpha, entries, df, check_share)


def _student(alpha: float, entries: int, df: float, check_share: float) -> float:
    return float(t_quantile(1.0 - alpha / 2.0, df))


def _tukey(alpha: float, entries: int, df: float, check_share: float) -> float:
    return float(studentised_range_quantile(alpha, entries, df)) / float(np.sqrt(2.0))


def _dunnett(alpha: float, entries: int, df: float, check_share: float) -> float:
    if entries == 2:
        return _student(alpha, entries, df, check_share)
    same = FactorCorrelation(np.full(entries - 1, np.sqrt(check_share)), None)
    return float(largest_t_quantile(alpha, same, df, two_sided=True)[0])


_CRITICAL: Mapping[Family, Callable[[float, int, float, float], float]] = {
    Family.ONE_PAIR: _student,
    Family.ALL_PAIRS: _tukey,
    Family.WITH_CHECK: _dunnett,
}


# --- power ------------------------------------------------------------------------------------


def chance_of_finding(difference: float, sed: float, df: float, critical: float) -> float:
    """The chance that |t| exceeds ``critical`` where the true difference is ``difference``.

    ``difference`` and ``sed``, the standard error of a difference, share a unit. With a family's
    critical value this is the power for one given pair of that family. t squared is F on one
    degree of freedom.
    """
    _positive(sed, "standard error")
    return noncentral_f_upper(critical**2, 1.0, df, (difference / sed) ** 2)


def difference_found(chance: float, sed: float, df: float, critical: float) -> float:
    """The true difference for which ``chance_of_finding`` is ``chance``; 0 where luck suffices."""
    _between(chance)
    _positive(sed, "standard error")
    return sed * _shift_found(chance, df, critical)


@lru_cache(maxsize=1024)
def _shift_found(chance: float, df: float, critical: float) -> float:
    """``difference_found`` in standard errors: many kinds of difference share one."""
    return _root(lambda shift: chance_of_finding(shift, 1.0, df, critical), chance)


def joint_power(pattern: Sequence[float], sed: float, den_df: float, alpha: float) -> float:
    """The chance that the F test of equal means finds the true means ``pattern`` unequal.

    All differences of two means share the standard error ``sed``. The noncentrality is then
    2 sum (m_i - mean)^2 / sed^2, which is r sum (m_i - mean)^2 / sigma^2 in complete blocks
    (Scheffe 1959, The Analysis of Variance, section 2.8).
    """
    _positive(sed, "standard error")
    means = np.asarray(pattern, dtype=float)
    spread = float(np.sum((means - means.mean()) ** 2))
    return _joint(2.0 * spread / sed**2, len(means), den_df, alpha)


def difference_found_jointly(
    chance: float, levels: int, sed: float, den_df: float, alpha: float
) -> float:
    """The difference of two levels, all others midway, that the F test finds with ``chance``.

    No other pattern with that largest difference is harder to find (Scheffe 1959, chapter 3).
    """
    _between(chance)
    _positive(sed, "standard error")
    return sed * _root(lambda shift: _joint(shift**2, levels, den_df, alpha), chance)


def _joint(noncentrality: float, levels: int, den_df: float, alpha: float) -> float:
    from scipy.special import fdtri, gammainccinv

    if levels < 2:
        raise ValueError(f"a joint test needs at least two levels, not {levels}")
    num_df = levels - 1.0
    if np.isinf(den_df):
        critical = 2.0 * float(gammainccinv(num_df / 2.0, alpha)) / num_df
    else:
        critical = float(fdtri(num_df, den_df, 1.0 - alpha))
    return noncentral_f_upper(critical, num_df, den_df, noncentrality)


def _root(power: Callable[[float], float], chance: float) -> float:
    """The shift at which a rising ``power`` reaches ``chance``."""
    from scipy.optimize import brentq

    if power(0.0) >= chance:
        return 0.0
    high = 4.0
    while power(high) < chance:
        high *= 2.0
    return float(brentq(lambda shift: power(shift) - chance, 0.0, high, xtol=1e-10, rtol=1e-12))


def _positive(value: float, what: str) -> None:
    if not value > 0:
        raise ValueError(f"{what} must be positive, not {value!r}")


def _between(chance: float) -> None:
    if not 0 < chance < 1:
        raise ValueError(f"a chance lies between 0 and 1, not {chance!r}")
