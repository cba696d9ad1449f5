"""Every other entry against the check: Dunnett's comparisons under the actual covariance.

Formula: p of an entry = P(largest |T| of all entries > |m_i - m_check| / standard error).
Limits: One check at a time; nothing is said of two entries that are no check.
Source: Dunnett 1955, JASA 50:1096.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum

import numpy as np

from trials.stats.design.table import Floats
from trials.stats.distributions.multivariate_t import largest_t_cdf
from trials.stats.distributions.quadrature import t_two_sided, t_upper
from trials.stats.families.differences import (
    DfOf,
    Differences,
    at_least_two,
    measured,
    ratio,
    within_bonferroni,
)
from trials.stats.families.reference import correlation_with, critical_values


class Tail(StrEnum):
    """Which departures from the check are looked for."""

    TWO_SIDED = "two-sided"
    GREATER = "greater"
    LESS = "less"


def with_check(
    means: Floats,
    cov: Floats,
    df_of: DfOf,
    check: int,
    alpha: float,
    tail: Tail = Tail.TWO_SIDED,
) -> Differences:
    """Every other entry less the check: Dunnett 1955 (JASA 50:1096).

    Correlations come from the actual covariance, so an over-replicated check or a lost plot
    counts as it should. Where degrees of freedom differ, each comparison is held against the
    joint distribution on its own. ``p`` follows ``tail`` too.

    Checked against Dunnett's blood counts and ``scipy.stats.dunnett``.
    """
    first = np.delete(np.arange(at_least_two(means)), check)
    second = np.full(len(first), check)
    difference, se, df = measured(means, cov, df_of, first, second)
    t = ratio(difference, se)
    correlation = correlation_with(cov, check, first)
    two_sided = tail is Tail.TWO_SIDED
    facing = _FACING[tail](t)
    p = t_two_sided(t, df) if two_sided else t_upper(facing, df)
    inside = largest_t_cdf(facing, correlation, _one_if_equal(df), two_sided)
    critical = critical_values(alpha, correlation, df, two_sided)
    return Differences(
        first=first,
        second=second,
        difference=difference,
        se=se,
        df=df,
        t=t,
        p=p,
        p_adjusted=within_bonferroni(1.0 - inside, p, len(first)),
        critical=critical,
        low=np.full(len(first), -np.inf) if tail is Tail.LESS else difference - critical * se,
        high=np.full(len(first), np.inf) if tail is Tail.GREATER else difference + critical * se,
    )


_FACING: dict[Tail, Callable[[Floats], Floats]] = {
    Tail.TWO_SIDED: np.abs,
    Tail.GREATER: np.positive,
    Tail.LESS: np.negative,
}


def _one_if_equal(df: Floats) -> Floats:
    rounded = np.round(df, 8)
    return df[:1] if np.all(rounded == rounded[0]) else df
