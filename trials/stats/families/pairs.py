"""Every pair of entries: Tukey's studentised range, or the single step where errors differ.

Formula: p of a pair = P(largest |T| of all pairs > |m_i - m_j| / standard error).
Limits: To 1e-4 up to p = 0.1; beyond 40 entries the studentised range, which errs on the safe side.
Source: Tukey 1953; Kramer 1956; Hayter 1984; Hochberg & Tamhane 1987, Multiple Comparison
    Procedures.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from trials.stats.design.table import Floats
from trials.stats.distributions.largest_pair import MOST_ENTRIES, LargestPair
from trials.stats.distributions.quadrature import (
    studentised_range_quantile,
    studentised_range_sf,
    t_two_sided,
)
from trials.stats.families.differences import (
    DfOf,
    Differences,
    at_least_two,
    errors,
    measured,
    ratio,
    within_bonferroni,
)

Held = Callable[[Floats, Floats], tuple[Floats, Floats]]
_EVEN = 0.02  # errors that differ by less move no probability by more than 4e-5


def all_pairs(means: Floats, cov: Floats, df_of: DfOf, alpha: float) -> Differences:
    """Every pair (i < j) in one step: held against the largest |t| of all under the covariance.

    Where all differences have one standard error that is the studentised range (Tukey 1953), found
    by quadrature; otherwise the multivariate t of all pairs, each pair at its own degrees of
    freedom (Hochberg & Tamhane 1987, Multiple Comparison Procedures, section 2.1.1), by
    ``directions``: within 1e-4 up to p = 0.1, 3e-4 at any p where 30 entries are as unequal as in
    augmented blocks. Beyond 40 entries it is ``tukey_kramer``, which errs on the safe side.
    """
    return _every_pair(means, cov, df_of, largest_difference(cov, alpha))


def largest_difference(cov: Floats, alpha: float) -> Held:
    """The distribution behind ``all_pairs``, which a covariance gives up to its unit.

    The function it returns takes |t| (m,) and their degrees of freedom (m,) and gives the chance
    of a larger one anywhere and the critical value, each (m,).
    """
    if not _single_step(cov):
        return _studentised_range(len(cov), alpha)

    def held(t: Floats, df: Floats) -> tuple[Floats, Floats]:
        largest = LargestPair.of(cov, alpha, float(np.median(df)))
        return largest.sf(t, df), largest.quantile(alpha, df)

    return held


def tukey_kramer(means: Floats, cov: Floats, df_of: DfOf, alpha: float) -> Differences:
    """Every pair (i < j), by the studentised range: Tukey 1953, Kramer 1956 (Biometrics 12:307).

    Each pair's own error and degrees of freedom enter the distribution of equal errors: exact
    where they are equal, and on the safe side elsewhere (proved for independent means by Hayter
    1984, Annals of Statistics 12:61). It is what other software prints for unequal replication, and
    so what published figures of such trials are to be held against.

    Checked against the NIST/SEMATECH e-Handbook, section 7.4.7.1, and ``scipy.stats.tukey_hsd``.
    """
    return _every_pair(means, cov, df_of, _studentised_range(len(means), alpha))


def _studentised_range(entries: int, alpha: float) -> Held:
    def held(t: Floats, df: Floats) -> tuple[Floats, Floats]:
        root = np.sqrt(2.0)
        return studentised_range_sf(root * t, entries, df), studentised_range_quantile(
            alpha, entries, df
        ) / root

    return held


def _every_pair(
    means: Floats,
    cov: Floats,
    df_of: DfOf,
    held: Held,
) -> Differences:
    """All pairs by ``held``, which gives tail and critical value for each |t| and its df."""
    first, second = np.triu_indices(at_least_two(means), k=1)
    difference, se, df = measured(means, cov, df_of, first, second)
    t = ratio(difference, se)
    p = t_two_sided(t, df)
    tail, critical = held(np.abs(t), df)
    return Differences(
        first=first,
        second=second,
        difference=difference,
        se=se,
        df=df,
        t=t,
        p=p,
        p_adjusted=within_bonferroni(tail, p, len(first)),
        critical=critical,
        low=difference - critical * se,
        high=difference + critical * se,
    )


def _single_step(cov: Floats) -> bool:
    """Whether ``all_pairs`` goes by the actual covariance rather than by the studentised range."""
    return len(cov) <= MOST_ENTRIES and _uneven(cov)


def conservative(cov: Floats) -> bool:
    """Whether ``all_pairs`` errs on the safe side: unequal errors among too many entries."""
    return len(cov) > MOST_ENTRIES and _uneven(cov)


def _uneven(cov: Floats) -> bool:
    first, second = np.triu_indices(len(cov), k=1)
    error = errors(cov, first, second)
    return bool(len(cov) > 2 and error.min() > 0.0 and np.ptp(error) > _EVEN * error.max())
