"""Plots with differing numbers of sub-samples: how unequally sure their values are."""

from __future__ import annotations

import numpy as np

from trials.stats.design.linear_model import Grouping
from trials.stats.design.table import Floats, Samples


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
