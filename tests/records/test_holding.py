from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd
import pytest

from trials.model.rows import Known, Sheet

if TYPE_CHECKING:
    from tests.records.conftest import Farm


def test_loading_the_same_files_twice_adds_nothing(farm: Farm, known: Known) -> None:
    batch = farm.read(known)
    assert not batch.frames
    assert batch.already_held == {sheet: len(frame) for sheet, frame in known.frames.items()}


def test_the_types_of_a_store_do_not_matter(farm: Farm, known: Known) -> None:
    # Days as timestamps, numbers as floats with NaN, text as the string type, yes as True.
    frames = {}
    for sheet, frame in known.frames.items():
        other = frame.copy()
        for name in other.columns:
            if name.endswith(("_on", "_frost")):
                other[name] = pd.to_datetime(other[name])
            elif name == "available":
                other[name] = other[name] == "yes"
            elif pd.api.types.is_numeric_dtype(other[name].dtype):
                other[name] = other[name].astype("float64")
            else:
                other[name] = other[name].astype("str")
        frames[sheet] = other
    assert not farm.read(Known(frames, frozenset())).frames


def test_new_rows_beside_held_ones_are_added(farm: Farm, known: Known) -> None:
    farm.add("cuts.csv", "A2,2026-08-03,picked,40,7,")
    batch = farm.read(known)
    assert list(batch.frames) == [Sheet.CUTS]
    assert batch.frames[Sheet.CUTS]["stems"].tolist() == [7]
    assert batch.already_held[Sheet.CUTS] == 6


def test_a_number_spelled_otherwise_is_the_same_row(farm: Farm, known: Known) -> None:
    farm.spoil("cuts.csv", 2, "stems", "12.0")
    farm.spoil("cuts.csv", 2, "outcome", "Picked")
    assert not farm.read(known).frames


@pytest.mark.slow
@pytest.mark.parametrize(
    ("file", "row", "column", "cell", "problem"),
    [
        ("cuts.csv", 2, "stems", "13", "12 there, 13 here."),
        ("stand_counts.csv", 2, "living", "15", "16 there, 15 here."),
        ("varieties.csv", 2, "habit", "", "'tall cutting' there, nothing here."),
        ("seasons.csv", 2, "first_autumn_frost", "2026-10-14", "nothing there, 2026-10-14 here."),
        ("plots.csv", 3, "lot", "", "'L2' there, nothing here."),
        ("plots.csv", 4, "pinch", "not pinched", "'pinched' there, 'not pinched' here."),
        ("trials.csv", 2, "equivalence_margin", "12 %", "'10 %' there, '12 %' here."),
    ],
)
def test_a_row_that_differs_from_what_is_stored(
    farm: Farm, known: Known, file: str, row: int, column: str, cell: str, problem: str
) -> None:
    farm.spoil(file, row, column, cell)
    fault = farm.fault(known)
    assert (fault.file, fault.row, fault.column) == (file, row, column)
    assert fault.problem == f"This differs from what is stored: {problem}"
    assert "Nothing stored is overwritten" in fault.remedy


def test_a_cut_twice_names_both_rows(farm: Farm, known: Known) -> None:
    farm.add("cuts.csv", "A2,2026-08-03,picked,40,7,")
    farm.add("cuts.csv", "A2,2026-08-03,picked,40.0,9,")
    fault = farm.fault(known)
    assert (fault.file, fault.row, fault.column) == ("cuts.csv", 9, None)
    assert "the same record as row 8" in fault.problem
    assert "with another stems" in fault.problem
    assert fault.remedy


def test_a_row_twice_in_two_files_names_the_other_file(farm: Farm) -> None:
    farm.write("more_cuts.csv", farm.text("cuts.csv").splitlines()[0] + "\nA1,2026-07-27,missed,,,")
    fault = farm.fault()
    assert (fault.file, fault.row) == ("more_cuts.csv", 2)
    assert "row 6 of cuts.csv" in fault.problem


def test_a_plot_code_twice(farm: Farm) -> None:
    farm.spoil("plots.csv", 5, "plot", "A1")
    faults = farm.faults()
    twice = next(fault for fault in faults if fault.row == 5)
    assert (twice.file, twice.column) == ("plots.csv", None)
    assert "the same record as row 2 (plot 'A1')" in twice.problem


def test_two_events_of_a_day_are_two_if_a_word_differs(farm: Farm) -> None:
    farm.add("events.csv", "Z26,,2026-10-14,note,leaves black")
    farm.add("events.csv", "Z26,,2026-10-14,note,all over")
    assert len(farm.read().frames[Sheet.EVENTS]) == 5
    farm.add("events.csv", "Z26,,2026-10-14,note,all over")
    assert farm.fault().row == 7


def test_price_breaks_of_an_item_are_rows_of_their_own(farm: Farm) -> None:
    assert len(farm.read().frames[Sheet.SEED_ITEMS]) == 3
    farm.add("seed_items.csv", "Barn Seeds,E50,Ember,50,3.00,4,yes")
    assert farm.fault().row == 5
