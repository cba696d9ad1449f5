"""Plots with differing numbers of sub-samples: how unequally sure their values are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trials.stats.model import Grouping
from trials.stats.table import Codes, Floats


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """The rows behind each plot's value.

    ``counts`` (plots,) are rows with a figure. ``shares`` (plots,) is the variance of the plot's
    mean as a share of one row's: 1 / n where rows count alike, the sum of squared weights over
    the squared sum otherwise; NaN without a row. ``row_variance`` is that of rows within plots,
    pooled.
    """

    counts: Codes
    shares: Floats
    row_variance: float

    def variances(self, residual_variance: float, used: Codes) -> Floats:
        """The variance of each of the ``used`` plots' values, from what plots differ in all.

        Plots differ by their ground and by the luck of their rows: v_i = ground + rows x share_i.
        The residual variance of the comparison, where every plot counts alike, is the ground's
        part and the mean of the rows', so the ground's is what is left of it, at least 0
        (Snedecor & Cochran 1989, Statistical Methods, chapter 13).
        """
        shares = self.shares[used]
        ground = max(residual_variance - self.row_variance * float(shares.mean()), 0.0)
        return np.asarray(ground + self.row_variance * shares)


def samples_of(plot: Grouping, values: Floats, weights: Floats) -> Samples | None:
    """What stands behind the mean of each class of ``plot``; None where all have one row."""
    recorded = np.isfinite(values) & (weights > 0)
    counts = np.bincount(plot.codes[recorded], minlength=plot.count)
    if counts.max(initial=0) < 2:
        return None
    codes, y = plot.codes[recorded], values[recorded]
    means = np.bincount(codes, y, plot.count) / np.maximum(counts, 1)
    left = float(np.sum((y - means[codes]) ** 2))
    total = np.bincount(codes, weights[recorded], plot.count)
    squares = np.bincount(codes, weights[recorded] ** 2, plot.count)
    shares = np.where(total > 0, squares / np.where(total > 0, total, 1.0) ** 2, np.nan)
    return Samples(counts, shares, left / float(np.sum(np.maximum(counts - 1, 0))))


def most_gained(variances: Floats) -> float:
    """The share of a mean's variance that equal weights may cost beside the best ones, at most.

    1 - 4 r / (1 + r)^2 with r the largest variance over the smallest: the bound of Kantorovich
    for the mean of plots weighted alike against that weighted by 1 / variance.
    """
    ratio = float(variances.max() / variances.min())
    return 1.0 - 4.0 * ratio / (1.0 + ratio) ** 2
