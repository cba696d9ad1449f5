"""The four families of comparisons among the adjusted means of one set of entries.

Each takes the means (k,), their covariance (k, k) and the method's degrees of freedom for
contrasts, and returns arrays: errors come from the fitted model, never from raw group means.
Limits are simultaneous over the family.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from trials.model import Better
from trials.stats.directions import MOST_ENTRIES, LargestPair
from trials.stats.distributions import (
    studentised_range_quantile,
    studentised_range_sf,
    t_two_sided,
    t_upper,
)
from trials.stats.multivariate_t import (
    FactorCorrelation,
    largest_t_cdf,
    largest_t_quantile,
)
from trials.stats.results import Verdict
from trials.stats.table import Codes, Floats

DfOf = Callable[[Floats], Floats]
_ROUNDING = 1e-11  # relative to the largest mean: differences below it are exact ties
_ALIKE = 1e-9
_EVEN = 0.02  # errors that differ by less move no probability by more than 4e-5


class Tail(StrEnum):
    """Which departures from the check are looked for."""

    TWO_SIDED = "two-sided"
    GREATER = "greater"
    LESS = "less"


@dataclass(frozen=True, slots=True, eq=False)
class Differences:
    """Entries ``first`` less entries ``second``, each field an array over the comparisons (m,).

    ``p`` is Student's for the one comparison, ``p_adjusted`` and ``low`` to ``high`` hold for
    the whole family; ``critical`` is the multiple of ``se`` that the limits are made with. A
    limit that a one-sided family does not have is infinite.
    """

    first: Codes
    second: Codes
    difference: Floats
    se: Floats
    df: Floats
    t: Floats
    p: Floats
    p_adjusted: Floats
    critical: Floats
    low: Floats
    high: Floats


@dataclass(frozen=True, slots=True, eq=False)
class ShortOfBest:
    """Each entry less the best of the others (k,): limits that are 0 at one end at least.

    ``critical`` (k,) is the one-sided critical value with the entry as the reference.
    """

    low: Floats
    high: Floats
    could_be_best: np.ndarray[tuple[int], np.dtype[np.bool_]]
    critical: Floats


# --- all pairs --------------------------------------------------------------------------------


def all_pairs(means: Floats, cov: Floats, df_of: DfOf, alpha: float) -> Differences:
    """Every pair (i < j) in one step: held against the largest |t| of all under the covariance.

    Where all differences have one standard error that is the studentised range (Tukey 1953), found
    by quadrature; otherwise the multivariate t of all pairs, each pair at its own degrees of
    freedom (Hochberg & Tamhane 1987, Multiple Comparison Procedures, section 2.1.1), by
    ``directions``: within 1e-4 up to p = 0.1, 3e-4 at any p where 30 entries are as unequal as in
    augmented blocks. Beyond 40 entries it is ``tukey_kramer``, which errs on the safe side.
    """
    if not single_step(cov):
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
    first, second = np.triu_indices(_at_least_two(means), k=1)
    difference, se, df = _measure(means, cov, df_of, first, second)
    t = _ratio(difference, se)
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
        p_adjusted=_within_bonferroni(tail, p, len(first)),
        critical=critical,
        low=difference - critical * se,
        high=difference + critical * se,
    )


def single_step(cov: Floats) -> bool:
    """Whether ``all_pairs`` goes by the actual covariance rather than by the studentised range."""
    return len(cov) <= MOST_ENTRIES and _uneven(cov)


def conservative(cov: Floats) -> bool:
    """Whether ``all_pairs`` errs on the safe side: unequal errors among too many entries."""
    return len(cov) > MOST_ENTRIES and _uneven(cov)


def _uneven(cov: Floats) -> bool:
    first, second = np.triu_indices(len(cov), k=1)
    error = _errors(cov, first, second)
    return bool(len(cov) > 2 and error.min() > 0.0 and np.ptp(error) > _EVEN * error.max())


# --- with the check ---------------------------------------------------------------------------


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
    first = np.delete(np.arange(_at_least_two(means)), check)
    second = np.full(len(first), check)
    difference, se, df = _measure(means, cov, df_of, first, second)
    t = _ratio(difference, se)
    correlation = _correlation_with(cov, check, first)
    two_sided = tail is Tail.TWO_SIDED
    facing = _FACING[tail](t)
    p = t_two_sided(t, df) if two_sided else t_upper(facing, df)
    inside = largest_t_cdf(facing, correlation, _one_if_equal(df), two_sided)
    critical = _critical(alpha, correlation, df, two_sided)
    return Differences(
        first=first,
        second=second,
        difference=difference,
        se=se,
        df=df,
        t=t,
        p=p,
        p_adjusted=_within_bonferroni(1.0 - inside, p, len(first)),
        critical=critical,
        low=np.full(len(first), -np.inf) if tail is Tail.LESS else difference - critical * se,
        high=np.full(len(first), np.inf) if tail is Tail.GREATER else difference + critical * se,
    )


_FACING: dict[Tail, Callable[[Floats], Floats]] = {
    Tail.TWO_SIDED: np.abs,
    Tail.GREATER: np.positive,
    Tail.LESS: np.negative,
}


# --- with the best ----------------------------------------------------------------------------


def with_best(means: Floats, cov: Floats, df_of: DfOf, better: Better, alpha: float) -> ShortOfBest:
    """Each entry less the best of the others, constrained: Hsu 1984 (Annals of Statistics 12:1136).

    With entry i as reference, d_i is Dunnett's one-sided critical value under the actual
    covariance. For 'higher is better', high_i = max(0, min_j (m_i - m_j + d_i se_ij)); entries
    with high_i > 0 could still be the best, and low_i = min(0, min over those j of
    (m_i - m_j - d_j se_ij)), or 0 where i alone is left (Hsu 1996, Multiple Comparisons,
    section 4.2.1). Where small is good the signs turn: low is at most 0 and stays at 0 for an
    entry that cannot be the best.
    """
    k = _at_least_two(means)
    sign = 1.0 if better is Better.HIGHER else -1.0
    first, second = np.triu_indices(k, k=1)
    difference, se, df = _measure(sign * means, cov, df_of, first, second)
    gap, error, freedom = np.zeros((k, k)), np.zeros((k, k)), np.zeros((k, k))
    gap[first, second], gap[second, first] = difference, -difference
    error[first, second] = error[second, first] = se
    freedom[first, second] = freedom[second, first] = df

    critical = _one_sided_points(cov, freedom, alpha)
    off = ~np.eye(k, dtype=bool)
    reach = np.where(off, gap + critical * error, np.inf).min(axis=1)
    scale = _ROUNDING * max(float(np.abs(means).max()), 1e-300)
    high = np.where(reach > scale, reach, 0.0)
    leads = (gap >= 0.0).all(axis=1)  # the best seen, with its exact ties
    could = (high > 0.0) | leads
    rivals = off & could[None, :]
    fall = np.where(rivals, gap - critical.T * error, np.inf).min(axis=1)
    low = np.where(rivals.any(axis=1), np.minimum(fall, 0.0), 0.0)
    largest = critical.max(axis=1)
    if better is Better.HIGHER:
        return ShortOfBest(low, high, could, largest)
    return ShortOfBest(-high + 0.0, -low + 0.0, could, largest)


def _one_sided_points(cov: Floats, freedom: Floats, alpha: float) -> Floats:
    """Dunnett's one-sided critical values (k, k) with each row's entry as the reference."""
    k = len(cov)
    off = ~np.eye(k, dtype=bool)
    first, second = np.triu_indices(k, k=1)
    error = _errors(cov, first, second)
    if np.ptp(error) <= _ALIKE * error.max() and np.ptp(freedom[off]) <= _ALIKE:
        others = np.arange(1, k)  # every reference asks the same question
        found = _critical(alpha, _correlation_with(cov, 0, others), freedom[0, others], False)
        return np.where(off, found[0], 0.0)
    critical = np.zeros((k, k))
    known: dict[bytes, Floats] = {}
    near: float | None = None
    for i in range(k):
        others = np.delete(np.arange(k), i)
        correlation = _correlation_with(cov, i, others)
        order, question = _question(correlation, freedom[i, others])
        if question not in known:
            found = _critical(alpha, correlation, freedom[i, others], False, near)
            known[question] = found[order]
            near = float(found[0])
        critical[i, others[order]] = known[question]
    return critical


def _question(correlation: FactorCorrelation, df: Floats) -> tuple[Codes, bytes]:
    """What a critical value depends on, told apart from the order of the entries.

    References that are replicated alike ask the same question, which need be answered only once.
    The order is that of the entries' own figures; were two of them to fall out differently, one
    question would be answered twice.
    """
    figures = [df, correlation.loadings]
    if correlation.excess is not None:
        figures += [correlation.excess.sum(axis=0), (correlation.excess**2).sum(axis=0)]
    rounded = [np.round(figure, 9) + 0.0 for figure in figures]
    order = np.lexsort(rounded)
    told = b"".join(figure[order].tobytes() for figure in rounded)
    if correlation.excess is not None:
        told += (np.round(correlation.excess[np.ix_(order, order)], 9) + 0.0).tobytes()
    return order, told


# --- practically the same ---------------------------------------------------------------------


def practically_same(
    low: Floats, high: Floats, margin: float
) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Whether each interval lies inside the margin on both sides of 0."""
    return np.asarray((low > -margin) & (high < margin))


