from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trials.decide import Raising, seeds_for_beds, seeds_for_stems, seeds_to_buy

RAISING = Raising(survival=0.92, germination=0.80, usable=0.90, overage=0.10)


def test_from_stems_to_seed_by_hand() -> None:
    # 1800 / 4.9 = 367.3; 368 / 0.92 = 400 exactly; 400 / (0.8 x 0.9) x 1.1 = 611.1
    wanted = seeds_for_stems(1800, 4.9, RAISING)
    assert (wanted.plants, wanted.plants_set, wanted.seeds) == (368, 400, 612)


def test_from_beds_to_seed_by_hand() -> None:
    # 12.5 m x 17.5 plants/m = 218.75 a sowing, three times 219; 657 / 0.72 x 1.1 = 1003.75
    wanted = seeds_for_beds(12.5, 17.5, 3, RAISING)
    assert (wanted.plants, wanted.plants_set, wanted.seeds) == (None, 657, 1004)


@pytest.mark.parametrize(
    ("bed_m", "plants_per_m", "plants"),
    [(5 / 3, 3, 5), (0.1 * 3, 10, 3), (1.1, 30, 33), (7 * 0.1, 10, 7)],
)
def test_whole_plants_are_not_rounded_up_by_stray_digits(
    bed_m: float, plants_per_m: float, plants: int
) -> None:
    sure = Raising(survival=1, germination=1)
    assert seeds_for_beds(bed_m, plants_per_m, 1, sure).seeds == plants


def test_two_seeds_a_cell_fill_more_cells() -> None:
    # A cell is empty where both seeds fail: 1 - 0.28 x 0.28 = 0.9216; 100 / 0.9216 = 108.5
    two = Raising(survival=1, germination=0.80, usable=0.90, seeds_per_cell=2)
    assert seeds_for_beds(10, 10, 1, two).seeds == 2 * 109


def test_old_seed_counts_by_its_germination() -> None:
    # 200 old seeds at 60 % do for 200 x 0.6 / 0.8 = 150 new ones
    assert seeds_to_buy(612, 200, 0.60, 0.80) == 462
    assert seeds_to_buy(100, 200, 0.60, 0.80) == 0
    assert seeds_to_buy(10, 1, 0.60, 0.80) == 10


@given(
    stems=st.integers(1, 50_000),
    per_plant=st.integers(5, 300).map(lambda tenths: tenths / 10),
    survival=st.integers(50, 100).map(lambda percent: percent / 100),
    germination=st.integers(50, 100).map(lambda percent: percent / 100),
)
def test_each_step_is_enough_and_one_fewer_is_not(
    stems: int, per_plant: float, survival: float, germination: float
) -> None:
    wanted = seeds_for_stems(stems, per_plant, Raising(survival, germination))
    assert wanted.plants is not None
    tenths, living, sprouting = (
        round(x) for x in (per_plant * 10, survival * 100, germination * 100)
    )
    assert wanted.plants * tenths >= stems * 10 > (wanted.plants - 1) * tenths
    assert wanted.plants_set * living >= wanted.plants * 100 > (wanted.plants_set - 1) * living
    assert wanted.seeds * sprouting >= wanted.plants_set * 100 > (wanted.seeds - 1) * sprouting
    assert wanted.seeds == math.ceil(wanted.plants_set * 100 / sprouting)


@pytest.mark.parametrize(
    "wrong",
    [
        {"survival": 0.0},
        {"germination": 80.0},
        {"usable": -0.1},
        {"overage": -0.1},
        {"seeds_per_cell": 0},
    ],
)
def test_shares_that_cannot_be_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="not"):
        Raising(**({"survival": 0.9, "germination": 0.8} | wrong))  # type: ignore[arg-type]


def test_no_stems_a_plant_is_refused() -> None:
    with pytest.raises(ValueError, match="above 0"):
        seeds_for_stems(100, 0, RAISING)
