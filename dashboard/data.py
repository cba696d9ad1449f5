"""Cached calls to the season: an answer is kept until the store's file changes."""

from __future__ import annotations

import tempfile
import threading
from collections.abc import Callable
from datetime import date
from functools import partial
from hashlib import sha256
from pathlib import Path
from urllib.parse import urlsplit

import pandas as pd
import streamlit as st

from dashboard.access.network import ADDRESS, lan_address
from dashboard.access.visitor import EVERYBODY, READERS, WRITERS, door, require
from dashboard.kept import ANSWERS_KEPT, FileState, Kept, file_state, forget_answers, store_path
from dashboard.uploads import file_name
from trials import season as front
from trials.decide import Choice, JointOrdering, Ordering, Rules, Sowing
from trials.model.rows import Added, Sheet, Signed
from trials.model.trial import Entry, Invitation, Person, Role, Trial, TrialStage
from trials.model.units import PaperSize, UnitSystem
from trials.report import pages, rests_on
from trials.report.pages import copy_lines
from trials.stats.length_grades import GradeShare
from trials.stats.results import Comparison


@Kept
def trials() -> tuple[Trial, ...]:
    """The trials of the store, newest season and largest trial first."""
    found = front.trials(store_path())
    return tuple(sorted(found, key=lambda trial: (-trial.season, -trial.plots, trial.code)))


def farm_units() -> UnitSystem:
    """The units that the farm chose for its figures."""
    require(EVERYBODY)
    return _units_of(store_path(), file_state())


@st.cache_resource(max_entries=ANSWERS_KEPT, show_spinner=False)
def _units_of(path: Path, at: FileState) -> UnitSystem:
    return front.farm_units(path)


def set_farm_units(units: UnitSystem) -> None:
    """Choose the units for every page, sheet and command of the farm."""
    require(WRITERS)
    with _one_at_a_time:
        front.set_farm_units(store_path(), units)


@Kept
def completeness_lines(trial: str) -> list[str]:
    """What the trial's records hold and lack."""
    return pages.completeness_lines(front.completeness(store_path(), trial))


@Kept
def closing_reason(trial: str) -> str:
    """Why the trial's season ended; '' while it is open."""
    closing = front.closing(store_path(), trial)
    return "" if closing is None else closing.reason


@Kept
def plot_records(trial: str) -> front.PlotRecords:
    """What all comparisons of a trial are made from; not to be changed, as visitors share it."""
    return front.plot_records(store_path(), trial)


@Kept
def compare(trial: str, measure: str, leave_out_missed: bool) -> Comparison:
    """The comparison of one measure of a trial, without the second opinions."""
    asked = front.Asked(leave_out_missed=leave_out_missed, second_opinions=False)
    return front.compare_records(plot_records(trial), measure, asked)


@Kept
def compare_checked(trial: str, measure: str, leave_out_missed: bool) -> Comparison:
    """The same comparison with what the slower tests say of it."""
    asked = front.Asked(leave_out_missed=leave_out_missed)
    return front.compare_records(plot_records(trial), measure, asked)


@Kept
def rests_on_lines(trial: str, role: Role) -> list[str]:
    """What a closed trial's figures rest on: the digest of its records."""
    return rests_on.rests_on_lines(front.records_digest(store_path(), trial), role)


@Kept
def length_grades(trial: str, factor: str, leave_out_missed: bool) -> tuple[GradeShare, ...]:
    """Stems by length grade of each level of a factor."""
    return front.length_grades(store_path(), trial, factor, leave_out_missed=leave_out_missed)


@Kept
def choose(crop: str, measure: str | None) -> Choice:
    """The standings of a crop by the rules as they come."""
    return front.choose(store_path(), crop, measure)


@Kept
def order(
    crop: str,
    rules: Rules,
    sowing: Sowing,
    how: front.Buying,
) -> Ordering:
    """The cheapest order for what is to be sown."""
    choice = front.choose_again(choose(crop, None), rules)
    plan = front.CropPlan(choice, sowing)
    return front.order_together(store_path(), [plan], how).crops[0]