def verdicts(low: Floats, high: Floats, margin: float | None) -> tuple[Verdict, ...]:
    """What each simultaneous interval comes to.

    Inside the margin: the same for the grower's purpose, even where it leaves out 0. Otherwise
    more or less where it leaves out 0, and unknown where it does not. Every verdict of a family
    is right together with probability 1 - alpha at least.
    """
    same = (
        np.zeros(np.shape(low), dtype=bool)
        if margin is None
        else practically_same(low, high, margin)
    )
    return tuple(
        Verdict.SAME
        if is_same
        else Verdict.MORE
        if lowest > 0.0
        else Verdict.LESS
        if highest < 0.0
        else Verdict.UNKNOWN
        for is_same, lowest, highest in zip(same, low, high, strict=True)
    )


# --- what they share --------------------------------------------------------------------------


def _at_least_two(means: Floats) -> int:
    if len(means) < 2:
        raise ValueError("a comparison needs at least two entries")
    return len(means)


def _contrasts(k: int, first: Codes, second: Codes) -> Floats:
    rows = np.zeros((len(first), k))
    rows[np.arange(len(first)), first] = 1.0
    rows[np.arange(len(first)), second] = -1.0
    return rows


def _measure(
    means: Floats, cov: Floats, df_of: DfOf, first: Codes, second: Codes
) -> tuple[Floats, Floats, Floats]:
    difference = means[first] - means[second]
    tie = np.abs(difference) <= _ROUNDING * np.abs(means).max()
    se = _errors(cov, first, second)
    df = np.asarray(df_of(_contrasts(len(means), first, second)), dtype=float)
    return np.where(tie, 0.0, difference), se, df


