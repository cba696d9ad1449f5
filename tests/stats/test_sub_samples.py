"""How unequally sure plots with differing numbers of samples are, against what was simulated."""

from __future__ import annotations

import numpy as np
import pytest

from trials.stats.design.linear_model import Grouping
from trials.stats.design.sub_samples import most_gained, samples_of


def test_variances_are_those_that_the_plots_were_made_with() -> None:
    rng = np.random.default_rng(12)
    counts = np.tile([1, 2, 5, 10], 3000)
    codes = np.repeat(np.arange(counts.size), counts)
    y = rng.normal(0, 1.5, counts.size)[codes] + rng.normal(0, 2.0, codes.size)
    found = samples_of(Grouping("plot", codes, counts.size), y, np.ones(codes.size))
    assert found is not None
    assert found.counts.tolist() == counts.tolist()
    means = np.bincount(codes, y) / counts
    variances = found.variances(float(means.var(ddof=1)), np.arange(counts.size))
    truth = [1.5**2 + 2.0**2 / n for n in (1, 2, 5, 10)]
    assert variances[:4] == pytest.approx(truth, rel=0.05)
    for k, variance in enumerate(truth):
        assert means[k::4].var() == pytest.approx(variance, rel=0.08)  # three standard errors


def test_weighted_rows_share_as_their_weights_do() -> None:
    # By hand: weights 3 and 1: (9 + 1) / 16 of a row's variance; equal ones: 1 / 2.
    plot = Grouping("plot", np.array([0, 0, 1, 1]), 2)
    found = samples_of(plot, np.array([1.0, 3.0, 4.0, 8.0]), np.array([3.0, 1.0, 2.0, 2.0]))
    assert found is not None
    assert found.shares == pytest.approx([10 / 16, 1 / 2])
    assert found.row_variance == pytest.approx((2.0 + 8.0) / 2)


def test_rows_without_a_figure_are_no_samples() -> None:
    plot = Grouping("plot", np.array([0, 0, 1]), 2)
    assert samples_of(plot, np.array([1.0, np.nan, 2.0]), np.array([1.0, 0.0, 1.0])) is None


@pytest.mark.parametrize("ratio", [1.0, 1.5, 3.0, 10.0])
def test_what_weights_may_gain_is_the_most_over_all_mixtures(ratio: float) -> None:
    lost = 0.0
    for few in range(101):
        variances = np.repeat([ratio, 1.0], [few, 100 - few])
        alike = variances.sum() / 100**2
        weighed = 1 / (1 / variances).sum()
        lost = max(lost, 1 - weighed / alike)
    assert most_gained(np.array([1.0, ratio])) == pytest.approx(lost, abs=1e-3)
