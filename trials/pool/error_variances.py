"""The error variances of many trials, each moved towards what all of them say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy.optimize import brentq
from scipy.special import digamma, polygamma

from trials.pool.network_model import TrialMeans

_MOST_DF = 1e6  # with more prior degrees of freedom all trials share one error variance


def own_error(trial: TrialMeans) -> float:
    """The mean variance of a trial's means about their mean: half that of a difference."""
    k = len(trial.cov)
    return float(np.trace(trial.cov) - trial.cov.sum() / k) / (k - 1)


def with_common_error(trials: Sequence[TrialMeans]) -> list[TrialMeans]:
    """The trials with one error variance, the mean of theirs weighted by degrees of freedom."""
    own, df = _own(trials)
    mean = float(own @ df / df.sum())
    return [
        replace(trial, cov=trial.cov * mean / each, df=float(df.sum()))
        for trial, each in zip(trials, own.tolist(), strict=True)
    ]


def moderated(trials: Sequence[TrialMeans]) -> list[TrialMeans]:
    """The trials with error variances between their own and that of all trials.

    A trial whose error came out small by chance would weigh too much, and what its means differ
    from the others' would be taken for variation between trials: that variance was 0.18 on
    average where 0.16 was drawn. The error variances are taken as drawn from a scaled inverse
    chi-squared, whose degrees of freedom follow from how much the trials' logarithms differ beyond
    their own sampling; a trial's variance is its mean with the prior's, weighted by degrees of
    freedom, and has both.

    Source: Smyth 2004, Statistical Applications in Genetics and Molecular Biology 3(1), article 3,
    sections 3 and 6.2.
    """
    own, df = _own(trials)
    if len(trials) < 2 or own.min() <= 0.0:
        return list(trials)
    logs = np.log(own) - digamma(df / 2) + np.log(df / 2)
    beyond = float(np.var(logs, ddof=1) - polygamma(1, df / 2).mean())
    if beyond <= float(polygamma(1, _MOST_DF)):
        return with_common_error(trials)
    half = float(brentq(lambda x: float(polygamma(1, x)) - beyond, 1e-6, _MOST_DF))
    prior = float(np.exp(logs.mean() + digamma(half) - np.log(half)))
    return [
        replace(
            trial,
            cov=trial.cov * (2 * half * prior / each + its) / (2 * half + its),
            df=its + 2 * half,
        )
        for trial, each, its in zip(trials, own.tolist(), df.tolist(), strict=True)
    ]


def _own(trials: Sequence[TrialMeans]) -> tuple[np.ndarray, np.ndarray]:
    return np.array([own_error(trial) for trial in trials]), np.array([t.df for t in trials])
