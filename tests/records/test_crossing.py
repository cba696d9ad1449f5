"""Faults that show only when rows, files and the store are held against each other."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from trials.model.rows import Known, Sheet
from trials.records.rules.cross_row import RULES

if TYPE_CHECKING:
    from tests.records.conftest import Farm


def test_every_sheet_has_its_rules() -> None:
    assert list(RULES) == list(Sheet)


# ----------------------------------------------------------------- one cell of a right farm spoiled


@pytest.mark.slow
@pytest.mark.parametrize(
    ("file", "row", "column", "cell", "problem", "remedy"),
    [
        # names that nothing answers to
        ("cuts.csv", 3, "plot", "A11", "no plot 'A11'", "The plots are: A1, A2, B1, B2, B3"),
        ("events.csv", 3, "plot", "a1", "no plot 'a1'", "Did you mean 'A1'?"),
        ("scores.csv", 2, "plot", "X9", "no plot 'X9'", "The plots are: A1, A2"),
        ("plots.csv", 3, "variety", "Frost Fren", "no variety", "Did you mean 'Frost Fern'?"),
        ("plots.csv", 3, "lot", "L3", "no seed lot 'L3'", "Known here: L1, L2."),
        ("seed_items.csv", 4, "variety", "Frostfern", "no variety", "Did you mean 'Frost Fern'?"),
        ("seed_lots.csv", 3, "house", "Bern Seeds", "no seed house", "Did you mean 'Barn Seeds'?"),
        ("seed_lots.csv", 3, "item", "F05", "Barn Seeds has no item 'F05'", "Did you mean 'F50'?"),
        ("trials.csv", 2, "season", "2025", "has no season 2025", "Its seasons are: 2026."),
        ("events.csv", 4, "trial", "Z62", "no trial 'Z62'", "Did you mean 'Z26'?"),
        # days
        ("cuts.csv", 7, "cut_on", "2026-11-02", "outside the season 2026", "to 2026-10-31"),
        ("cuts.csv", 7, "cut_on", "2027-07-27", "outside the season 2026", "from 2026-03-25"),
        ("cuts.csv", 7, "cut_on", "2026-05-19", "before the plot was transplanted", "2026-05-20"),
        ("stand_counts.csv", 3, "counted_on", "2026-05-01", "before the plot", "2026-05-20"),
        ("scores.csv", 2, "scored_on", "2026-05-01", "before the plot", "2026-05-20"),
        ("events.csv", 4, "happened_on", "2026-01-03", "outside the season 2026", "2026-03-25"),
        ("seasons.csv", 2, "first_autumn_frost", "2026-05-01", "is not after", "Correct"),
        # counts
        (
            "stand_counts.csv",
            3,
            "living",
            "17",
            "17 plants are living, but only 16",
            "guard plants",
        ),
        # picked, missed, graded, culled
        ("cuts.csv", 6, "stems", "3", "was missed that day", "Empty the cell"),
        ("cuts.csv", 6, "grade_cm", "40", "was missed that day", "write picked"),
        ("cuts.csv", 6, "cull_reason", "short", "was missed that day", "Empty the cell"),
        ("cuts.csv", 7, "grade_cm", "", "neither their grade nor", "the length grade"),
        ("cuts.csv", 7, "stems", "", "number of stems is missing", "0 if there were none"),
        ("cuts.csv", 7, "cull_reason", "short", "both a grade and a reason", "in separate rows"),
        # layout
        ("plots.csv", 3, "variety", "", "varies this, but the cell is empty", "level"),
        ("plots.csv", 3, "pinch", "pinched", "does not vary this", "Empty the cell"),
        ("plots.csv", 5, "pinch", "Pinched", "is written 'pinched' elsewhere", "one way"),
        ("plots.csv", 5, "pinch", "pinched\u200b", "is written 'pinched' elsewhere", "one way"),
        ("varieties.csv", 4, "variety", "ember", "'ember' is written 'Ember' elsewhere", "one way"),
        ("varieties.csv", 4, "variety", "Frost\u2010Fern", "is written 'Frost Fern'", "one way"),
        ("plots.csv", 5, "position", "1", "'B1' is at position 1 of bed 'South'", "position"),
        ("plots.csv", 3, "lot", "L1", "is Ember, but the plot grows Frost Fern", "lot"),
        ("seed_items.csv", 3, "seeds", "100", "says seeds 50", "its own item"),
        ("trials.csv", 2, "check", "Embers", "has the check", "Did you mean 'Ember'?"),
        ("trials.csv", 2, "check", "Tallow", "has the check", "Known here: Ember, Frost Fern."),
        # events
        ("events.csv", 3, "reason", "", "but this cell is empty", "why"),
        ("events.csv", 3, "plot", "", "but this cell is empty", "one row per plot"),
        ("events.csv", 2, "plot", "A1", "belongs to the trial 'Z26'", "Correct"),
    ],
)
def test_a_cell_that_cannot_be_right_beside_others(
    farm: Farm, file: str, row: int, column: str, cell: str, problem: str, remedy: str
) -> None:
    farm.spoil(file, row, column, cell)
    fault = farm.fault()
    assert (fault.file, fault.row, fault.column) == (file, row, column)
    assert problem in fault.problem
    assert remedy in fault.remedy


@pytest.mark.parametrize(
    ("sheet", "line", "column", "problem"),
    [
        ("cuts", "A1,2026-08-03,picked,40,3,", "plot", "closed"),
        ("stand_counts", "A1,2026-06-20,15", "plot", "closed"),
        ("stem_samples", "A1,2026-07-20,3,50", "plot", "closed"),
        ("scores", "A1,2026-08-02,vase_life_days,8", "plot", "closed"),
        ("events", "Z26,,2026-10-15,note,late", "trial", "closed"),
        ("plots", "Z26,A3,1,,North,3,Ember,,L1,16,1.2,1.44,2026-05-20", "trial", "closed"),
    ],
)
def test_a_closed_trial_takes_no_more_records(
    farm: Farm, known: Known, sheet: str, line: str, column: str, problem: str
) -> None:
    closed = Known(known.frames, frozenset({"Z26"}))
    assert not farm.read(closed).frames  # what it holds already may be loaded again
    farm.add(f"{sheet}.csv", line)
    fault = farm.fault(closed)
    assert (fault.file, fault.column) == (f"{sheet}.csv", column)
    assert fault.row == len(farm.rows(f"{sheet}.csv"))
    assert problem in fault.problem
    assert fault.remedy


# --------------------------------------------------------------------------------- whole columns


def test_a_factor_of_a_trial_needs_its_column(farm: Farm) -> None:
    rows = farm.rows("plots.csv")
    at = rows[0].index("pinch")
    farm.rewrite("plots.csv", [row[:at] + row[at + 1 :] for row in rows])
    fault = farm.fault()
    assert (fault.file, fault.row, fault.column) == ("plots.csv", 1, "pinch")
    assert "The trial 'P26' has the factor 'pinch'" in fault.problem
    assert fault.remedy == "Add a column pinch with each plot's level."


def test_a_factor_spelled_otherwise_names_the_nearest(farm: Farm) -> None:
    heading, _, body = farm.text("plots.csv").partition("\n")
    farm.write("plots.csv", heading.replace("pinch", "pinhc") + "\n" + body)
    faults = {fault.column: fault for fault in farm.faults()}
    assert set(faults) == {"pinch", "pinhc"}
    assert faults["pinch"].remedy == "Is it the column 'pinhc'? Then call it pinch."
    assert faults["pinhc"].remedy == "Did you mean 'pinch'?"


def test_a_column_of_plots_that_is_no_factor_is_refused(farm: Farm) -> None:
    rows = farm.rows("plots.csv")
    farm.rewrite("plots.csv", [[*rows[0], "mulch"], *([*row, "straw"] for row in rows[1:])])
    fault = farm.fault()
    assert (fault.file, fault.row, fault.column) == ("plots.csv", 1, "mulch")
    assert fault.remedy


def test_a_season_that_ends_before_it_starts(farm: Farm) -> None:
    farm.only("sites.csv", "seasons.csv")
    farm.spoil("seasons.csv", 2, "ends_on", "2025-10-31")
    fault = farm.fault()
    assert (fault.file, fault.row, fault.column) == ("seasons.csv", 2, "ends_on")


def test_a_site_without_a_row_is_unknown(farm: Farm) -> None:
    farm.spoil("seasons.csv", 2, "site", "Lo Field")
    fault = next(fault for fault in farm.faults() if fault.file == "seasons.csv")
    assert (fault.row, fault.column) == (2, "site")
    assert fault.remedy == "Did you mean 'Low Field'?"


def test_a_plot_of_an_unknown_trial(farm: Farm) -> None:
    farm.spoil("plots.csv", 4, "trial", "P62")
    fault = next(fault for fault in farm.faults() if fault.file == "plots.csv")
    assert (fault.row, fault.column) == (4, "trial")
    assert fault.remedy == "Did you mean 'P26'?"


# ------------------------------------------------------------------------------- several rows


def test_a_whole_plot_has_one_level(farm: Farm) -> None:
    farm.spoil("plots.csv", 5, "pinch", "not pinched")
    fault = farm.fault()
    assert (fault.file, fault.row, fault.column) == ("plots.csv", 5, "pinch")
    assert "Whole plot 'w1'" in fault.problem
    assert fault.remedy


def test_a_plot_is_either_picked_or_missed_on_a_day(farm: Farm) -> None:
    farm.add("cuts.csv", "A1,2026-07-27,picked,40,3,")
    fault = farm.fault()
    assert (fault.file, fault.row, fault.column) == ("cuts.csv", 8, "outcome")
    assert "both picked and missed on 2026-07-27" in fault.problem
    assert fault.remedy


def test_a_stored_missed_day_is_not_picked_afterwards(farm: Farm, known: Known) -> None:
    farm.write("cuts.csv", farm.text("cuts.csv").splitlines()[0] + "\nA1,2026-07-27,picked,40,3,\n")
    fault = farm.fault(known)
    assert (fault.row, fault.column) == (2, "outcome")


def test_a_lost_plot_gives_no_stems_afterwards(farm: Farm) -> None:
    farm.add("cuts.csv", "B4,2026-06-12,picked,30,2,")
    assert len(farm.read().frames[Sheet.CUTS]) == 7
    farm.add("cuts.csv", "B4,2026-06-13,picked,30,2,")
    fault = farm.fault()
    assert (fault.file, fault.row, fault.column) == ("cuts.csv", 9, "plot")
    assert "lost on 2026-06-12" in fault.problem
    assert fault.remedy


def test_a_sample_needs_a_cut_of_its_day(farm: Farm) -> None:
    farm.add("stem_samples.csv", "A1,2026-07-27,1,40")
    fault = farm.fault()
    assert (fault.file, fault.row, fault.column) == ("stem_samples.csv", 4, "cut_on")
    assert "no cut on 2026-07-27" in fault.problem
    assert fault.remedy


def test_the_check_may_come_with_later_plots_but_must_come(farm: Farm) -> None:
    trials = farm.read()
    known = farm.stored(
        trials,
        *(Sheet.SITES, Sheet.SEASONS, Sheet.VARIETIES, Sheet.SEED_HOUSES),
        *(Sheet.SEED_ITEMS, Sheet.SEED_LOTS, Sheet.TRIALS),
    )
    farm.only("plots.csv")
    assert len(farm.read(known).frames[Sheet.PLOTS]) == 6
    farm.drop_row("plots.csv", 2)
    fault = farm.fault(known)
    assert (fault.file, fault.row, fault.column) == ("plots.csv", None, None)
    assert "the trial 'Z26' has the check 'Ember'" in fault.problem
    assert fault.remedy


def test_levels_that_are_numbers_are_spelled_alike(farm: Farm) -> None:
    text = farm.text("plots.csv").replace("not pinched", "30").replace("pinched", "20")
    farm.write("plots.csv", text)
    assert farm.read().frames[Sheet.PLOTS]["pinch"].tolist() == [None, None, "20", "20", "30", "30"]
    farm.spoil("plots.csv", 7, "pinch", "30.0")
    faults = farm.faults()
    assert {(fault.row, fault.column) for fault in faults} == {(7, "pinch")}


def test_one_bad_cell_does_not_make_others_bad(farm: Farm) -> None:
    farm.spoil("plots.csv", 2, "plants_set", "sixteen")
    assert (farm.fault().row, farm.fault().column) == (2, "plants_set")
    farm.spoil("plots.csv", 2, "plants_set", "16")
    farm.spoil("plots.csv", 2, "plot", "")
    assert (farm.fault().row, farm.fault().column) == (2, "plot")


def test_all_faults_are_found_at_once(farm: Farm) -> None:
    farm.spoil("cuts.csv", 2, "stems", "-1")
    farm.spoil("cuts.csv", 7, "plot", "A22")
    farm.spoil("sites.csv", 2, "bed_width_m", "1,2")
    farm.spoil("stand_counts.csv", 3, "living", "20")
    assert [(fault.file, fault.row) for fault in farm.faults()] == [
        ("cuts.csv", 2),
        ("cuts.csv", 7),
        ("sites.csv", 2),
        ("stand_counts.csv", 3),
    ]
