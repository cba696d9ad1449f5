"""What loading and closing say when they are done."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from trials.errors import SHOWN_AT_MOST, RecordsHeld, RecordsRefused
from trials.model.rows import Added
from trials.model.trial import Closing, Completeness, Role, Trial, TrialStage
from trials.model.units import UnitSystem
from trials.report.figures import count, listed
from trials.report.grid import Column, Table, grid
from trials.report.remedies import remedy_words

STAGE_NEEDS = {
    TrialStage.LAID_OUT: "waiting to be planted",
    TrialStage.PLANTED: "waiting for its first cut",
    TrialStage.PICKING: "being harvested; close it after frost",
    TrialStage.CLOSED: "closed: compare it",
}


def load_page(added: Added, *, dry_run: bool = False) -> str:
    """What a load added, sheet by sheet."""
    return f"{added_table(added).text()}\n\n{added_sentence(added, dry_run=dry_run)}\n"


def added_table(added: Added) -> Table:
    """Rows that are new and rows that were held already, one row a sheet."""
    held = dict(added.already_held)
    rows = [
        (sheet.value.replace("_", " "), f"{number:,}", f"{held.get(sheet, 0):,}")
        for sheet, number in added.added
    ]
    rows += [
        (sheet.value.replace("_", " "), "0", f"{number:,}")
        for sheet, number in added.already_held
        if sheet not in dict(added.added)
    ]
    columns = (Column("records"), Column("new", right=True), Column("already stored", right=True))
    return Table(columns, tuple(rows))


def added_sentence(added: Added, *, dry_run: bool = False) -> str:
    """Whether anything was stored, and which sprays lack what their label says."""
    if added.nothing_new:
        return "Nothing new: every row was already stored. Nothing was changed."
    done = "Everything is stored."
    if dry_run:
        done = "Every row is valid. Nothing was stored, as this was a dry run."
    if not added.sprays_without_hours:
        return done
    sprays = count(added.sprays_without_hours, "spray")
    return (
        f"{done} {sprays} without a re-entry time: see the label before anyone enters the plots, "
        "and enter its hours under re_entry_hours."
    )


def faults_table(refused: RecordsRefused, role: Role | None = None) -> Table:
    """Every fault with its place and its remedy, for a page's reader or a terminal (None)."""
    columns = (
        Column("file"),
        Column("row", right=True),
        Column("column"),
        Column("what is wrong"),
        Column("what to do"),
    )
    rows = tuple(
        (
            fault.file,
            "" if fault.row is None else f"{fault.row:,}",
            fault.column or "",
            fault.problem,
            fault.remedy if role is None else remedy_words(fault.by or fault.remedy, role),
        )
        for fault in refused.faults[:SHOWN_AT_MOST]
    )
    more = len(refused.faults) - SHOWN_AT_MOST
    if more > 0:
        rest = (
            "All are in the faults file."
            if role is None
            else "They are shown once these are corrected."
        )
        rows += (("", "", "", f"… and {more:,} more.", rest),)
    return Table(columns, rows)


def refusal_document(refused: RecordsRefused) -> dict[str, object]:
    """Every fault as plain values, each by its file, sheet, row and column with the remedy."""
    return {
        "stored": False,
        "held": isinstance(refused, RecordsHeld),
        "faults": [
            {
                "file": file,
                "sheet": sheet,
                "row": fault.row,
                "column": fault.column,
                "problem": fault.problem,
                "remedy": fault.remedy,
            }
            for fault in refused.faults
            for file, sheet in [_file_and_sheet(fault.file)]
        ],
    }


def _file_and_sheet(place: str) -> tuple[str, str | None]:
    file, mark, sheet = place.partition(".xlsx, sheet ")
    return (file + ".xlsx", sheet) if mark else (place, None)


def planted_page(trial: str, on: date, plots: tuple[str, ...]) -> str:
    """What was planted on which day."""
    what = f"Plots {listed(plots)} of {trial}" if plots else trial
    return (
        f"{what} planted on {on:%Y-%m-%d}. The layout is now fixed. Record changes in the "
        "field as events.\n"
    )


