"""Spread by plot size, against the variance of a mean worked out by hand."""

from __future__ import annotations

import pytest

from trials.layout.power.plot_size_variation import TrialSpread, sized_spread
from trials.layout.power.variation import Spread, SpreadSource, assumed_spread


def own(cv_percent: float) -> Spread:
    return Spread(cv_percent, SpreadSource.OWN_TRIALS, df=30, trials=2)


def test_plants_and_plots_each_have_their_part() -> None:
    """15 % at 16 plants that differ by 40 %: 225 = 125 + 1600 / 16; at 8 plants 125 + 200 = 325."""
    stated = Spread(15.0, SpreadSource.STATED)
    sized = sized_spread(stated, 16)
    assert sized.between_cv_percent == pytest.approx(125**0.5)
    assert sized.at(8).cv_percent == pytest.approx(325**0.5)
    assert sized.at(16) == stated


@pytest.mark.parametrize(("plants", "cv_percent"), [(3, 26), (6, 20), (12, 16), (18, 15)])
def test_the_assumed_spread_is_that_of_plots_of_18_plants(plants: int, cv_percent: int) -> None:
    """225 = between^2 + 1600 / 18 at 18 plants; at n plants between^2 + 1600 / n."""
    by_hand = 225 - 1600 / 18 + 1600 / plants
    found = sized_spread(assumed_spread(), plants).at(plants).cv_percent
    assert found == pytest.approx(by_hand**0.5)
    assert round(found) == cv_percent


def test_plants_take_no_more_than_there_is() -> None:
    """10 % at 9 plants leaves plants 30 % at most: all of it is theirs, and 4 plants make 15 %."""
    sized = sized_spread(Spread(10.0, SpreadSource.STATED), 9)
    assert (sized.within_cv_percent, sized.between_cv_percent) == pytest.approx((30.0, 0.0))
    assert sized.at(4).cv_percent == pytest.approx(15.0)


def test_own_trials_of_one_size_are_brought_to_the_size_planned() -> None:
    trials = [TrialSpread("a", 15.0, 10, 16), TrialSpread("b", 15.0, 20, 16)]
    sized = sized_spread(own(15.0), 8, trials)
    assert sized.plants == 16
    assert sized.at(8).cv_percent == pytest.approx(325**0.5)


def test_own_trials_of_several_sizes_follow_smiths_law() -> None:
    """20 % at 4 plants and 10 % at 16: the variance falls as the size, so 14.14 % at 8."""
    trials = [TrialSpread("a", 20.0, 10, 4), TrialSpread("b", 10.0, 10, 16)]
    sized = sized_spread(own(15.8), 8, trials)
    assert sized.law is not None
    assert sized.law.b == pytest.approx(1.0)
    assert sized.at(8).cv_percent == pytest.approx(200**0.5)


def test_a_law_that_cannot_be_is_not_followed() -> None:
    """Larger plots that differ more: chance, not a law."""
    trials = [TrialSpread("a", 10.0, 10, 4), TrialSpread("b", 20.0, 10, 16)]
    assert sized_spread(own(15.8), 8, trials).law is None


def test_larger_units_keep_their_own_part() -> None:
    spread = Spread(15.0, SpreadSource.STATED, whole_plot_cv_percent=6.0)
    assert sized_spread(spread, 16).at(8).larger_units_cv_percent == 6.0
