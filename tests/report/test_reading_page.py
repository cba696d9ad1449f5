"""How a sheet would be read: each column, what else the reading says, and the next command."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from trials.model.rows import Sheet
from trials.records.encoded_column import Cells
from trials.records.mapping.guess import Guess
from trials.records.mapping.reading import (
    Blank,
    DateOrder,
    DecimalMark,
    Meaning,
    Question,
    ReadColumn,
    Reading,
    Spread,
    Unit,
)
from trials.report.reading_page import (
    LEFT_OUT,
    columns_table,
    question_lines,
    reading_lines,
    reading_page,
    rows_table,
)

COLUMNS = (
    ReadColumn("Plot", "plot", blank=Blank.AS_ABOVE),
    ReadColumn("Day", "cut_on"),
    ReadColumn("16 in", "stems", Unit.IN, sets=("grade_cm", "40")),
    ReadColumn("Weather", None),
)
ROWS = [["Z1", "1.7.", "12", "sun"], ["Z2", "1.7.", "9", ""], ["Total", "", "21", ""]]


def guess(rows: Sequence[Sequence[str]] = ROWS, questions: Any = (), **reading: Any) -> Guess:
    cells = Cells.of_rows(
        "sheet.csv", "", 1, [column.heading for column in COLUMNS], rows, range(2, len(rows) + 2)
    )
    return Guess(cells, Reading(Sheet.CUTS, COLUMNS, **reading), questions, (Sheet.CUTS,))


def test_each_column_is_named_with_what_it_is_taken_for() -> None:
    assert columns_table(guess()).rows == (
        ("Plot", "plot, a blank repeats the cell above"),
        ("Day", "cut_on"),
        ("16 in", "stems where grade_cm is 40, from inches"),
        ("Weather", LEFT_OUT),
    )


def test_a_heading_that_is_not_named_is_the_spreads() -> None:
    found = guess(spread=Spread("cut_on", "stems", below="grade_cm", unit=Unit.CM))
    wide = replace(found, reading=replace(found.reading, columns=COLUMNS[:1]))
    said = {row[0]: row[1] for row in columns_table(wide).rows}
    assert said["Day"] == "stems; the heading is the cut_on, and below it the grade_cm, in cm"
    plain = replace(found, reading=replace(found.reading, columns=(), spread=None))
    assert {is_ for _, is_ in columns_table(plain).rows} == {LEFT_OUT}


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        ({"always": (("trial", "Z26"),)}, ("trial", "Z26")),
        ({"trial": "Z26"}, ("Z26",)),
        ({"spread": Spread("cut_on", "stems")}, ("cut_on", "stems")),
        ({"dates": DateOrder.MONTH}, ("month first",)),
        ({"year": 2026}, ("2026",)),
        ({"decimal": DecimalMark.COMMA}, ("comma",)),
        ({"blank": Meaning.MISSED}, ("blank", "missed")),
        ({"marks": (("x", Meaning.ZERO),)}, ("x ", "zero")),
        ({"cells": (("ranges", "the lower"),)}, ("Ranges", "the lower")),
        ({"called": (("Em", "Ember"),)}, ("Em", "Ember")),
        ({"once": (("hidden rows", "left out"),)}, ("Hidden rows", "left out")),
        ({"grades": (30, 40)}, ("30, 40 cm",)),
    ],
)
def test_whatever_a_reading_says_is_a_sentence(
    reading: dict[str, Any], words: tuple[str, ...]
) -> None:
    rows = ROWS[:2]
    without = reading_lines(guess(rows))
    (line,) = [line for line in reading_lines(guess(rows, **reading)) if line not in without]
    assert all(word in line for word in words)
    assert line.endswith(".")


def test_a_point_before_a_fraction_needs_no_words() -> None:
    assert reading_lines(guess(ROWS[:2], decimal=DecimalMark.POINT)) == []


def test_rows_that_are_no_records_are_told_by_their_numbers() -> None:
    (line,) = reading_lines(guess())
    assert "total" in line
    assert line.endswith(": row 4.")
    repeated = guess(ROWS[:2])
    many = replace(repeated, cells=replace(repeated.cells, repeated=tuple(range(20, 32))))
    (line,) = reading_lines(many)
    assert line.endswith(f"rows {', '.join(map(str, range(20, 30)))} and 2 more.")
    ten = replace(repeated, cells=replace(repeated.cells, repeated=tuple(range(20, 30))))
    assert reading_lines(ten)[0].endswith("28, 29.")


def test_a_remark_is_shown_with_its_row() -> None:
    (line,) = reading_lines(guess([*ROWS[:2], ["", "", "", "rain all day, picked at noon"]]))
    assert "row 4" in line
    assert "rain all day" in line


def test_of_many_remarks_the_rest_is_told_by_its_rows() -> None:
    remarks = [["", "", "", f"rain until {hour}, picked later"] for hour in range(13)]
    lines = reading_lines(guess([*ROWS[:2], *remarks]))
    assert len(lines) == 11
    assert "row 13" in lines[9]
    assert lines[10] == "Left out as remarks too: rows 14, 15, 16."
    assert len(reading_lines(guess([*ROWS[:2], *remarks[:10]]))) == 10


def test_ditto_marks_are_said_to_repeat() -> None:
    (line,) = reading_lines(guess([ROWS[0], ['"', "2.7.", "4", ""]]))
    assert "above" in line


def test_the_first_rows_stand_with_their_place_in_the_source() -> None:
    table = rows_table(guess().cells)
    assert [column.heading for column in table.columns] == [
        "row",
        "Plot",
        "Day",
        "16 in",
        "Weather",
    ]
    assert table.rows[1] == ("3", "Z2", "1.7.", "9", "")


def test_the_page_asks_first_and_keeps_the_answers_given() -> None:
    asked = Question("dates", "Is 1.7. the first of July?", ("day first", "month first"))
    page = reading_page(guess(questions=(asked,)), None, ["my sheet.csv"], {"blank": "zero"})
    assert "Answer: day first, month first." in page
    assert "--answer blank=zero --answer dates=..." in page
    assert "'my sheet.csv'" in page
    assert "--agree" not in page
    assert "The first rows" not in page
    assert question_lines(Question("year", "Which year?", ())).endswith("Which year?")


def test_the_page_without_questions_asks_to_agree() -> None:
    found = guess()
    page = reading_page(found, found.cells.top(2), ["sheet.csv"])
    assert "tallybed load sheet.csv --agree" in page
    assert "--answer" not in page
    assert "Z2" in page
    assert "Total" not in page.partition("The first rows")[2]
    assert "The first rows" not in reading_page(found, found.cells.top(0), ["sheet.csv"])
