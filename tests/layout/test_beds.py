"""Bed arithmetic: the trade's own figures, and plots that hold what they say."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from trials.layout.field.beds import density, plants_along, plants_in, plot_ground
from trials.layout.plan import Planting
from trials.model.trial import AppliedTo, Factor
from trials.model.units import feet_to_m, inches_to_cm
from trials.stats.results import LayoutKind

if TYPE_CHECKING:
    from tests.layout.conftest import Planner


@pytest.mark.parametrize(
    ("along_in", "across_in", "printed"), [(9, 9, 1.78), (12, 12, 1.0), (6, 6, 4.0), (6, 9, 2.67)]
)
def test_plants_a_square_foot_as_the_trade_prints_them(
    along_in: float, across_in: float, printed: float
) -> None:
    """144 / (a x b inches), common practice."""
    found = density(Planting(4, inches_to_cm(along_in)), 1.2, inches_to_cm(across_in))
    assert round(found.per_sq_foot_by_formula, 2) == printed


def test_plants_a_square_metre_as_the_trade_prints_them() -> None:
    """10,000 / (a x b cm), common practice: 30 x 30 cm is 11.1."""
    assert round(density(Planting(4, 30), 1.2).per_m2_by_formula, 1) == 11.1


def test_four_rows_at_nine_inches_on_a_four_foot_bed() -> None:
    """5.33 a foot of bed and 1.33 a square foot of bed, where the formula claims 1.78."""
    found = density(Planting(4, inches_to_cm(9)), feet_to_m(4))
    assert round(found.per_foot_of_bed, 2) == 5.33
    assert round(found.per_sq_foot_of_bed, 2) == 1.33
    assert round(found.per_sq_foot_by_formula, 2) == 1.78


def test_a_three_foot_bed_at_nine_inches_has_fewer_than_the_two_often_claimed() -> None:
    """Four rows fill a 3-ft bed as the formula does, 1.78 a square foot; only five pass 2."""
    four, five = (density(Planting(rows, inches_to_cm(9)), feet_to_m(3)) for rows in (4, 5))
    assert four.per_sq_foot_of_bed == pytest.approx(four.per_sq_foot_by_formula)
    assert round(four.per_sq_foot_of_bed, 2) == 1.78
    assert round(five.per_sq_foot_of_bed, 2) == 2.22


def test_rows_further_apart_than_plants_enter_the_formula() -> None:
    assert density(Planting(3, 20), 1.0, 25).per_m2_by_formula == 20.0


@pytest.mark.parametrize(
    ("length_m", "spacing_cm", "plants"),
    [
        (1.2, 30, 4),
        (1.19, 30, 3),
        (0.9, 30, 3),
        (0.3, 15, 2),
        (0.7, 10, 7),
        (2.3, 23, 10),
        (0, 9, 0),
    ],
)
def test_a_row_holds_whole_plants(length_m: float, spacing_cm: float, plants: int) -> None:
    assert plants_along(length_m, spacing_cm) == plants


def test_a_stretch_of_bed_holds_whole_rows_of_whole_plants() -> None:
    assert plants_in(10.0, Planting(5, 23)) == 5 * 43


def test_a_plot_has_its_plants_and_guards(planner: Planner) -> None:
    ground = plot_ground(planner.plan(LayoutKind.COMPLETE_BLOCKS, planner.factor(3)))
    assert (ground.plants_set, ground.guards_set) == (16, 8)
    assert (ground.net_length_m, ground.guard_length_m) == (1.2, 0.3)
    assert ground.length_m == pytest.approx(1.8)


def test_plants_that_do_not_fill_a_rank_are_rounded_up(planner: Planner) -> None:
    plan = planner.plan(LayoutKind.COMPLETE_BLOCKS, planner.factor(3), plants_per_plot=17)
    assert plot_ground(plan).plants_set == 20
    assert plot_ground(plan).net_length_m == 1.5


def test_spacings_change_the_plants_and_not_the_plot(planner: Planner) -> None:
    spacing = Factor("spacing_cm", ("15", "20", "40"), AppliedTo.WHOLE_PLOT)
    plan = planner.plan(LayoutKind.SPLIT_PLOT, spacing, planner.factor(3))
    grounds = [plot_ground(plan, (("spacing_cm", level),)) for level in spacing.levels]
    assert {ground.net_length_m for ground in grounds} == {1.2}
    assert {ground.guard_length_m for ground in grounds} == {0.4}
    assert [ground.plants_set for ground in grounds] == [32, 24, 12]
    assert [ground.guards_set for ground in grounds] == [16, 16, 8]
