"""The story of a season: one short function for each thing a grower does.

Most are done in a room of their own, which is entered when its first thing is asked for, so that
loading a day's cuts does not wait for the arithmetic of a choice.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from trials.errors import FileRefused
from trials.model.lazy_imports import door
from trials.model.rows import NOBODY
from trials.model.trial import Trial
from trials.model.units import PaperSize, UnitSystem
from trials.store import Store

if TYPE_CHECKING:
    import pandas as pd

    from trials import decide
    from trials.errors import Fault
    from trials.layout.next_steps import NextStep as NextStep
    from trials.layout.next_steps import StepKind as StepKind
    from trials.layout.next_steps import TrialNow as TrialNow
    from trials.layout.next_steps import next_steps as next_steps
    from trials.model.rows import Signed
    from trials.model.trial import Closing, Completeness
    from trials.package import package as package
    from trials.package import package_many as package_many
    from trials.package import unpack as unpack
    from trials.paper.qr import code_svg as code_svg
    from trials.pool.contribute import contribute as contribute
    from trials.pool.contribute import withdraw_contribution as withdraw_contribution
    from trials.pool.pooling import pool as pool
    from trials.records.mapping.agreement import Agreed as Agreed
    from trials.records.mapping.agreement import agreed_on as agreed_on
    from trials.records.mapping.agreement import as_understood as as_understood
    from trials.records.mapping.agreement import fields_of as fields_of
    from trials.records.mapping.agreement import kinds_of_sheet as kinds_of_sheet
    from trials.records.mapping.agreement import taken_as as taken_as
    from trials.records.mapping.agreement import with_answers as with_answers
    from trials.records.mapping.guess import Guess as Guess
    from trials.records.mapping.guess import ReadingNeeded as ReadingNeeded
    from trials.records.plan.file import plan_text as plan_text
    from trials.records.plan.proposed import Dates as Dates
    from trials.records.plan.proposed import Planned as Planned
    from trials.records.plan.proposed import Proposed as Proposed
    from trials.records.plan.text import plan_text_of as plan_text_of
    from trials.records.plan.winter_file import wishes_text_of as wishes_text_of
    from trials.season import printing
    from trials.season.backing_up import backup as backup
    from trials.season.backing_up import check as check
    from trials.season.backing_up import copies as copies
    from trials.season.backing_up import look_through_copy as look_through_copy
    from trials.season.backing_up import restore as restore
    from trials.season.beginning import begin as begin
    from trials.season.beginning import example_farm as example_farm
    from trials.season.choosing import choose as choose
    from trials.season.choosing import choose_again as choose_again
    from trials.season.choosing_if import MoneyBasis as MoneyBasis
    from trials.season.choosing_if import MoneyIf as MoneyIf
    from trials.season.choosing_if import choose_if as choose_if
    from trials.season.choosing_if import money_basis as money_basis
    from trials.season.comparing import Asked as Asked
    from trials.season.comparing import PlotRecords as PlotRecords
    from trials.season.comparing import compare_records as compare_records
    from trials.season.comparing import compare_table as compare_table
    from trials.season.comparing import compare_trial as compare_trial
    from trials.season.comparing import compare_with_digest as compare_with_digest
    from trials.season.comparing import length_grades as length_grades
    from trials.season.comparing import plot_records as plot_records
    from trials.season.correcting import correct as correct
    from trials.season.correcting import history as history
    from trials.season.correcting import records_digest as records_digest
    from trials.season.correcting import records_mark as records_mark
    from trials.season.correcting import submission as submission
    from trials.season.correcting import undo as undo
    from trials.season.correcting import withdraw as withdraw
    from trials.season.drafting import discard_draft as discard_draft
    from trials.season.drafting import drafts_of as drafts_of
    from trials.season.drafting import keep_drafts as keep_drafts
    from trials.season.entering import enter as enter
    from trials.season.entering import stored as stored
    from trials.season.field import planted as planted
    from trials.season.finding import Found as Found
    from trials.season.finding import FoundKind as FoundKind
    from trials.season.finding import find as find
    from trials.season.loading import guesses as guesses
    from trials.season.loading import load as load
    from trials.season.order_files import write_orders as write_orders
    from trials.season.ordering import Buying as Buying
    from trials.season.ordering import CropPlan as CropPlan
    from trials.season.ordering import by_crop as by_crop
    from trials.season.ordering import order as order
    from trials.season.ordering import order_together as order_together
    from trials.season.ordering import price_lists as price_lists
    from trials.season.people import LONGEST_NAME as LONGEST_NAME
    from trials.season.people import LONGEST_PASSPHRASE as LONGEST_PASSPHRASE
    from trials.season.people import SESSION_LASTS as SESSION_LASTS
    from trials.season.people import SHORTEST_PASSPHRASE as SHORTEST_PASSPHRASE
    from trials.season.people import accept_invitation as accept_invitation
    from trials.season.people import add_person as add_person
    from trials.season.people import end_person as end_person
    from trials.season.people import everybody as everybody
    from trials.season.people import invitation as invitation
    from trials.season.people import invite as invite
    from trials.season.people import is_live as is_live
    from trials.season.people import join_link as join_link
    from trials.season.people import note_seen as note_seen
    from trials.season.people import sessions as sessions
    from trials.season.people import sign_in as sign_in
    from trials.season.people import sign_in_by_email as sign_in_by_email
    from trials.season.people import sign_out as sign_out
    from trials.season.people import token_digest as token_digest
    from trials.season.photographing import add_photos as add_photos
    from trials.season.photographing import photo as photo
    from trials.season.photographing import photos as photos
    from trials.season.photographing import photos_by_variety as photos_by_variety
    from trials.season.photographing import read_photo_files as read_photo_files
    from trials.season.photographing import withdraw_photo as withdraw_photo
    from trials.season.planning import calendar as calendar
    from trials.season.planning import plan as plan
    from trials.season.planning import plan_from_text as plan_from_text
    from trials.season.planning import planned as planned
    from trials.season.printing import Printing as Printing
    from trials.season.proposing import propose as propose
    from trials.season.shortcut import install_shortcut as install_shortcut
    from trials.season.stages import trials_now as trials_now
    from trials.season.stock import StockEntry as StockEntry
    from trials.season.stock import record_stock as record_stock
    from trials.season.stock import seed_in_stock as seed_in_stock
    from trials.season.stock import seed_lots as seed_lots
    from trials.season.tallying import Recorded as Recorded
    from trials.season.tallying import SprayEntry as SprayEntry
    from trials.season.tallying import Tally as Tally
    from trials.season.tallying import TallyEntry as TallyEntry
    from trials.season.tallying import correct_tally as correct_tally
    from trials.season.tallying import grades_and_reasons as grades_and_reasons
    from trials.season.tallying import on_the_clock as on_the_clock
    from trials.season.tallying import plot_on_day as plot_on_day
    from trials.season.tallying import record_spray as record_spray
    from trials.season.tallying import said_of_fields as said_of_fields
    from trials.season.tallying import tally as tally
    from trials.season.tallying import walk as walk
    from trials.season.trial_reporting import report_html as report_html
    from trials.season.trial_reporting import report_pdf as report_pdf
    from trials.season.trial_reporting import trial_report as trial_report
    from trials.season.trial_reporting import write_report_html as write_report_html
    from trials.season.trial_views import PictureRecords as PictureRecords
    from trials.season.trial_views import picture_records as picture_records
    from trials.season.trial_views import views_from as views_from
    from trials.season.trial_views import views_of as views_of
    from trials.season.variety_records import varieties as varieties
    from trials.season.variety_records import variety as variety
    from trials.season.variety_records import variety_in_trials as variety_in_trials
    from trials.season.winter import winter_of as winter_of
    from trials.season.winter_basis import WinterStart as WinterStart
    from trials.season.winter_basis import winter_start as winter_start
    from trials.season.winter_files import write_winter as write_winter
    from trials.store import Backup as Backup
    from trials.store import DraftPlace as DraftPlace
    from trials.store import KeptCopy as KeptCopy
    from trials.store import KeptDraft as KeptDraft
    from trials.store import Purpose as Purpose
    from trials.store import Typed as Typed
    from trials.store import Wholeness as Wholeness

_, __getattr__ = door(__name__, __file__)


def sheets(store: Path, trial: str, into: Path, how: printing.Printing) -> tuple[Path, ...]:
    """Write a planned trial's map, stakes, picking sheets, page with its days, and workbook."""
    from trials.report.calendar_page import days_to_print
    from trials.season import planning, printing

    days = days_to_print(planning.calendar(store, trial).tasks, how.units)
    return printing.sheets(store, trial, into, how, days)


