"""Cells that say a number in another way: what each may mean, worked out by hand."""

from __future__ import annotations

from decimal import Decimal

import pytest

from trials.model.rows import Sheet
from trials.records.encoded_column import Cells
from trials.records.faults import Wrong
from trials.records.mapping.agreement import Agreed, as_understood, guess_for, taken_as
from trials.records.mapping.guess import Guess, guess_as
from trials.records.mapping.noted import KINDS, noted
from trials.records.mapping.plot_labels import KnownPlots
from trials.records.mapping.remembered import reading_of, reading_text
from trials.records.rules.cells import judge_cell
from trials.records.rules.forms import FORMS, Column, Kind, Range

ONE = {"H1": {"block": "1"}, "H2": {"block": "2"}}
PLOTS = KnownPlots(frozenset({"H1", "H2", "K2", "K3"}), {"T": ONE, "U": {"K2": {}, "K3": {}}})
STEMS = Column("stems", Kind.WHOLE, range=Range(0, 1_000_000))


def cells(text: str) -> Cells:
    lines = [line.split("|") for line in text.strip("\n").split("\n")]
    return Cells.of_rows("some.csv", "0" * 64, 1, lines[0], lines[1:], range(2, len(lines) + 1))


def alive(text: str, plot: str = "H1") -> Guess:
    found = guess_as(cells(f"tag~date~alive\n{plot}~2026-06-20~{text}".replace("~", "|")),
                     Sheet.STAND_COUNTS, PLOTS)  # fmt: skip
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("text", "kind", "readings"),
    [
        ("5+7", "sums", (12,)),
        ("5 + 7+1", "sums", (13,)),
        ("3-4", "ranges", (3, 4, "3.5")),
        ("3 to 5", "ranges", (3, 5, 4)),
        ("12+", "more or fewer", (12,)),
        ("1O", "look-alikes", (10,)),
        ("l2", "look-alikes", (12,)),
        ("1О", "look-alikes", (10,)),
        ("2026-03-04", "days in place of numbers", (3, 4)),
        ("about 12", "about", (12,)),
        ("~12", "about", (12,)),
        ("c. 12", "about", (12,)),
        ("12?", "about", (12,)),
        ("IIII", "tallies", (4, 5)),
        ("|||| |||| ||", "tallies", (10, 12)),
        ("####", "tallies", (4, 20)),
        ("3/4", "pairs", (7, 3, 4)),
        ("2 dozen + 3", "dozens", (27,)),
        ("3 bunches of 10", "products", (30,)),
        ("12 + 3 short", "sums with words", (12, 15, 12)),
        ("12 + 3 stems", "sums with words", (12, 15)),
        ("5 stems", "numbers of stems", (5,)),
    ],
)
def test_what_a_cell_may_mean(text: str, kind: str, readings: tuple[int | str, ...]) -> None:
    found = noted(text)
    assert found is not None
    assert found.kind == kind
    assert list(found.readings.values()) == [Decimal(value) for value in readings]
    assert kind in KINDS


@pytest.mark.parametrize("text", ["dead", "x", "-", "n/p", "12 cm", '12"', "=1+1", "", "9" * 99])
def test_no_number_is_made_out_where_none_is_said(text: str) -> None:
    assert noted(text) is None


@pytest.mark.parametrize("text", ["5+7", "3-4", "12+", "1O", "2026-03-04", "12 short", "IIII"])
def test_a_remedy_never_says_to_write_a_number_that_is_not_meant(text: str) -> None:
    wrong = judge_cell(text, STEMS)
    assert isinstance(wrong, Wrong)
    assert wrong.remedy.endswith("Write a whole number, at least 0 and at most 1,000,000.")
    found = noted(text)
    may_be = " or ".join(str(value) for value in found.readings.values() if value == int(value)) \
        if found is not None and not {"short", "2026-03-04"} & {*text.split()} else ""  # fmt: skip
    assert wrong.remedy.startswith(f"It may mean {may_be}. " if may_be else "Write")


def test_each_kind_is_asked_about_with_its_readings_and_read_by_the_answer() -> None:
    found = alive("5+7")
    (question,) = found.questions
    assert (question.key, question.answers) == ("sums", ("added up", "not recorded"))
    assert question.words == "'5+7' under 'alive' is a sum. Does it mean 12 (added up)?"
    again = guess_for(found.cells, Agreed(answers={"sums": "added up"}), PLOTS)
    assert again is not None
    rows = as_understood(again)
    assert rows is not None
    assert rows.row(0) == ("H1", "2026-06-20", "12")
    assert reading_of(reading_text(again.reading), "it") == again.reading
    left = guess_for(found.cells, Agreed(answers={"sums": "not recorded"}), PLOTS)
    assert left is not None
    assert as_understood(left) is not None
    assert len(as_understood(left) or ()) == 0


def test_the_middle_is_offered_where_it_is_a_whole_number() -> None:
    assert "middle" not in alive("3-4").questions[0].answers
    assert "middle" in alive("3-5").questions[0].answers


def test_full_width_digits_and_odd_blanks_are_the_digits_they_are() -> None:
    assert judge_cell("１２\u00a0", STEMS) == 12
    wrong = judge_cell("\u22123", STEMS)
    assert isinstance(wrong, Wrong)
    assert "below 0" in wrong.problem


def test_a_bunch_has_as_many_stems_as_the_answer_says() -> None:
    found = guess_as(cells("tag|date|stems|grade cm\nH1|2026-07-20|3 bu + 2|40"), Sheet.CUTS, PLOTS)
    assert found is not None
    assert [question.key for question in found.questions] == ["bunches"]
    again = guess_for(found.cells, Agreed(answers={"bunches": "10"}), PLOTS)
    assert again is not None
    rows = as_understood(again)
    assert rows is not None
    assert rows.row(0)[FORMS[Sheet.CUTS].names.index("stems")] == "32"


@pytest.mark.parametrize("code", ["h1", " H 1", "H-01", "plot H1", "#H1", "Н1"])
def test_a_code_that_is_spelled_otherwise_is_understood_and_shown(code: str) -> None:
    found = alive("3", code)
    assert found.questions == ()
    assert ("plots", "spelled alike") in found.reading.cells
    rows = as_understood(found)
    assert rows is not None
    assert rows.row(0)[0] == "H1"


def test_a_code_without_its_letters_is_asked_about() -> None:
    (one,) = alive("3", "1").questions
    assert (one.key, one.answers) == ("plots", ("T",))
    (two,) = alive("3", "2").questions
    assert two.answers == ("T", "U")
    assert "H2 of T or K2 of U" in two.words
    assert alive("3", "9").questions == ()  # no plot has it: the judge of records refuses it


def test_a_length_in_another_unit_is_not_renamed_but_read() -> None:
    own = cells("plot|cut_on|stem|length_mm\nH1|2026-07-20|1|465")
    found = guess_for(own, Agreed(), PLOTS)
    assert found is not None
    rows = as_understood(found)
    assert rows is not None
    assert rows.row(0) == ("H1", "2026-07-20", "1", "46.5")
    assert taken_as(found, "length_mm", None).reading.column("length_mm") is not None


def test_cuts_without_the_columns_that_may_be_empty_are_understood() -> None:
    found = guess_for(cells("plot|cut_on|grade_cm|stems\nH1|2026-07-20|40|3"), Agreed(), PLOTS)
    assert found is not None
    assert found.questions == ()
    rows = as_understood(found)
    assert rows is not None
    assert rows.row(0) == ("H1", "2026-07-20", "picked", "40", "3", "")
