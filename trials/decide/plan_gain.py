"""What deciding after a trial is expected to earn beyond deciding now, before it is grown.

Preposterior analysis by simulation (Raiffa & Schlaifer 1961, Applied Statistical Decision Theory,
chapter 5): entries are a sample like those of `predictions`, the check is one of them whose worth
is as uncertain as theirs, and now the check is grown.

Formula: gain = E(worth of the first choice after the trial) - worth of the check, as a share of the
    mean.
Limits: Before any record of these entries, so that the SDs come from the prior alone.
Source: Raiffa & Schlaifer 1961, Applied Statistical Decision Theory, chapter 5.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trials.decide.draws import Deviates
from trials.decide.spreads import SpreadPrior

DRAWS = 8000
ADVANCED = 0.25  # of many entries, the share that is grown again after a screening


@dataclass(frozen=True, slots=True)
class Gain:
    """As a share of the measure's mean: what the first choice after the trial earns beyond now.

    ``best_kept`` is the chance that the best entry is in the trial's first quarter.
    """

    share: float
    best_kept: float


def gain_of_trial(
    entries: int, replicates: float, cv_percent: float, prior: SpreadPrior | None = None
) -> Gain:
    """The gain of a trial of so many new entries, each in so many plots, over one season.

    ``cv_percent`` is the plots' coefficient of variation. The SDs of entries and seasons are drawn
    from the prior; given them each entry's mean is shrunk by what it is worth.
    """
    prior = prior or SpreadPrior()
    deviates = Deviates(1)
    # A half-t on 3 degrees of freedom and a half-normal.
    entry = prior.entry_share * np.abs(deviates.student(3.0, DRAWS, 1))
    season = prior.season_share * np.abs(deviates.normal(DRAWS, 1))
    noise = season**2 + (cv_percent / 100) ** 2 / replicates
    true = entry * deviates.normal(DRAWS, entries)
    seen = true + np.sqrt(noise) * deviates.normal(DRAWS, entries)
    expected = seen * entry**2 / (entry**2 + noise)
    chosen = np.take_along_axis(true, expected.argmax(axis=1)[:, None], axis=1)
    gain = np.where(expected.max(axis=1) > 0, chosen[:, 0], 0.0)
    kept = max(int(np.ceil(ADVANCED * entries)), 1)
    rank = (-seen).argsort(axis=1).argsort(axis=1)
    best = true.argmax(axis=1)
    first = np.take_along_axis(rank, best[:, None], axis=1) < kept
    return Gain(float(gain.mean()), float(first.mean()))
