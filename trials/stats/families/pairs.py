"""Every pair of entries: Tukey's studentised range, or the single step where errors differ."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from trials.stats.directions import MOST_ENTRIES, LargestPair
from trials.stats.distributions import (
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
from trials.stats.table import Floats

_EVEN = 0.02  # errors that differ by less move no probability by more than 4e-5


def all_pairs(means: Floats, cov: Floats, df_of: DfOf, alpha: float) -> Differences:
    """Every pair (i < j) in one step: held against the largest |t| of all under the covariance.

    Where all differences have one standard error that is the studentised range (Tukey 1953), found
    by quadrature; otherwise the multivariate t of all pairs, each pair at its own degrees of
    freedom (Hochberg & Tamhane 1987, Multiple Comparison Procedures, section 2.1.1), by
    ``directions``: within 1e-4 up to p = 0.1, 3e-4 at any p where 30 entries are as unequal as in
    augmented blocks. Beyond 40 entries it is ``tukey_kramer``, which errs on the safe side.
    """
    if not _single_step(cov):
        return tukey_kramer(means, cov, df_of, alpha)

    def held(t: Floats, df: Floats) -> tuple[Floats, Floats]:
        largest = LargestPair.of(cov, alpha, float(np.median(df)))
        return largest.sf(t, df), largest.quantile(alpha, df)

    return _every_pair(means, cov, df_of, held)


def tukey_kramer(means: Floats, cov: Floats, df_of: DfOf, alpha: float) -> Differences:
    """Every pair (i < j), by the studentised range: Tukey 1953, Kramer 1956 (Biometrics 12:307).

    Each pair's own error and degrees of freedom enter the distribution of equal errors: exact
    where they are equal, and on the safe side elsewhere (proved for independent means by Hayter
    1984, Annals of Statistics 12:61). It is what other software prints for unequal replication, and
    so what published figures of such trials are to be held against.

    Checked against the NIST/SEMATECH e-Handbook, section 7.4.7.1, and ``scipy.stats.tukey_hsd``.
    """

    def held(t: Floats, df: Floats) -> tuple[Floats, Floats]:
        root, k = np.sqrt(2.0), len(means)
        return studentised_range_sf(root * t, k, df), studentised_range_quantile(
            alpha, k, df
        ) / root

    return _every_pair(means, cov, df_of, held)


def _every_pair(
    means: Floats,
    cov: Floats,
    df_of: DfOf,
    held: Callable[[Floats, Floats], tuple[Floats, Floats]],
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
