"""Differences from one entry: their correlation, and how large the largest of them may be."""

from __future__ import annotations

import numpy as np

from trials.stats.design.table import Codes, Floats
from trials.stats.distributions.multivariate_t import (
    FactorCorrelation,
    largest_t_quantile,
)


def correlation_with(cov: Floats, reference: int, others: Codes) -> FactorCorrelation:
    """The correlation of the differences from one entry."""
    toward = cov[others, reference]
    joint = cov[np.ix_(others, others)] - toward[:, None] - toward + cov[reference, reference]
    size = np.sqrt(np.maximum(np.diag(joint), 1e-300))
    return FactorCorrelation.of(np.clip(joint / np.outer(size, size), -1.0, 1.0))


def critical_values(
    alpha: float,
    correlation: FactorCorrelation,
    df: Floats,
    two_sided: bool,
    near: float | None = None,
) -> Floats:
    """What the largest t exceeds with probability alpha, at each df (m,); ``near`` is a start."""
    distinct, which = np.unique(np.round(df, 8), return_inverse=True)
    return largest_t_quantile(alpha, correlation, distinct, two_sided, near)[which]