def _errors(cov: Floats, first: Codes, second: Codes) -> Floats:
    variance = np.diag(cov)
    spread = variance[first] + variance[second] - 2.0 * cov[first, second]
    size = np.maximum(variance[first] + variance[second], 1e-300)
    return np.asarray(np.sqrt(np.where(spread > 1e-13 * size, spread, 0.0)))


def _ratio(difference: Floats, se: Floats) -> Floats:
    """Difference over error; plots without any error make every difference infinitely sure."""
    sure = np.where(difference == 0.0, 0.0, np.copysign(np.inf, difference))
    return np.where(se > 0.0, difference / np.where(se > 0.0, se, 1.0), sure)


def _correlation_with(cov: Floats, reference: int, others: Codes) -> FactorCorrelation:
    """The correlation of the differences from one entry."""
    toward = cov[others, reference]
    joint = cov[np.ix_(others, others)] - toward[:, None] - toward + cov[reference, reference]
    size = np.sqrt(np.maximum(np.diag(joint), 1e-300))
    return FactorCorrelation.of(np.clip(joint / np.outer(size, size), -1.0, 1.0))


def _critical(
    alpha: float,
    correlation: FactorCorrelation,
    df: Floats,
    two_sided: bool,
    near: float | None = None,
) -> Floats:
    distinct, which = np.unique(np.round(df, 8), return_inverse=True)
    return largest_t_quantile(alpha, correlation, distinct, two_sided, near)[which]


def _one_if_equal(df: Floats) -> Floats:
    rounded = np.round(df, 8)
    return df[:1] if np.all(rounded == rounded[0]) else df


def _within_bonferroni(tail: Floats, p: Floats, comparisons: int) -> Floats:
    """The adjusted p-value, held between the single one and Bonferroni's.

    Both bounds are exact, and keep their digits where a probability near 1 has lost them.
    """
    return np.clip(tail, p, np.minimum(comparisons * p, 1.0))
