"""Vase life by variety: means over plots, their limits, and nothing where nothing was tested."""

from __future__ import annotations

import pytest
from scipy import stats

from trials.decide import VaseTest, vase_lives

TESTS = [
    VaseTest("t1", "1", "A", 8.0),
    VaseTest("t1", "2", "A", 9.0),
    VaseTest("t1", "3", "B", 6.0),
    VaseTest("t1", "4", "B", 7.0),
    VaseTest("t2", "5", "A", 7.0),
]


def test_a_variety_has_the_mean_of_its_plots_longest_first() -> None:
    first, second = vase_lives(TESTS)
    assert (first.variety, first.days, first.plots, first.trials) == ("A", 8.0, 3, ("t1", "t2"))
    assert (second.variety, second.days, second.plots) == ("B", 6.5, 2)


def test_the_limits_rest_on_the_plots_within_variety_and_trial() -> None:
    first, _ = vase_lives(TESTS)
    # Squares within: 0.5 + 0.5 + 0 on 1 + 1 + 0 degrees of freedom, so the variance is 0.5.
    half = stats.t.ppf(0.975, 2) * (0.5 / 3) ** 0.5
    assert first.low == pytest.approx(8 - half)
    assert first.high == pytest.approx(8 + half)


def test_single_plots_have_no_limits() -> None:
    (only,) = vase_lives(TESTS[-1:])
    assert (only.days, only.low, only.high) == (7.0, None, None)
    assert vase_lives([]) == ()