@Kept
def order_together(
    plans: tuple[tuple[str, Sowing], ...],
    rules: Rules,
    how: front.Buying,
) -> JointOrdering:
    """The cheapest order for several crops together, each with what is to be sown of it."""
    crops = [
        front.CropPlan(front.choose_again(choose(crop, None), rules), sowing)
        for crop, sowing in plans
    ]
    return front.order_together(store_path(), crops, how)


@Kept
def seed_houses() -> tuple[str, ...]:
    """Every seed house that sells something."""
    return front.winter_start(store_path()).houses


@Kept
def plugs_sold() -> tuple[str, ...]:
    """The varieties that a price list has as plugs."""
    return front.winter_start(store_path()).plugs


@Kept
def stored(sheet: Sheet) -> pd.DataFrame:
    """The stored rows of a sheet; not to be changed, as all visitors share them."""
    return front.stored(store_path(), sheet)


@Kept
def trials_now(day: date) -> dict[str, front.TrialNow]:
    """What the records tell of every trial on a day."""
    return front.trials_now(store_path(), day)


@Kept
def find(text: str) -> tuple[front.Found, ...]:
    """Trials, varieties and plots by a part of their name."""
    return front.find(store_path(), text)


@Kept
def price_lists() -> tuple[tuple[int, str], ...]:
    """The years of the price lists in the store, each with a currency that it has."""
    return front.price_lists(store_path())


@Kept
def planned() -> tuple[str, ...]:
    """The trials that were laid out from a plan, the newest first."""
    return front.planned(store_path())


@Kept
def calendar(trial: str) -> front.Dates:
    """The dates of a planned trial."""
    return front.calendar(store_path(), trial)


@Kept
def propose(plan: str) -> front.Proposed:
    """What fits of a plan's text, and what it could tell."""
    return front.propose(store_path(), plan)


def plan_text(name: str, content: bytes) -> str:
    """The text of a plan's file that was brought along."""
    require(WRITERS)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / file_name(name, "plan.toml")
        path.write_bytes(content)
        return front.plan_text(path)


@Kept
def sheets(trial: str, how: front.Printing) -> tuple[tuple[str, bytes], ...]:
    """The paper of a planned trial: names and contents of its files."""
    with tempfile.TemporaryDirectory() as folder:
        written = front.sheets(store_path(), trial, Path(folder), how)
        return tuple((path.name, path.read_bytes()) for path in written)


def order_pdf(
    ordering: Ordering | JointOrdering, farm: str, size: PaperSize
) -> Callable[[], bytes]:
    """Returns a function that makes the order to print, dated today, once it is asked for."""
    require(READERS)
    return partial(_order_pdf, ordering, farm, size)


def _order_pdf(ordering: Ordering | JointOrdering, farm: str, size: PaperSize) -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "order.pdf"
        front.write_order_pdf(ordering, path, farm=farm, on=date.today(), size=size)
        return path.read_bytes()


# A second tap runs beside the first, and the first is then stopped before it can say anything.
# So what was done is kept here, and the second tap is told the same.
_one_at_a_time = threading.Lock()
_brought_in: dict[tuple[Path, str], Added] = {}
_laid_out: dict[tuple[Path, str, int], str] = {}


def forget_done() -> None:
    """A store that was restored no longer has what was done since."""
    with _one_at_a_time:
        _brought_in.clear()
        _laid_out.clear()
    forget_answers()


def close(trial: str, on: date, reason: str) -> list[str]:
    """End a trial's season, and say where a copy was kept.

    To ask for the very same closing again changes nothing.
    """
    who = require(WRITERS)
    with _one_at_a_time:
        done = front.closing(store_path(), trial)
        if done is None or (done.closed_on, done.reason) != (on, reason.strip()):
            done = front.close(store_path(), trial, on, reason, Signed(who.name))
        return copy_lines(done)


