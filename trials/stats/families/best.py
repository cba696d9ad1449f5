"""Every entry against the best of the others: Hsu's constrained comparisons.

Formula: high_i = max(0, min over j of (m_i - m_j + d_i se_ij)), and low_i likewise with d_j.
Limits: Says who could be the best, and by how much at most; levels too short to sell are not in the
    running.
Source: Hsu 1984, Annals of Statistics 12:1136; Hsu 1996, Multiple Comparisons, section 4.2.1.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from trials.model.trial import Better
from trials.stats.design.table import Codes, Floats
from trials.stats.distributions.multivariate_t import FactorCorrelation
from trials.stats.families.differences import ROUNDING, DfOf, at_least_two, errors, measured
from trials.stats.families.reference import correlation_with, critical_values

_ALIKE = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class ShortOfBest:
    """Each entry less the best of the others (k,): limits that are 0 at one end at least.

    ``critical`` (k,) is the one-sided critical value with the entry as the reference.
    """

    low: Floats
    high: Floats
    could_be_best: np.ndarray[tuple[int], np.dtype[np.bool_]]
    critical: Floats


def with_best(means: Floats, cov: Floats, df_of: DfOf, better: Better, alpha: float) -> ShortOfBest:
    """Each entry less the best of the others, constrained: Hsu 1984 (Annals of Statistics 12:1136).

    With entry i as reference, d_i is Dunnett's one-sided critical value under the actual
    covariance. For 'higher is better', high_i = max(0, min_j (m_i - m_j + d_i se_ij)); entries
    with high_i > 0 could still be the best, and low_i = min(0, min over those j of
    (m_i - m_j - d_j se_ij)), or 0 where i alone is left (Hsu 1996, Multiple Comparisons,
    section 4.2.1). Where small is good the signs turn: low is at most 0 and stays at 0 for an
    entry that cannot be the best.
    """
    k = at_least_two(means)
    sign = 1.0 if better is Better.HIGHER else -1.0
    first, second = np.triu_indices(k, k=1)
    difference, se, df = measured(sign * means, cov, df_of, first, second)
    gap, error, freedom = np.zeros((k, k)), np.zeros((k, k)), np.zeros((k, k))
    gap[first, second], gap[second, first] = difference, -difference
    error[first, second] = error[second, first] = se
    freedom[first, second] = freedom[second, first] = df

    critical = one_sided_points(cov, freedom, alpha)
    low, high, could = constrained(gap, error, critical, ROUNDING * np.abs(means).max(), better)
    return ShortOfBest(low, high, could, critical.max(axis=1))


def constrained(
    gap: Floats, error: Floats, critical: Floats, tie: ArrayLike, better: Better
) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """The limits of ``with_best`` (..., k) and who could be the best, for any number of trials.

    ``gap`` (..., k, k) is by how much each entry leads each other one, with its ``error`` and
    ``critical`` value; a lead up to ``tie`` (...) is none.
    """
    off = ~np.eye(gap.shape[-1], dtype=bool)
    reach = np.where(off, gap + critical * error, np.inf).min(axis=-1)
    high = np.where(reach > np.maximum(np.asarray(tie)[..., None], 1e-311), reach, 0.0)
    leads = (gap >= 0.0).all(axis=-1)  # the best seen, with its exact ties
    could = (high > 0.0) | leads
    rivals = off & could[..., None, :]
    fall = np.where(rivals, gap - np.swapaxes(critical, -1, -2) * error, np.inf).min(axis=-1)
    low = np.where(rivals.any(axis=-1), np.minimum(fall, 0.0), 0.0)
    if better is Better.HIGHER:
        return low, high, could
    return -high + 0.0, -low + 0.0, could


def one_sided_points(cov: Floats, freedom: Floats, alpha: float) -> Floats:
    """Dunnett's one-sided critical values (k, k) with each row's entry as the reference."""
    k = len(cov)
    off = ~np.eye(k, dtype=bool)
    first, second = np.triu_indices(k, k=1)
    error = errors(cov, first, second)
    if np.ptp(error) <= _ALIKE * error.max() and np.ptp(freedom[off]) <= _ALIKE:
        others = np.arange(1, k)  # every reference asks the same question
        found = critical_values(alpha, correlation_with(cov, 0, others), freedom[0, others], False)
        return np.where(off, found[0], 0.0)
    critical = np.zeros((k, k))
    known: dict[bytes, Floats] = {}
    near: float | None = None
    for i in range(k):
        others = np.delete(np.arange(k), i)
        correlation = correlation_with(cov, i, others)
        order, question = _question(correlation, freedom[i, others])
        if question not in known:
            found = critical_values(alpha, correlation, freedom[i, others], False, near)
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
