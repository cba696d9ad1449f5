"""From stems wanted to metres of bed, by hand."""

from __future__ import annotations

import pytest

from trials.decide import OnHand, Sowing, bed_needs, less_on_hand, sowing_for_stems
from trials.decide.curve import SowingShare


def test_from_stems_to_bed_by_hand() -> None:
    # Two varieties that give 4.5 and 5.3 at least: 1800 / 4.9 = 367.3; 368 / 0.92 = 400; at 16 a
    # metre, sown twice: 400 / 16 / 2 = 12.5 m.
    found = sowing_for_stems(1800, [4.5, 5.3], 0.92, 16.0, Sowing(0.0, successions=2))
    assert found.bed_metres == 12.5
    assert found.wanted is not None
    assert (found.wanted.plants, found.wanted.plants_set) == (368, 400)
    assert found.wanted.stems_per_plant == pytest.approx(4.9)
    needs = bed_needs(found, ["a", "b"], 16.0, {})
    assert sum(need.plants_set for need in needs) == 400


def test_later_sowings_that_give_less_take_more_bed_by_hand() -> None:
    # Three sowings that give all, half and none of a season: half on average. 1200 stems at 8 a
    # plant and season are 1200 / (8 x 0.5) = 300 plants; at 10 a metre, 300 / 10 / 3 = 10 m each.
    later = [SowingShare(1.0, 0), SowingShare(0.5, 4), SowingShare(0.0, 2)]
    found = sowing_for_stems(1200, [8.0], 1.0, 10.0, Sowing(0.0, successions=3), later)
    assert found.bed_metres == 10.0
    assert found.wanted is not None
    assert found.wanted.plants == found.wanted.plants_set == 300
    assert (found.wanted.shares, found.wanted.recorded) == ((1.0, 0.5, 0.0), (0, 4, 2))


def test_the_bed_is_rounded_up_to_what_a_tape_shows() -> None:
    # 100 plants at 13 a metre are 7.69 m.
    found = sowing_for_stems(500, [5.0], 1.0, 13.0, Sowing(0.0))
    assert found.bed_metres == 7.7
    (need,) = bed_needs(found, ["a"], 13.0, {})
    assert need.plants_set >= 100


def test_seed_on_hand_is_sown_first_and_counts_by_its_germination() -> None:
    # 40 plants at 90 % usable, 10 % more: at 0.8 it takes 40 / 0.72 x 1.1 = 61.1, so 62 seeds.
    # 30 seeds that germinate at 0.4 are worth 15 new ones, 10 at 0.8 are 10: 62 - 15 - 10 = 37.
    needs = bed_needs(Sowing(10.0), ["a", "b"], 8.0, {"a": 0.8, "b": 0.8})
    shelf = [OnHand("a", 30, 0.4), OnHand("a", 10, 0.8)]
    first, other = less_on_hand(needs, shelf)
    assert (first.seeds, first.on_hand, first.to_buy) == (62, 40, 37)
    assert (other.seeds, other.on_hand, other.to_buy) == (62, 0, 62)
    (plenty, _) = less_on_hand(needs, [OnHand("a", 500, 0.4)])
    assert plenty.to_buy == 0
