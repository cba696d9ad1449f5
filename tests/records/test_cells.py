from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import pytest

from trials.model.rows import Known, Sheet
from trials.records.faults import Wrong
from trials.records.rules.cells import judge_cell
from trials.records.rules.forms import FORMS, Column, Kind, Need, Range

if TYPE_CHECKING:
    from tests.records.conftest import Farm

NUMBER = Column("price", Kind.NUMBER, range=Range(0, 1_000_000))
DAY = Column("day", Kind.DATE)


@pytest.mark.parametrize(
    ("file", "row", "column", "cell", "problem", "remedy"),
    [
        ("stem_samples.csv", 2, "length_cm", "12 kg", "not a number", "Write a number"),
        ("stem_samples.csv", 2, "length_cm", "1,5", "not a number", "decimal point: 1.5"),
        ("stem_samples.csv", 2, "length_cm", "4.6e1", "not a number", "without E"),
        ("stem_samples.csv", 2, "length_cm", "900", "out of range", "at most 400"),
        ("stem_samples.csv", 2, "length_cm", "0", "out of range", "more than 0"),
        ("stem_samples.csv", 2, "length_cm", "", "is empty", "a number"),
        ("stem_samples.csv", 2, "length_cm", "tall", "not a number", "Write a number"),
        ("stem_samples.csv", 2, "length_cm", "nan", "not a number", "Write a number"),
        ("cuts.csv", 2, "stems", "-3", "below 0", "at least 0"),
        ("cuts.csv", 2, "stems", "2.5", "not a whole number", "without a fraction"),
        ("cuts.csv", 2, "grade_cm", "30.5", "not a whole number", "without a fraction"),
        ("cuts.csv", 2, "stems", "n/a", "not a number", "leave the cell empty"),
        ("cuts.csv", 2, "stems", "1,200", "not a number", "1200 (or 1.200"),
        ("cuts.csv", 2, "stems", "9" * 400, "out of range", "at most 1,000,000"),
        (
            "cuts.csv",
            2,
            "outcome",
            "pickd",
            "not one of this column's words",
            "Did you mean 'picked'?",
        ),
        ("cuts.csv", 2, "outcome", "", "is empty", "one of: picked, missed"),
        ("cuts.csv", 2, "cut_on", "20.7.2026", "year-month-day", "Write 2026-07-20 (20 July)"),
        ("cuts.csv", 2, "cut_on", "2026-7-20", "year-month-day", "Write 2026-07-20 (20 July)"),
        ("cuts.csv", 2, "cut_on", "2026-02-30", "no such day", "2026-02-28"),
        ("cuts.csv", 2, "cut_on", "2026-13-01", "no such day", "as 2026-08-31"),
        ("cuts.csv", 2, "cut_on", "20 July", "year-month-day", "2026-08-31"),
        ("cuts.csv", 2, "cut_on", "0206-07-20", "too far away", "four digits"),
        (
            "events.csv",
            2,
            "kind",
            "pinch",
            "not one of this column's words",
            "Did you mean 'pinched'?",
        ),
        ("plots.csv", 2, "plants_set", "0", "out of range", "at least 1"),
        ("plots.csv", 2, "plot", "A\n1", "several lines", "on one line"),
        ("seed_lots.csv", 2, "germination", "92", "out of range", "0.92 for 92%"),
        ("seed_lots.csv", 2, "germination", "92 %", "not a number", "as a share: 0.92"),
        ("seed_items.csv", 2, "available", "maybe", "not one of this column's words", "yes, no"),
        ("trials.csv", 2, "alpha", "0.5", "out of range", "less than 0.5"),
        ("trials.csv", 2, "alpha", "5", "out of range", "0.05 for 5%"),
        ("trials.csv", 2, "equivalence_margin", "some", "not an equivalence margin", "10%"),
        ("trials.csv", 2, "equivalence_margin", "-3", "not an equivalence margin", "above 0"),
        (
            "trials.csv",
            2,
            "primary_measure",
            "stems",
            "not one of this column's words",
            "stems_per_plant",
        ),
        ("trials.csv", 2, "factors", "variety", "does not say", "'variety on plots'"),
        (
            "trials.csv",
            2,
            "factors",
            "variety on pots",
            "not an experimental unit",
            "mean 'plots'?",
        ),
    ],
)
def test_a_cell_that_cannot_be_right(
    farm: Farm,
    known: Known,
    file: str,
    row: int,
    column: str,
    cell: str,
    problem: str,
    remedy: str,
) -> None:
    farm.only(file)
    farm.spoil(file, row, column, cell)
    # A store that knows all but this file, so that nothing else can be wrong.
    sheet = Sheet(file.removesuffix(".csv"))
    frames = {other: frame for other, frame in known.frames.items() if other is not sheet}
    fault = farm.fault(Known(frames, frozenset()))
    assert (fault.file, fault.row, fault.column) == (file, row, column)
    assert problem in fault.problem
    assert remedy in fault.remedy


