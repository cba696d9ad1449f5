"""The gain of deciding after a trial, against its closed form where everything is known."""

from __future__ import annotations

import numpy as np
import pytest

from trials.decide import gain_of_trial
from trials.decide.plan_gain import DRAWS
from trials.decide.spreads import SpreadPrior


def test_one_entry_that_is_shown_without_error_gains_its_better_half() -> None:
    """E max(0, t) of a normal with SD s is s / sqrt(2 pi); E |half-t on 3 df| is 2 sqrt(3) / pi."""
    found = gain_of_trial(1, 1e9, 10.0, SpreadPrior(entry_share=0.1, season_share=1e-9))
    expected = 0.1 * 2 * np.sqrt(3) / np.pi / np.sqrt(2 * np.pi)
    assert found.share == pytest.approx(expected, abs=4 * 0.15 / np.sqrt(DRAWS))
    assert found.best_kept == 1.0


def test_more_plots_gain_more_and_noise_gains_nothing() -> None:
    few, many = gain_of_trial(12, 2, 20.0), gain_of_trial(12, 6, 20.0)
    assert 0 < few.share < many.share
    assert few.best_kept < many.best_kept < 1
    assert gain_of_trial(12, 1, 1e6).share == pytest.approx(0, abs=0.01)
