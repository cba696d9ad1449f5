"""Tables on one sheet, found by hand in small grids."""

from __future__ import annotations

import pytest

from trials.records.files.sheet_parts import is_total, parts_of


def grid(text: str) -> list[list[str]]:
    return [line.split("|") for line in text.strip("\n").split("\n")]


def test_a_day_over_grades_is_part_of_each_heading() -> None:
    (part,) = parts_of(grid("|20/7/26||27/7/26|\nPlot|30 cm|40 cm|30 cm|40 cm\nA1|1|2|3|4"), 1)
    assert part.heading == (
        *("Plot", "20/7/26 / 30 cm", "20/7/26 / 40 cm", "27/7/26 / 30 cm", "27/7/26 / 40 cm"),
    )
    assert (part.top, part.start, part.stop) == (1, 2, 3)


def test_units_under_the_headings_are_part_of_them() -> None:
    (part,) = parts_of(grid("Plot|Date|Length\n||(cm)\nA1|2026-07-20|46"), 0)
    assert part.heading == ("Plot", "Date", "Length (cm)")
    assert part.start == 2


def test_a_row_of_records_with_its_first_cell_empty_is_no_heading() -> None:
    (part,) = parts_of(grid("Plot|Date|Alive||\n|A1|2026-07-20|46|3\nA2|2026-07-20|4||"), 0)
    assert part.heading[:3] == ("Plot", "Date", "Alive")
    assert part.start == 1


def test_tables_below_and_beside_and_repeated_headings() -> None:
    below = parts_of(grid("Plot|Date|Alive\nA1|d|3\n||\nPlot|Date|Score\nA1|d|4"), 0)
    assert [(part.top, part.stop) for part in below] == [(0, 3), (3, 5)]
    beside = parts_of(grid("Plot|Alive||Plot|Alive\nA1|3||A2|4"), 0)
    assert [(part.left, part.right) for part in beside] == [(0, 3), (3, 5)]
    (again,) = parts_of(grid("Plot|Date|Alive\nA1|d|3\nPlot|Date|Alive\nA2|d|4"), 0)
    assert again.repeated == (2,)


def test_titles_stand_above_the_headings() -> None:
    (part,) = parts_of(grid("Low Field|2026|\nPicked|20 July 2026|\nPlot|Grade|Stems\nA1|40|3"), 2)
    assert part.titles == ("Low Field 2026", "Picked 20 July 2026")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("Total", True),
        ("TOTAL:", True),
        ("Sub-total", True),
        ("Total week 31", True),
        ("Grand total", True),
        ("mean", True),
        ("all well", False),
        ("total loss of the plot by hail", False),
        ("@SUM(A1)", False),
        ("Ember", False),
    ],
)
def test_what_says_that_it_is_a_total(text: str, says: bool) -> None:
    assert is_total(text) is says