def test_a_day_that_may_be_two_asks_which() -> None:
    wrong = judge_cell("01/02/2026", DAY)
    assert isinstance(wrong, Wrong)
    assert wrong.remedy == (
        "Which day is it? Write 2026-02-01 (1 February) or 2026-01-02 (2 January)."
    )


def test_the_day_number_of_a_spreadsheet_is_told() -> None:
    # Day 45658 of the 1900 date system is 1 January 2025 (common spreadsheet programs).
    wrong = judge_cell("45658", DAY)
    assert isinstance(wrong, Wrong)
    assert "2025-01-01" in wrong.remedy


@pytest.mark.parametrize(
    ("text", "value"),
    [("12", 12.0), (" 12.50 ", 12.5), ("+3", 3.0), (".5", 0.5), ("007", 7.0), ("-0", 0.0)],
)
def test_numbers(text: str, value: float) -> None:
    assert judge_cell(text, NUMBER) == value


@pytest.mark.parametrize("text", ["12_000", "٣", "0x1F", "inf", "1 2", "--3", "½", "1.2.3", "€ 3"])
def test_what_is_no_number(text: str) -> None:
    assert isinstance(judge_cell(text, NUMBER), Wrong)


def test_a_whole_number_may_be_written_with_a_point_and_noughts() -> None:
    value = judge_cell("12.0", Column("stems", Kind.WHOLE, range=Range(0, 100)))
    assert value == 12
    assert isinstance(value, int)


def test_days() -> None:
    assert judge_cell(" 2028-02-29 ", DAY) == date(2028, 2, 29)


def test_blanks_around_and_between_words_do_not_matter() -> None:
    name = FORMS[Sheet.VARIETIES].column("variety")
    assert judge_cell("\u00a0 Frost  Fern ", name) == "Frost Fern"
    # e and a combining acute accent are the letter é.
    assert judge_cell("Fane\u0301", name) == "Fané"


def test_choices_are_read_in_any_case() -> None:
    outcome = FORMS[Sheet.CUTS].column("outcome")
    assert judge_cell(" PICKED", outcome) == "picked"
    measure = FORMS[Sheet.TRIALS].column("primary_measure")
    assert judge_cell("Stems per plant", measure) == "stems_per_plant"


@pytest.mark.parametrize(
    ("text", "value"), [("3", "3"), ("2.50", "2.50"), ("10%", "10 %"), ("10   %", "10 %")]
)
def test_margins_keep_their_spelling(text: str, value: str) -> None:
    assert judge_cell(text, FORMS[Sheet.TRIALS].column("equivalence_margin")) == value


def test_an_empty_cell_is_nothing_where_it_may_be() -> None:
    assert judge_cell("  ", Column("note", Kind.TEXT, Need.NOTHING)) is None
    assert isinstance(judge_cell("  ", Column("note", Kind.TEXT)), Wrong)
