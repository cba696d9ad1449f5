from __future__ import annotations

from dataclasses import replace

import pytest

from trials.errors import RecordsRefused
from trials.model.rows import Sheet
from trials.records.encoded_column import Cells
from trials.records.faults import Faults
from trials.records.mapping.agreement import Agreed, as_understood, guess_for, understand
from trials.records.mapping.guess import Guess, guess
from trials.records.mapping.plot_labels import BY, KnownPlots, plain_label
from trials.records.mapping.reading import Spread
from trials.records.mapping.remembered import reading_of, reading_text


def farm(trial: str = "P26", first: int = 1) -> dict[str, dict[str, str]]:
    """Two blocks of two varieties, pinched and not, in beds of four."""
    plots = [
        {"block": block, "variety": variety, "pinch": pinch, "bed": f"Bed {block}"}
        for block in ("1", "2")
        for variety in ("Ember", "Frost Fern")
        for pinch in ("pinched", "not pinched")
    ]
    return {
        f"{trial[0]}{first + n}": {**its, "position": str(n % 4 + 1)} for n, its in enumerate(plots)
    }


ONE = KnownPlots(frozenset(farm()), {"P26": farm()})
TWO = KnownPlots(
    frozenset({*farm(), *farm("Q26")}),
    {
        "P26": farm(),
        "Q26": {
            **farm("Q26"),
            "Q9": {"block": "3", "variety": "Tallow", "pinch": "pinched", "bed": "Bed 9"},
        },
    },
)


def cells(text: str) -> Cells:
    lines = [line.split("|") for line in text.strip("\n").split("\n")]
    return Cells.of_rows("some.csv", "0" * 64, 1, lines[0], lines[1:], range(2, len(lines) + 1))


def guessed(text: str, plots: KnownPlots = ONE) -> Guess:
    found = guess(cells(text), plots)
    assert found is not None
    return found


def rows(found: Guess, **answers: str) -> list[tuple[str, ...]]:
    again = guess_for(found.cells, Agreed(answers=answers), found.plots)
    assert again is not None
    assert again.questions == ()
    understood = as_understood(again)
    assert understood is not None
    return [understood.row(place) for place in range(len(understood))]


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("Block 1", "1"),
        ("1.0", "1"),
        (" Frost  FERN ", "frost fern"),
        ("rep. 2", "2"),
        ("B1", "b1"),
    ],
)
def test_labels_are_compared_as_they_are_meant(text: str, plain: str) -> None:
    assert plain_label(text) == plain


def test_block_variety_and_pinch_name_a_plot() -> None:
    found = guessed(
        "Rep|Cultivar|Pinching|Date|alive\n1|ember|pinched|2026-06-20|12\n"
        "Block 2|Frost Fern|not pinched|2026-06-20|9"
    )
    assert found.reading.sheet is Sheet.STAND_COUNTS
    assert [column.field for column in found.reading.columns if column.field][2:] == [
        *(BY + name for name in ("block", "variety", "pinch"))
    ]
    assert found.reading.trial == "P26"
    assert found.questions == ()
    # the plots are numbered block by block, variety by variety, pinched first
    assert rows(found, sheet="x") == [("P1", "2026-06-20", "12"), ("P8", "2026-06-20", "9")]


def test_bed_and_position_name_a_plot() -> None:
    found = guessed("Bed|Pos|Date|alive\nBed 2|3|2026-06-20|12")
    assert rows(found, sheet="x") == [("P7", "2026-06-20", "12")]


def test_a_column_for_each_date_and_for_each_grade() -> None:
    wide = guessed("block|variety|pinch|20/7/26|27/7/26\n1|Ember|pinched|3|4")
    assert wide.reading.spread == Spread("cut_on", "stems")
    assert [row[:2] for row in rows(wide, grade_cm="40", sheet="cuts")] == [
        *(("P1", "2026-07-20"), ("P1", "2026-07-27"))
    ]
    graded = guessed("block|variety|pinch|date|30 cm|40 cm\n2|Ember|pinched|2026-07-20|3|4")
    assert rows(graded, sheet="cuts") == [
        ("P5", "2026-07-20", "picked", "30", "3", ""),
        ("P5", "2026-07-20", "picked", "40", "4", ""),
    ]


def test_a_column_for_each_variety() -> None:
    found = guessed("date|block|pinch|Ember|Frost Fern\n2026-06-20|1|pinched|12|9")
    assert found.reading.spread == Spread(BY + "variety", "stems")
    assert rows(found, sheet="stand_counts") == [
        *(("P1", "2026-06-20", "12"), ("P3", "2026-06-20", "9"))
    ]


def test_plots_of_two_trials_are_asked_about() -> None:
    text = "block|variety|pinch|date|alive\n1|Ember|pinched|2026-06-20|12"
    found = guessed(text, TWO)
    assert [question.key for question in found.questions] == ["of trial"]
    assert found.questions[0].answers == ("P26", "Q26")
    # A trial that there is not is no answer.
    again = guess_for(found.cells, Agreed(answers={"of trial": "Z1"}), TWO)
    assert again is not None
    assert [question.key for question in again.questions] == ["of trial"]
    assert rows(found, **{"of trial": "Q26"}) == [("Q1", "2026-06-20", "12")]
    # Block 3 is in one of them alone.
    assert guessed(text + "\n3|Tallow|pinched|2026-06-20|9", TWO).reading.trial == "Q26"


