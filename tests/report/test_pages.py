"""What the records lack is never passed over in silence."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

from trials.model.trial import Closing, Completeness
from trials.report.pages import closing_page, completeness_lines, shortcut_page, trials_page

WHOLE = Completeness(
    trial="Z",
    plots=8,
    lost_plots=(),
    plots_never_picked=(),
    missed_picks=(),
    plots_without_stand=(),
    plots_without_samples=(),
    picking_days=9,
    first_cut=date(2026, 7, 14),
    last_cut=date(2026, 10, 2),
)


def test_a_whole_record_says_so() -> None:
    assert completeness_lines(WHOLE) == [
        "8 plots, 9 picking days, 2026-07-14 to 2026-10-02.",
        "Nothing is missing.",
    ]


def test_a_blank_is_neither_a_zero_nor_a_missed_pick() -> None:
    lines = completeness_lines(replace(WHOLE, unrecorded_picks=(("Z6", 2), ("Z7", 1))))
    assert "3 harvests left blank" in lines[1]
    assert "Z6 (2) and Z7 (1)" in lines[1]
    assert "Nothing is missing." not in lines


def test_plots_without_a_harvest_or_a_stand_are_named() -> None:
    lines = completeness_lines(
        replace(WHOLE, plots_never_picked=("Z1", "Z2"), plots_without_stand=("Z3",))
    )
    assert lines[1:] == [
        "Never harvested, so not recorded: Z1 and Z2.",
        "Living plants never counted, so no stems per plant: Z3.",
    ]


def test_a_closed_season_says_where_its_backup_is_and_which_made_way() -> None:
    closed = Closing("Z", date(2026, 10, 11), "frost", WHOLE)
    said = completeness_lines(WHOLE)
    page = closing_page(closed)
    assert page == "\n  ".join(["Z closed on 2026-10-11: frost", *said]) + "\n"
    kept = replace(closed, kept_copy="farm-1")
    assert closing_page(kept) == page + "  A backup of the store is in farm-1.\n"
    full = replace(kept, removed_copies=("farm-0",))
    assert closing_page(full).endswith(
        "  Ten automatic backups are kept, so the oldest was removed: farm-0.\n"
    )


def test_an_empty_store_says_how_to_begin() -> None:
    assert trials_page(()) == "There is no trial yet. Load records with: tallybed load FOLDER\n"


def test_a_shortcut_says_whether_its_system_has_been_tried() -> None:
    said = shortcut_page([Path("Desktop/Tallybed.desktop")], "Linux", tried=True)
    assert said.startswith("Shortcut written: Desktop/Tallybed.desktop\nDouble-click it. Your ")
    other = shortcut_page([Path("Tallybed.bat")], "Windows", tried=False)
    assert "Double-click it. Shortcuts for Windows have not been tried yet.\n" in other
