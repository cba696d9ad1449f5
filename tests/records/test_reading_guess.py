from __future__ import annotations

import pytest

from trials.model.rows import Sheet
from trials.records.encoded_column import Cells
from trials.records.mapping.agreement import Agreed, as_understood, guess_for
from trials.records.mapping.answers import answered
from trials.records.mapping.guess import Guess, guess
from trials.records.mapping.plot_labels import KnownPlots
from trials.records.mapping.reading import (
    DateOrder,
    DecimalMark,
    Meaning,
    ReadColumn,
    Spread,
    Unit,
)
from trials.records.rules.forms import FORMS

PLOTS = KnownPlots(frozenset({"A1", "A2"}))


def cells(text: str, file: str = "some.csv") -> Cells:
    """A table written with bars between its cells."""
    lines = [line.split("|") for line in text.strip("\n").split("\n")]
    return Cells.of_rows(file, "0" * 64, 1, lines[0], lines[1:], range(2, len(lines) + 1))


def guessed(text: str, file: str = "some.csv") -> Guess:
    found = guess(cells(text, file), PLOTS)
    assert found is not None
    return found


def rows(found: Guess, **answers: str) -> list[tuple[str, ...]]:
    """What the sheet comes to once the questions are answered by their keys, _ for a blank."""
    agreed = Agreed(answers=answers)
    again = guess_for(found.cells, agreed, PLOTS)
    assert again is not None
    assert again.questions == ()
    understood = as_understood(again)
    assert understood is not None
    return [understood.row(place) for place in range(len(understood))]


def asked(found: Guess) -> list[str]:
    return [question.key for question in found.questions]


def test_a_column_for_each_date() -> None:
    found = guessed("Tag|Sort|20/7/26|27/7/26|Total\nA1|Ember|12|3|15\nA2|Fern||9|9", "cuts.csv")
    assert found.reading.sheet is Sheet.CUTS
    assert found.reading.spread == Spread("cut_on", "stems")
    assert found.reading.column("Total") == ReadColumn("Total", None)
    assert found.reading.dates is DateOrder.DAY
    assert asked(found) == ["blank", "grade_cm"]
    reading = answered(answered(found.reading, "blank", "zero"), "grade_cm", "40")
    understood = as_understood(Guess(found.cells, reading, (), found.sheets))
    assert understood is not None
    assert understood.heading == FORMS[Sheet.CUTS].names
    assert [understood.row(place) for place in range(4)] == [
        ("A1", "2026-07-20", "picked", "40", "12", ""),
        ("A1", "2026-07-27", "picked", "40", "3", ""),
        ("A2", "2026-07-20", "picked", "40", "0", ""),
        ("A2", "2026-07-27", "picked", "40", "9", ""),
    ]
    assert understood.row_numbers.tolist() == [2, 2, 3, 3]
    assert understood.spread_over is not None
    assert [understood.spread[code] for code in understood.spread_over] == [
        *("20/7/26", "27/7/26", "20/7/26", "27/7/26"),
    ]


def test_a_column_for_each_plot() -> None:
    found = guessed("Day|A1|A2\n2026-07-20|12|4", "stems.csv")
    assert found.reading.spread == Spread("plot", "stems")
    assert asked(found) == ["grade_cm"]


def test_a_column_for_each_grade_and_the_reasons_beside() -> None:
    found = guessed('Plot|Cut on|12"|16"|20"+|bent\nA1|20 Jul 2026|3|12|1|2')
    assert found.reading.spread == Spread("grade_cm", "stems", Unit.IN)
    bent = ReadColumn("bent", "stems", None, ("cull_reason", "bent"))
    assert found.reading.column("bent") == bent
    assert asked(found) == []
    # 12, 16 and 20 inches are 30.48, 40.64 and 50.8 cm
    assert rows(found, sheet="cuts") == [
        ("A1", "2026-07-20", "picked", "30", "3", ""),
        ("A1", "2026-07-20", "picked", "41", "12", ""),
        ("A1", "2026-07-20", "picked", "51", "1", ""),
        ("A1", "2026-07-20", "picked", "", "2", "bent"),
    ]


def test_lengths_in_any_unit() -> None:
    found = guessed("Plot|Date|Stem length (in)\nA1|2026-07-20|12\nA1|2026-07-20|18 1/2")
    assert found.reading.sheet is Sheet.STEM_SAMPLES
    assert asked(found) == []
    assert rows(found, sheet="x") == [
        ("A1", "2026-07-20", "1", "30.48"),
        ("A1", "2026-07-20", "2", "46.99"),  # 18.5 x 2.54
    ]
    in_mm = guessed("plot|date|length|sample\nA1|2026-07-20|465 mm|1")
    assert rows(in_mm, sheet="x") == [("A1", "2026-07-20", "1", "46.5")]


