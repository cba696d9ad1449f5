"""The file of a farm's own figures of its crops: which figures there are, and possible values."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from trials.model.crop_facts import Fact, SeedFact
from trials.model.rows import Sheet
from trials.records.rules.crops import LIMITS

if TYPE_CHECKING:
    from tests.records.conftest import Farm


def test_every_figure_has_limits() -> None:
    assert set(LIMITS) == {*Fact, *SeedFact}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("column", "cell", "problem", "remedy"),
    [
        ("figure", "days_to_blom", "'days_to_blom' is not one of", "Did you mean 'days_to_bloom'?"),
        ("figure", "colour", "'colour' is not one of", "Write one of: days_to_bloom, direct_sown"),
        ("value", "0", "days_to_bloom cannot be 0", "a whole number, at least 1 and at most 730"),
        ("value", "60.5", "days_to_bloom cannot be 60.5", "a whole number"),
        ("value", "-3", "'-3' is below 0", "at least 0"),
        ("value", "soon", "'soon' is not a number", "Write a number"),
        ("value", "", "The cell is empty", "Write a number"),
        ("source", "a friend", "'a friend' is not one of", "Write one of: own records,"),
        ("source", "this plan", "'this plan' is not one of", "Write one of: own records,"),
        ("crop", "Zinnia", "'Zinnia' is written 'zinnia' elsewhere", "in one way"),
    ],
)
def test_what_cannot_be_is_refused_with_its_place(
    farm: Farm, column: str, cell: str, problem: str, remedy: str
) -> None:
    farm.spoil("crops.csv", 2, column, cell)
    fault = farm.fault()
    assert (fault.file, fault.row, fault.column) == ("crops.csv", 2, column)
    assert problem in fault.problem
    assert remedy in fault.remedy


def test_degrees_fahrenheit_are_told_from_celsius(farm: Farm) -> None:
    """70 °F is 21.1 °C: five ninths of 70 less 32."""
    farm.spoil("crops.csv", 3, "value", "70")
    fault = farm.fault()
    assert "germination_c cannot be 70" in fault.problem
    assert "70 °F is 21 °C" in fault.remedy


def test_one_figure_of_a_crop_has_one_row(farm: Farm) -> None:
    farm.add("crops.csv", "zinnia,days_to_bloom,70,own records")
    fault = farm.fault()
    assert (fault.file, fault.row) == ("crops.csv", 4)
    assert "the same record as row 2" in fault.problem


def test_whether_it_is_sown_direct_is_one_or_nought(farm: Farm) -> None:
    farm.add("crops.csv", "zinnia,direct_sown,1,own records")
    assert len(farm.read().frames[Sheet.CROPS]) == 3
    farm.spoil("crops.csv", 4, "value", "0.5")
    assert "1 for sown direct, 0 for raised in trays" in farm.fault().remedy


def test_germination_lost_is_in_points_and_a_share_is_refused(farm: Farm) -> None:
    farm.add("crops.csv", "zinnia,germination_points_lost_per_year,6.5,own records")
    assert len(farm.read().frames[Sheet.CROPS]) == 3
    farm.spoil("crops.csv", 4, "value", "0.05")
    assert "5 where 90% falls to 85% in a year" in farm.fault().remedy