def test_a_label_that_names_no_plot_or_several_is_refused_where_it_stands() -> None:
    found = guessed(
        "block|variety|pinch|date|alive\n1|Ember|pinched|2026-06-20|12\n"
        "1|Embre|pinched|2026-06-20|9\n3|Ember|pinched|2026-06-20|9"
    )
    faults = Faults()
    read = understand(found.cells, Agreed(guesses=True), ONE, faults)
    assert read.cells is not None
    assert len(read.cells) == 1
    assert sorted(read.cells.left_out) == [3, 4]
    with pytest.raises(RecordsRefused) as refused:
        faults.refuse_if_any()
    one, two = refused.value.faults
    assert (one.file, one.row, one.column) == ("some.csv", 3, "block")
    assert "variety 'Embre'" in one.problem
    assert one.remedy == "Did you mean 'Ember'?"
    assert two.row == 4
    assert two.remedy.startswith("Known here: 1, 2.")

    even = guessed("block|variety|date|alive\n1|Ember|2026-06-20|12")
    faults = Faults()
    understand(even.cells, Agreed(guesses=True), ONE, faults)
    with pytest.raises(RecordsRefused, match=r"2 plots of P26 have .*: P1, P2") as refused:
        faults.refuse_if_any()


def test_plots_that_changed_places_are_told_by_their_codes_alone() -> None:
    swapped = KnownPlots(ONE.codes, ONE.labels, frozenset({"P1", "P5"}))
    text = "block|variety|pinch|date|alive\n1|Ember|pinched|2026-06-20|12"
    faults = Faults()
    understand(cells(text), Agreed(guesses=True), swapped, faults)
    with pytest.raises(RecordsRefused, match="was swapped"):
        faults.refuse_if_any()
    where = guessed("bed|position|date|alive\nBed 1|1|2026-06-20|12", swapped)
    assert rows(where, sheet="x")[0][0] == "P1"


def test_such_a_reading_is_kept_and_its_trial_found_anew() -> None:
    found = guessed("block|variety|pinch|date|alive\n1|Ember|pinched|2026-06-20|12")
    assert reading_of(reading_text(found.reading), "it") == found.reading
    later = KnownPlots(frozenset(farm("R27")), {"R27": farm("R27")})
    again = guess_for(found.cells, Agreed(given=found.reading), later)
    assert again is not None
    assert again.reading.trial == "R27"
    asked = guessed("block|variety|pinch|date|alive\n1|Ember|pinched|2026-06-20|12", TWO)
    assert 'trial = "?"' in reading_text(asked.reading, asked.questions)


def test_a_code_goes_before_labels() -> None:
    found = guessed("plot|block|variety|date|alive\nP1|1|Ember|2026-06-20|12")
    assert [column.field for column in found.reading.columns] == [
        *("plot", "counted_on", "living", None, None)
    ]


def test_a_block_that_is_written_once_for_the_rows_below_it_is_asked_about() -> None:
    text = "block|variety|pinch|date|alive\n1|Ember|pinched|2026-06-20|12\n"
    found = guessed(text + "|Frost Fern|pinched|2026-06-20|9\nwet that day||||")
    assert [question.key for question in found.questions] == ["blank block"]
    assert rows(found, **{"blank block": "as above"}) == [
        *(("P1", "2026-06-20", "12"), ("P3", "2026-06-20", "9"))
    ]
    again = guess_for(found.cells, Agreed(answers={"blank block": "as above"}), ONE)
    assert again is not None
    assert reading_of(reading_text(again.reading), "it") == again.reading


def on_sheet(title: str, text: str) -> Cells:
    return replace(cells(text), file=f"some.xlsx, sheet {title}")


def test_the_title_of_a_sheet_says_the_day_or_the_variety_of_that_sheet_alone() -> None:
    one = on_sheet("20 Jul 2026", "plot|alive\nP1|12")
    found = guess(one, ONE)
    assert found is not None
    assert found.questions == ()
    assert rows(found, sheet="x") == [("P1", "2026-07-20", "12")]
    read = understand(one, Agreed(guesses=True), ONE, Faults())
    assert read.reading is not None
    # What is kept for the next sheet of these headings does not know the day.
    kept = Agreed(kept={read.reading.signature: read.reading.text})
    other = guess_for(on_sheet("27 Jul 2026", "plot|alive\nP1|11"), kept, ONE)
    assert other is not None
    assert ("counted_on", "27 Jul 2026") in other.reading.always
    bare = guess_for(on_sheet("notes", "plot|alive\nP1|11"), kept, ONE)
    assert bare is not None
    assert [question.key for question in bare.questions] == ["counted_on"]

    ember = guess(on_sheet("Ember", "block|pinch|date|alive\n2|pinched|2026-06-20|12"), ONE)
    assert ember is not None
    assert rows(ember, sheet="x") == [("P5", "2026-06-20", "12")]
