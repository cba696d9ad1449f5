"""The story of a season: one short function for each thing a grower does.

Most are done in a room of their own, which is entered when its first thing is asked for, so that
loading a day's cuts does not wait for the arithmetic of a choice.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from trials.batch import NOBODY
from trials.errors import FileRefused
from trials.model import Trial
from trials.rooms import door
from trials.store import Store
from trials.units import PaperSize

if TYPE_CHECKING:
    import pandas as pd

    from trials import decide, printing
    from trials.batch import Signed
    from trials.choosing import choose as choose
    from trials.choosing import choose_again as choose_again
    from trials.comparing import compare as compare
    from trials.comparing import compare_table as compare_table
    from trials.comparing import length_grades as length_grades
    from trials.drafting import discard_draft as discard_draft
    from trials.drafting import drafts_of as drafts_of
    from trials.drafting import keep_drafts as keep_drafts
    from trials.errors import Fault
    from trials.field import planted as planted
    from trials.loading import guesses as guesses
    from trials.loading import load as load
    from trials.mending import correct as correct
    from trials.mending import history as history
    from trials.mending import records_digest as records_digest
    from trials.mending import records_mark as records_mark
    from trials.mending import submission as submission
    from trials.mending import undo as undo
    from trials.mending import withdraw as withdraw
    from trials.model import Closing, Completeness
    from trials.ordering import order as order
    from trials.package import package as package
    from trials.package import unpack as unpack
    from trials.planning import calendar as calendar
    from trials.planning import plan as plan
    from trials.planning import plan_from_text as plan_from_text
    from trials.planning import planned as planned
    from trials.proposing import propose as propose
    from trials.records.plan_file import plan_text as plan_text
    from trials.records.plan_text import plan_text_of as plan_text_of
    from trials.safekeeping import backup as backup
    from trials.safekeeping import check as check
    from trials.safekeeping import copies as copies
    from trials.safekeeping import look_through_copy as look_through_copy
    from trials.safekeeping import restore as restore
    from trials.tallying import correct_tally as correct_tally
    from trials.tallying import plot_on_day as plot_on_day
    from trials.tallying import tally as tally
    from trials.tallying import walk as walk

# What is done where; the types above say the same.
__getattr__ = door(
    __name__,
    {
        # A plan from its file or a form: its text, what fits, and the one laid out and stored.
        "trials.records.plan_file": "plan_text",
        "trials.records.plan_text": "plan_text_of",
        "trials.proposing": "propose",
        "trials.planning": "calendar plan plan_from_text planned",
        "trials.field": "planted",
        # Files to stored records, how sheets of somebody's own are read, and the crew at the bed.
        "trials.loading": "guesses load",
        "trials.tallying": "correct_tally plot_on_day tally walk",
        "trials.drafting": "discard_draft drafts_of keep_drafts",
        # What was recorded wrongly, and what was changed when.
        "trials.mending": "correct history records_digest records_mark submission undo withdraw",
        # Which differences are real, which varieties to grow again, and the seed for them.
        "trials.comparing": "compare compare_table length_grades",
        "trials.choosing": "choose choose_again",
        "trials.ordering": "order",
        # The store itself, and a trial as an open data package, out and in.
        "trials.safekeeping": "backup check copies look_through_copy restore",
        "trials.package": "package unpack",
    },
)


def sheets(store: Path, trial: str, into: Path, how: printing.Printing) -> tuple[Path, ...]:
    """Write a planned trial's map, stakes, picking sheets, page with its days, and workbook."""
    from trials import planning, printing
    from trials.report.calendar_page import days_to_print

    days = days_to_print(planning.calendar(store, trial).tasks)
    return printing.sheets(store, trial, into, how, days)


def trials(store: Path) -> tuple[Trial, ...]:
    """The trials of a store, by season and code."""
    return Store.open(store).trials()


def close(store: Path, trial: str, on: date, reason: str, signed: Signed = NOBODY) -> Closing:
    """End a trial's season; from then on its records are fixed."""
    return Store.open(store).close(trial, on, reason, signed)


def plots(store: Path, trial: str) -> pd.DataFrame:
    """One row a plot with every measure a column."""
    return Store.open(store).plots(trial)


def grades(store: Path, trial: str) -> pd.DataFrame:
    """Marketable stems by plot and length grade."""
    return Store.open(store).grades(trial)


def culls(store: Path, trial: str) -> pd.DataFrame:
    """Culled stems by treatment and reason."""
    return Store.open(store).culls(trial)


def completeness(store: Path, trial: str) -> Completeness:
    """What a trial's records hold and lack so far."""
    return Store.open(store).completeness(trial)


def closing(store: Path, trial: str) -> Closing | None:
    """When and why a trial's season ended; None while it is open."""
    return Store.open(store).closing(trial)


def write_faults(files: Sequence[Path], faults: Sequence[Fault], path: Path) -> int:
    """Write every fault to a CSV file or workbook with the rows they stand in; say how many rows.

    Mended there and loaded together with the files, they take the place of the faulty rows.
    """
    from trials.records.mended import to_mend
    from trials.report.faults_file import write_faults_file

    found = to_mend(files, faults)
    write_faults_file(found, path)
    return sum(len(table.rows) for table in found.tables)


def write_order_csv(ordering: decide.Ordering, path: Path) -> None:
    """Write the order's lines for a spreadsheet."""
    from trials.report.order_csv import order_csv

    try:
        path.write_text(order_csv(ordering.order), encoding="utf-8")
    except OSError as problem:
        raise FileRefused(f"{path}: {problem.strerror}. Choose another place.") from None


def write_order_pdf(
    ordering: decide.Ordering, path: Path, *, farm: str, on: date, size: PaperSize = PaperSize.A4
) -> None:
    """Write the order to print and tick off."""
    from trials.paper import write_order_sheet

    title = f"Seed order {ordering.crop} {ordering.next_season}"
    write_order_sheet(ordering.order, title, farm, path, on=on, size=size)
