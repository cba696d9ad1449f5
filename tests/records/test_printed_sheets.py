from __future__ import annotations

import pytest

from trials.model.units import UnitSystem
from trials.records.mapping.printed_sheets import (
    grade_column,
    printed_reading,
    stem_column,
)

BEFORE = ["plot", "what grows there", "cut_on"]


@pytest.mark.parametrize("units", list(UnitSystem))
def test_every_grade_is_read_back_from_its_heading(units: UnitSystem) -> None:
    grades = range(10, 201)
    reading = printed_reading([*BEFORE, "missed", *(grade_column(each, units) for each in grades)])
    assert reading is not None
    assert [column.sets for column in reading.columns[4:]] == [
        ("grade_cm", str(grade)) for grade in grades
    ]


@pytest.mark.parametrize("units", list(UnitSystem))
def test_lengths_are_read_in_the_unit_of_their_heading(units: UnitSystem) -> None:
    reading = printed_reading([*BEFORE, stem_column(1, units)])
    assert reading is not None
    assert reading.columns[3].unit == ("in" if units is UnitSystem.US else "cm")


@pytest.mark.parametrize(
    "heading",
    [
        BEFORE,
        [*BEFORE, "missed"],
        [*BEFORE, "missed", "40 cm", "remarks"],
        [*BEFORE, "stem 1, cm", "stem 1, cm"],
        ["plot", "cut_on", "missed", "40 cm"],
    ],
)
def test_a_table_with_other_headings_is_not_ours(heading: list[str]) -> None:
    assert printed_reading(heading) is None