def farm_units(store: Path) -> UnitSystem:
    """The units in which the farm reads its figures; metric where nobody chose, or no store is."""
    if not store.exists():
        return UnitSystem.METRIC
    return Store.open(store).units() or UnitSystem.METRIC


def set_farm_units(store: Path, chosen: UnitSystem) -> None:
    """Show figures in these units on every page, sheet and command of the farm from now on."""
    Store.open(store).set_units(chosen)


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
    """Graded stems by plot and length grade."""
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
    from trials.records.files.corrected_files import to_mend
    from trials.report.faults_file import write_faults_file

    found = to_mend(files, faults)
    write_faults_file(found, path)
    return sum(len(table.rows) for table in found.tables)


def write_order_csv(ordering: decide.Ordering | decide.JointOrdering, path: Path) -> None:
    """Write the order's lines for a spreadsheet."""
    from trials.report.order_csv import order_csv

    try:
        path.write_text(order_csv(ordering.order), encoding="utf-8")
    except OSError as problem:
        raise FileRefused(f"{path}: {problem.strerror}. Choose another place.") from None


def write_order_pdf(
    ordering: decide.Ordering | decide.JointOrdering,
    path: Path,
    *,
    farm: str,
    on: date,
    size: PaperSize = PaperSize.A4,
) -> None:
    """Write the order to print and tick off."""
    from trials.decide import JointOrdering
    from trials.paper import write_order_sheet

    crops = ordering.crops if isinstance(ordering, JointOrdering) else (ordering,)
    named = ", ".join(each.crop for each in crops)
    title = f"Seed order {named} {crops[0].next_season}"
    write_order_sheet(ordering.order, title, farm, path, on=on, size=size)
