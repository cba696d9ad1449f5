"""Differences between entries, with the errors and degrees of freedom that all families share."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from trials.stats.design.table import Codes, Floats

DfOf = Callable[[Floats], Floats]
ROUNDING = 1e-11  # relative to the largest mean: differences below it are exact ties


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


def at_least_two(means: Floats) -> int:
    """How many entries there are; one alone compares with nothing."""
    if len(means) < 2:
        raise ValueError("a comparison needs at least two entries")
    return len(means)


def _contrasts(k: int, first: Codes, second: Codes) -> Floats:
    rows = np.zeros((len(first), k))
    rows[np.arange(len(first)), first] = 1.0
    rows[np.arange(len(first)), second] = -1.0
    return rows


def measured(
    means: Floats, cov: Floats, df_of: DfOf, first: Codes, second: Codes
) -> tuple[Floats, Floats, Floats]:
    """Differences of ``first`` less ``second``, their standard errors and df, each (m,)."""
    difference = means[first] - means[second]
    tie = np.abs(difference) <= ROUNDING * np.abs(means).max()
    se = errors(cov, first, second)
    df = np.asarray(df_of(_contrasts(len(means), first, second)), dtype=float)
    return np.where(tie, 0.0, difference), se, df


def errors(cov: Floats, first: Codes, second: Codes) -> Floats:
    """Standard errors (m,) of the differences; what is left by rounding alone is 0."""
    variance = np.diag(cov)
    spread = variance[first] + variance[second] - 2.0 * cov[first, second]
    size = np.maximum(variance[first] + variance[second], 1e-300)
    return np.asarray(np.sqrt(np.where(spread > 1e-13 * size, spread, 0.0)))


def ratio(difference: Floats, se: Floats) -> Floats:
    """Difference over error; plots without any error make every difference infinitely sure."""
    sure = np.where(difference == 0.0, 0.0, np.copysign(np.inf, difference))
    return np.where(se > 0.0, difference / np.where(se > 0.0, se, 1.0), sure)


def within_bonferroni(tail: Floats, p: Floats, comparisons: int) -> Floats:
    """The adjusted p-value, held between the single one and Bonferroni's.

    Both bounds are exact, and keep their digits where a probability near 1 has lost them.
    """
    return np.clip(tail, p, np.minimum(comparisons * p, 1.0))