def trials_page(trials: tuple[Trial, ...]) -> str:
    """The trials of a store and what each needs next."""
    if not trials:
        return "There is no trial yet. Load records with: tallybed load FOLDER\n"
    columns = [
        Column("trial"),
        Column("season", right=True),
        Column("crop"),
        Column("plots", right=True),
        Column("what it needs next"),
    ]
    rows = [
        [trial.code, str(trial.season), trial.crop, str(trial.plots), STAGE_NEEDS[trial.stage]]
        for trial in trials
    ]
    return grid(columns, rows) + "\n"


def closing_page(closing: Closing) -> str:
    """A closed season: when, why, and what its records hold and lack."""
    head = f"{closing.trial} closed on {closing.closed_on:%Y-%m-%d}: {closing.reason}"
    found = [*completeness_lines(closing.completeness), *copy_lines(closing)]
    lines = [f"  {line}" for line in found]
    return "\n".join([head, *lines]) + "\n"


def copy_lines(closing: Closing) -> list[str]:
    """Where a copy of the store was kept as a trial was closed, and what made way for it."""
    if closing.kept_copy is None:
        return []
    kept = [f"A backup of the store is in {closing.kept_copy}."]
    if closing.removed_copies:
        gone = listed(closing.removed_copies)
        kept.append(f"Ten automatic backups are kept, so the oldest was removed: {gone}.")
    return kept


def completeness_lines(found: Completeness) -> list[str]:
    """What the records hold and lack, a sentence a line; gaps come after what is whole."""
    span = (
        f", {found.first_cut:%Y-%m-%d} to {found.last_cut:%Y-%m-%d}"
        if found.first_cut is not None and found.last_cut is not None
        else ""
    )
    lines = [f"{count(found.plots, 'plot')}, {count(found.picking_days, 'picking day')}{span}."]
    if found.lost_plots:
        lost = listed([f"{plot} ({reason})" for plot, reason in found.lost_plots])
        lines.append(f"Lost, so left out of all figures: {lost}.")
    if found.missed_picks:
        total = sum(number for _, number in found.missed_picks)
        plots = listed([f"{plot} ({number})" for plot, number in found.missed_picks])
        lines.append(f"{count(total, 'harvest')} missed, so these totals are too low: {plots}.")
    if found.unrecorded_picks:
        total = sum(number for _, number in found.unrecorded_picks)
        plots = listed([f"{plot} ({number})" for plot, number in found.unrecorded_picks])
        lines.append(
            f"{count(total, 'harvest')} left blank (neither 0 nor missed), so these totals may "
            f"be too low: {plots}."
        )
    if found.plots_never_picked:
        lines.append(f"Never harvested, so not recorded: {listed(found.plots_never_picked)}.")
    if found.plots_without_stand:
        plots = listed(found.plots_without_stand)
        lines.append(f"Living plants never counted, so no stems per plant: {plots}.")
    if found.plots_without_samples:
        lines.append(f"No stem measured, so no stem length: {listed(found.plots_without_samples)}.")
    if len(lines) == 1:
        lines.append("Nothing is missing.")
    return lines


def units_page(units: UnitSystem) -> str:
    """The units in which the farm reads its figures, and how to change them."""
    words = {UnitSystem.METRIC: "centimetres and metres", UnitSystem.US: "inches and feet"}
    other = UnitSystem.METRIC if units is UnitSystem.US else UnitSystem.US
    return f"Figures are shown in {words[units]}. Change it: tallybed units {other}\n"


def shortcut_page(files: Sequence[Path], system: str, *, tried: bool) -> str:
    """Where the shortcut is, and what to know before the first double-click."""
    lines = [f"Shortcut written: {file}" for file in files]
    if tried:
        lines.append("Double-click it. Your desktop may first ask you to allow it to run.")
    else:
        lines.append(f"Double-click it. Shortcuts for {system} have not been tried yet.")
    lines.append("Close its window to end the pages.")
    return "\n".join(lines) + "\n"
