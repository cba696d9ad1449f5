"""Error variances of trials moved towards one another: against the model they are drawn from."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from trials.pool.error_variances import moderated, own_error, with_common_error
from trials.pool.network_model import TrialMeans


def trials_with(variances: np.ndarray, df: float) -> list[TrialMeans]:
    """Trials of four varieties whose means have these variances."""
    numbers, means = np.arange(4), np.zeros(4)
    return [
        TrialMeans(f"F{i}", 2026, numbers, means, each * np.eye(4), df)
        for i, each in enumerate(variances.tolist())
    ]


def test_moderated_variances_are_the_best_guess_of_the_true_ones() -> None:
    """Smyth 2004: drawn with 8 prior degrees of freedom, theirs are recovered, and each is better.

    The posterior mean of 1/variance is 1 over the moderated variance (his section 3), so that it
    is nearer to the truth than the trial's own.
    """
    rng = np.random.default_rng(4)
    df, prior_df, prior = 12.0, 8.0, 0.5
    truth = prior_df * prior / rng.chisquare(prior_df, 4000)
    found = moderated(trials_with(truth * rng.chisquare(df, 4000) / df, df))
    assert found[0].df == pytest.approx(df + prior_df, rel=0.05)
    ours = np.array([own_error(trial) for trial in found])
    theirs = np.array([own_error(trial) for trial in trials_with(truth, df)])
    # Under that model the moderated variance over the true one follows chi-squared / its df.
    ratio = stats.kstest(found[0].df * ours / theirs, stats.chi2(found[0].df).cdf)
    assert ratio.statistic < 0.03


def test_variances_that_differ_by_chance_only_become_one() -> None:
    rng = np.random.default_rng(1)
    drawn = trials_with(rng.chisquare(30, 400) / 30, 30.0)
    found, one = moderated(drawn), with_common_error(drawn)
    if found[0].df < one[0].df:  # the logarithms may differ a little more than they should
        assert found[0].df > 300
    spread = np.std([own_error(trial) for trial in found])
    assert spread < 0.02
    assert own_error(one[0]) == pytest.approx(1.0, abs=0.02)


def test_one_trial_keeps_its_own_error() -> None:
    (trial,) = trials_with(np.array([0.3]), 9.0)
    assert moderated([trial]) == [trial]


def test_what_a_trial_s_means_share_keeps_its_form() -> None:
    """Only the size of a covariance changes: what blocks and lost plots made of it stays."""
    cov = np.array([[0.4, 0.1, 0.0], [0.1, 0.6, 0.2], [0.0, 0.2, 0.5]])
    trials = [
        TrialMeans(f"F{i}", 2026, np.arange(3), np.zeros(3), size * cov, 10.0)
        for i, size in enumerate((0.5, 1.0, 4.0, 9.0))
    ]
    for trial in moderated(trials):
        np.testing.assert_allclose(trial.cov / trial.cov[0, 0], cov / cov[0, 0])