def plant(trial: str, on: date) -> None:
    """Record the day a trial was planted out; one that is planted stays as it is."""
    who = require(WRITERS)
    with _one_at_a_time:
        stage = {each.code: each.stage for each in front.trials(store_path())}
        if stage[trial] is TrialStage.LAID_OUT:
            front.planted(store_path(), trial, on, signed=Signed(who.name))


def lay_out(plan: str, take: int) -> str:
    """Lay one of a plan's proposals out and keep it, once; the trial's code."""
    who = require(WRITERS)
    with _one_at_a_time:
        asked = (store_path(), plan, take)
        if asked not in _laid_out:
            done = front.plan_from_text(store_path(), plan, take=take, signed=Signed(who.name))
            _laid_out[asked] = done.layout.plan.code
        return _laid_out[asked]


def load(
    batch: tuple[str, ...],
    write_files: Callable[[Path], list[Path]],
    agreed: front.Agreed | None = None,
) -> Added:
    """Add records, all or nothing; what is stored already is not added a second time.

    ``batch`` names the uploaded files, ``write_files`` writes them into a folder; ``agreed`` says
    how they are read. Where the very same upload stored all of it, the answer is what that one
    added; after an undo the same files are added again, as a new submission.
    """
    who = require(WRITERS)
    with _one_at_a_time:
        made: list[str] = []
        token = _submission_of(batch, 1)
        entry = front.submission(store_path(), token)
        while entry is not None:
            made = [token] if entry.undone_by is None else []
            token = _submission_of(batch, int(token.rpartition(" ")[2]) + 1)
            entry = front.submission(store_path(), token)
        with tempfile.TemporaryDirectory() as folder:
            files = write_files(Path(folder))
            signed = Signed(who.name, token=token)
            added = front.load(store_path(), files, agreed=agreed, signed=signed)
        if added.nothing_new:
            return next((_brought_in[store_path(), each] for each in made), added)
        _brought_in[store_path(), token] = added
        return added


def _submission_of(batch: tuple[str, ...], time: int) -> str:
    """The mark under which an upload is brought in for the first, second ... time."""
    return f"{sha256(' '.join(batch).encode()).hexdigest()} {time}"


def everybody() -> tuple[Person, ...]:
    """Who may sign in."""
    require(WRITERS)
    return front.everybody(store_path())


def invite(name: str, role: Role) -> tuple[str, Invitation]:
    """The link of a new invitation, to be shown and kept nowhere."""
    require(WRITERS)
    token, invitation = front.invite(store_path(), name, role)
    return front.join_link(_pages(), token), invitation


def end_person(name: str) -> None:
    """Shut a person out, at once."""
    require(WRITERS)
    front.end_person(store_path(), name)
    at_the_door = door()
    if at_the_door is not None:
        at_the_door.forget()


def scanned_from() -> str | None:
    """Where phones reach the pages, for the codes on the stakes; None on this machine only."""
    return None if door() is None else _pages()


def _pages() -> str:
    """Where the grower looks at the pages: the others reach them at the same address."""
    parts = urlsplit(st.context.url or "")
    host = parts.hostname or ADDRESS
    if host in (ADDRESS, "localhost"):  # the owner's own screen: others reach it by its address
        host = lan_address()
    return f"{parts.scheme}://{host}" + (f":{parts.port}" if parts.port else "")


@Kept
def history(of: str | None, most: int) -> tuple[Entry, ...]:
    """The newest entries that touched a trial or a plot, or of all; the newest first."""
    return front.history(store_path(), of, most)[::-1]


@Kept
def plot_codes(trial: str) -> tuple[str, ...]:
    """The plots of a trial in walking order."""
    return tuple(str(code) for code in front.plots(store_path(), trial)["plot"])


@Kept
def compare_as_known(trial: str, entry: int) -> Comparison:
    """The comparison of a trial's primary measure as it was known when an entry was made."""
    return front.compare_trial(store_path(), trial, as_known_at=entry)