@pytest.mark.parametrize(
    ("text", "question"),
    [
        ("plot|date|alive\nA1|01/02/2026|12", "dates"),
        ("plot|date|alive\nA1|3 Jul|12", "year"),
        ("plot|date|alive\nA1|2026-07-20|", "blank"),
        ("plot|date|alive\nA1|2026-07-20|x\nA2|2026-07-20|3", "mark x"),
        ("plot|date|length\nA1|2026-07-20|12", "unit of length"),
        ("plot|date|score\nA1|2026-07-20|1,234", "decimal"),
        ("plot|date|score\nA1|2026-07-20|1,5\nA1|2026-07-20|1.5", "decimal"),
        ("plot|cut|30|40\nA1|2026-07-20|1|2", "unit"),
        ("plot|stems|grade cm\nA1|12|40", "cut_on"),
        ("plot|date|score\nA1|2026-07-20|3", "trait"),
    ],
)
def test_what_could_mean_two_things_is_asked(text: str, question: str) -> None:
    assert question in asked(guessed(text))


def test_what_can_mean_but_one_thing_is_not_asked() -> None:
    found = guessed("plot|date|alive\nA1|13/02/2026|12\nA2|14/02/2026|0")
    assert asked(found) == []
    assert found.reading.dates is DateOrder.DAY
    assert asked(guessed("plot|date|alive\nA1|05/05/2026|12")) == []
    assert guessed("plot|date|score\nA1|2026-07-20|1,5").reading.decimal is DecimalMark.COMMA


def test_what_holds_for_every_row_is_told_once() -> None:
    found = guessed("Supplier|SKU|Cultivar|Seeds|Price|In stock\nBarn|E9|Ember|1,000|12.50|yes")
    assert asked(found) == ["from_packs"]
    assert rows(found, from_packs="1", sheet="seed_items")[0][3:] == (
        *("1000", "12.5", "1", "yes"),
    )


def test_an_area_is_read_from_either_system() -> None:
    heading = "Trial|Plot|Rep|Bed|Pos|Cultivar|Plants|Length (ft)|Area{}|Planted\n"
    row = "Z|A9|2|North|3|Ember|16|4|10|2026-05-20"
    assert asked(guessed(heading.format("") + row)) == ["unit of Area"]
    found = guessed(heading.format(" (sq ft)") + row)
    assert asked(found) == []
    assert found.reading.column("Cultivar") == ReadColumn("Cultivar", "variety")
    # a foot is 0.3048 m: 4 feet are 1.2192 m, and 10 square feet 0.9290304 square metres
    assert rows(found, sheet="plots")[0][6:9] == ("1.2192", "0.929", "2026-05-20")


def test_totals_are_no_records() -> None:
    found = guessed("plot|date|alive\nA1|2026-06-20|12\nTotal||12")
    assert rows(found, blank="zero") == [("A1", "2026-06-20", "12")]


def test_a_missed_pick_is_neither_zero_nor_blank() -> None:
    found = guessed("plot|20.7.26|27.7.26\nA1|missed|x\nA2||5", "stems.csv")
    reading = found.reading
    for key, answer in (("blank", "not recorded"), ("mark x", "zero"), ("grade_cm", "30")):
        reading = answered(reading, key, answer)
    assert reading.marks == (("x", Meaning.ZERO),)
    understood = as_understood(Guess(found.cells, reading, (), found.sheets))
    assert understood is not None
    assert [understood.row(place) for place in range(len(understood))] == [
        ("A1", "2026-07-20", "missed", "", "", ""),
        ("A1", "2026-07-27", "picked", "30", "0", ""),
        ("A2", "2026-07-27", "picked", "30", "5", ""),
    ]


def test_a_blank_row_of_grades_is_one_missed_pick() -> None:
    found = guessed("plot|day|30 cm|40 cm\nA1|2026-07-20||\nA2|2026-07-20|3|")
    assert found.reading.spread == Spread("grade_cm", "stems", Unit.CM)
    assert rows(found, blank="missed") == [
        ("A1", "2026-07-20", "missed", "", "", ""),
        ("A2", "2026-07-20", "picked", "30", "3", ""),
    ]


def test_a_sheet_of_nothing_known_is_not_guessed_at() -> None:
    assert guess(cells("taste|smell\nsweet|none"), PLOTS) is None


def test_our_own_headings_need_no_reading_but_for_other_dates() -> None:
    own = cells("plot|counted_on|living\nA1|2026-06-20|12")
    assert guess_for(own, Agreed(), PLOTS) is None
    other = guess_for(cells("plot|counted_on|living\nA1|20.6.2026|12"), Agreed(), PLOTS)
    assert other is not None
    assert other.questions == ()
    understood = as_understood(other)
    assert understood is not None
    assert understood.row(0) == ("A1", "2026-06-20", "12")


def test_a_column_of_days_is_the_day_whatever_it_is_called() -> None:
    found = guessed("plot|Récolte nr 1|alive\nA1|20 juin 2026|12")
    assert rows(found, sheet="x") == [("A1", "2026-06-20", "12")]


def test_feet_and_inches_are_one_length() -> None:
    found = guessed(
        "plot|date|length|sample\nA1|2026-07-20|1' 8\"|1\nA1|2026-07-20|1 ft 8 1/2 in|2"
    )
    # 20 and 20.5 inches of 2.54 cm
    assert [row[-1] for row in rows(found, sheet="x")] == ["50.8", "52.07"]


def test_marks_in_place_of_counts_do_not_hide_a_column_of_counts() -> None:
    found = guessed("plot|date|alive\nA1|2026-06-20|12\nA2|2026-06-20|n/a\nA1|2026-06-27|-")
    assert asked(found) == ["mark n/a", "mark -"]
