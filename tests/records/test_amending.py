from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from trials.errors import Fault, RecordsRefused
from trials.model.rows import Batch, Known, Sheet
from trials.records import read_corrections, read_withdrawals
from trials.records.rules.corrections import MENDABLE, TOGETHER, WITHDRAWN
from trials.records.rules.forms import FORMS
from trials.store.history.tables import TWINS

if TYPE_CHECKING:
    from tests.records.conftest import Farm


def corrected(farm: Farm, known: Known) -> Batch:
    return read_corrections([farm.folder], known)


def faults(farm: Farm, known: Known, read: object = read_corrections) -> tuple[Fault, ...]:
    assert callable(read)
    with pytest.raises(RecordsRefused) as refused:
        read([farm.folder], known)
    return tuple(refused.value.faults)


# ----------------------------------------------------------------------------- correcting


def test_files_that_say_what_is_held_correct_nothing(farm: Farm, known: Known) -> None:
    batch = corrected(farm, known)
    assert not batch.frames
    assert batch.already_held == {sheet: len(frame) for sheet, frame in known.frames.items()}


def test_a_corrected_day_comes_whole_and_nothing_else_comes(farm: Farm, known: Known) -> None:
    farm.spoil("cuts.csv", 2, "stems", "13")
    batch = corrected(farm, known)
    assert list(batch.frames) == [Sheet.CUTS]
    assert batch.frames[Sheet.CUTS]["stems"].tolist() == [13, 3, 2]  # A1 on its first day
    assert batch.already_held[Sheet.CUTS] == 3


def test_a_row_left_out_of_a_day_goes(farm: Farm, known: Known) -> None:
    farm.drop_row("cuts.csv", 3)
    assert corrected(farm, known).frames[Sheet.CUTS]["grade_cm"].dropna().tolist() == [40]


def test_a_day_left_out_of_the_file_stays(farm: Farm, known: Known) -> None:
    farm.only("cuts.csv")
    for row in (4, 3, 2):
        farm.drop_row("cuts.csv", row)
    assert not corrected(farm, known).frames


def test_missed_becomes_picked_though_both_were_a_fault_of_a_load(farm: Farm, known: Known) -> None:
    farm.drop_row("cuts.csv", 6)
    farm.add("cuts.csv", "A1,2026-07-27,picked,40,5,")
    assert corrected(farm, known).frames[Sheet.CUTS]["outcome"].tolist() == ["picked"]


def test_a_closed_trial_can_be_corrected(farm: Farm, known: Known) -> None:
    farm.spoil("stand_counts.csv", 3, "living", "13")
    closed = Known(known.frames, frozenset({"Z26"}))
    assert corrected(farm, closed).frames[Sheet.STAND_COUNTS]["living"].tolist() == [13]


@pytest.mark.parametrize(
    ("file", "row", "column", "cell"),
    [
        ("scores.csv", 2, "value", "9"),
        ("stem_samples.csv", 3, "length_cm", "50"),
        ("plots.csv", 2, "plants_set", "18"),
        ("plots.csv", 3, "transplanted_on", "2026-05-22"),
        ("seed_items.csv", 3, "price", "2.95"),
        ("seed_items.csv", 4, "available", "yes"),
    ],
)
def test_what_can_be_put_right(
    farm: Farm, known: Known, file: str, row: int, column: str, cell: str
) -> None:
    farm.spoil(file, row, column, cell)
    (frame,) = corrected(farm, known).frames.values()
    assert cell in {
        f"{value:g}" if isinstance(value, float) else str(value) for value in frame[column]
    }


@pytest.mark.parametrize(
    ("file", "row", "column", "cell", "words"),
    [
        ("plots.csv", 2, "variety", "Tallow", "'Ember' is stored, and other records need it"),
        ("plots.csv", 4, "bed", "East", "'South' is stored"),
        ("seed_items.csv", 2, "seeds", "60", "50 is stored"),
        ("varieties.csv", 2, "colour", "pink", "cannot be corrected"),
        ("trials.csv", 2, "alpha", "0.1", "cannot be corrected"),
        ("events.csv", 3, "reason", "mice ate it", "an event cannot be corrected"),
        (
            "cuts.csv",
            7,
            "cut_on",
            "2026-07-28",
            "Nothing is stored for plot 'A2'",
        ),
        ("stand_counts.csv", 3, "living", "17", "16"),
    ],
)
def test_what_cannot_be_put_right_says_why_and_where(
    farm: Farm, known: Known, file: str, row: int, column: str, cell: str, words: str
) -> None:
    farm.spoil(file, row, column, cell)
    found = [fault for fault in faults(farm, known) if (fault.file, fault.row) == (file, row)]
    assert any(words in fault.problem for fault in found), found
    assert all(fault.remedy.endswith((".", "?")) for fault in found)


def test_corrected_rows_are_judged_with_what_stays(farm: Farm, known: Known) -> None:
    # A1 was measured on its first day: it cannot have been missed.
    farm.only("cuts.csv", "stem_samples.csv")
    for row in (4, 3):
        farm.drop_row("cuts.csv", row)
    farm.spoil("cuts.csv", 2, "outcome", "missed")
    farm.spoil("cuts.csv", 2, "grade_cm", "")
    farm.spoil("cuts.csv", 2, "stems", "")
    farm.spoil("stem_samples.csv", 2, "length_cm", "47")
    (fault, *_) = faults(farm, known)
    assert (fault.file, fault.column) == ("stem_samples.csv", "cut_on")


def test_a_row_that_comes_twice_is_no_correction(farm: Farm, known: Known) -> None:
    farm.add("scores.csv", "A1,2026-08-01,vase_life_days,9")
    (fault,) = faults(farm, known)
    assert "the same record as row 2" in fault.problem


# ----------------------------------------------------------------------------- withdrawing


def test_rows_to_withdraw_are_held_word_for_word(farm: Farm, known: Known) -> None:
    farm.only("events.csv", "cuts.csv")
    batch = read_withdrawals([farm.folder], known)
    assert {sheet: len(frame) for sheet, frame in batch.frames.items()} == {
        Sheet.CUTS: 6,
        Sheet.EVENTS: 3,
    }
    farm.spoil("events.csv", 3, "reason", "deer ate all of it")
    (fault,) = faults(farm, known, read_withdrawals)
    assert (fault.file, fault.row) == ("events.csv", 3)
    assert "No stored row is exactly like this one" in fault.problem


def test_names_are_not_withdrawn(farm: Farm, known: Known) -> None:
    for file in ("plots.csv", "varieties.csv", "seed_items.csv"):
        found = faults(farm, known, read_withdrawals)
        assert any(fault.file == file and "cannot be withdrawn" in fault.problem for fault in found)


# ----------------------------------------------------------------------------- one rule, two rooms


def test_records_and_store_agree_on_what_can_be_put_right() -> None:
    for sheet in Sheet:
        twins = [twin for twin in TWINS if twin.sheet is sheet]
        together = {twin.together for twin in twins} - {()}
        assert together == ({TOGETHER[sheet]} if sheet in TOGETHER else set()), sheet
        if sheet in MENDABLE:
            assert {name for twin in twins for name in twin.figures} == MENDABLE[sheet]
            assert MENDABLE[sheet] < set(FORMS[sheet].names)
        assert (sheet in WITHDRAWN) == bool(twins and sheet not in MENDABLE)
