"""What the tally page asks of the season: the walk, a plot, what is typed, and recording it."""

from __future__ import annotations

import threading
import time
from datetime import UTC, date, datetime
from functools import partial
from pathlib import Path

import streamlit as st

from dashboard.access.visitor import TALLIERS, WRITERS, require
from dashboard.kept import ANSWERS_KEPT, FileState, State, file_state, state, store_path
from dashboard.tally.drafts import HAPPENED, Drafts
from trials import season as front
from trials.errors import StoreBusy
from trials.model.photo import PhotoOf, PhotosAdded
from trials.model.plot_day import GradesAndReasons, PlotOfWalk, PlotOnDay
from trials.model.re_entry import Spray, closing_spray
from trials.model.rows import Signed
from trials.season import DraftPlace, KeptDraft, Purpose

# When the store was asked (of a clock that only goes forward), and what it had.
Found = tuple[float, tuple[KeptDraft, ...]]

# A second tap runs beside the first: it waits, and finds what the first has done.
_ONE_AT_A_TIME = threading.Lock()

_drafts: dict[Path, Drafts] = {}
_new_drafts = threading.Lock()


def drafts() -> Drafts:
    """What is being typed at the beds of the store, by everybody."""
    require(TALLIERS)
    path = store_path()
    with _new_drafts:
        if path not in _drafts:
            _drafts[path] = Drafts(partial(front.keep_drafts, path))
        return _drafts[path]


def draft_place(plot: str, day: date, purpose: Purpose = Purpose.TALLY) -> DraftPlace:
    """Where the visitor's draft of a plot and day lies: theirs on whichever device they type."""
    return DraftPlace(require(TALLIERS).name, plot, day, purpose)


def begun() -> frozenset[DraftPlace]:
    """Where the visitor has typed something that is not recorded."""
    return drafts().begun(require(TALLIERS).name)


def my_drafts() -> tuple[KeptDraft, ...]:
    """What the visitor has typed on any device and not recorded, the oldest first.

    While another program holds the store, what is at hand is all there is to go by.
    """
    person = require(TALLIERS).name
    try:
        asked_at, found = _drafts_of(store_path(), file_state(), person)
    except StoreBusy:
        return ()
    drafts().found(person, found, asked_at)
    return found


def left_unrecorded(trial: str) -> tuple[KeptDraft, ...]:
    """What anybody has typed at the plots of a trial and not recorded."""
    require(WRITERS)
    try:
        _, found = _drafts_of(store_path(), file_state(), None)
    except StoreBusy:
        return ()
    return tuple(each for each in found if each.trial == trial)


@st.cache_resource(max_entries=ANSWERS_KEPT, show_spinner=False)
def _drafts_of(path: Path, at: FileState, person: str | None) -> Found:
    asked_at = time.monotonic()
    return asked_at, front.drafts_of(path, person)


def discard_draft(place: DraftPlace) -> None:
    """Throw away what the visitor typed for a plot and day."""
    require(TALLIERS)
    drafts().throw_away(place, partial(front.discard_draft, store_path(), place))


def now() -> datetime:
    """This moment, by the clock of the computer that serves the pages."""
    return datetime.now(UTC)


def closed_by(plot: PlotOfWalk) -> Spray | None:
    """The spray whose re-entry time keeps people out of a plot now, None where it is open."""
    require(TALLIERS)
    return closing_spray(plot.sprays, now())


def walk(day: date) -> tuple[PlotOfWalk, ...]:
    """The plots to tally on a day; kept until the store's file changes."""
    require(TALLIERS)
    return _walk(store_path(), state(), day)


@st.cache_resource(max_entries=ANSWERS_KEPT, show_spinner=False)
def _walk(path: Path, at: State, day: date) -> tuple[PlotOfWalk, ...]:
    return front.walk(path, day)


def grades_and_reasons(trial: str) -> GradesAndReasons:
    """What a trial counts by; kept until a record changes."""
    require(TALLIERS)
    return _grades_and_reasons(store_path(), state(), trial)


@st.cache_resource(max_entries=ANSWERS_KEPT, show_spinner=False)
def _grades_and_reasons(path: Path, at: State, trial: str) -> GradesAndReasons:
    return front.grades_and_reasons(path, trial)


def plot_on_day(trial: str, plot: str, day: date) -> PlotOnDay:
    """What is recorded of a plot on a day."""
    require(TALLIERS)
    return front.plot_on_day(store_path(), trial, plot, day)


def tally(
    entry: front.TallyEntry,
    token: str,
    accept: str | None = None,
    tallied_at: datetime | None = None,
) -> front.Recorded:
    """Record a plot's tally, once for each token.

    ``accept`` says why the unlikely is true; ``tallied_at`` is when it was tallied (UTC), where it
    comes later.
    """
    who = require(TALLIERS)
    signed = Signed(who.name, token=token, tallied_at=tallied_at)
    with _ONE_AT_A_TIME:
        recorded = front.tally(store_path(), entry, signed, accept)
    place = draft_place(entry.plot, entry.day)
    if entry.what in (front.Tally.NOTE, front.Tally.LOST):  # the counts typed beside it stay
        drafts().type_in(place, HAPPENED, "")
    else:
        drafts().done(place)
    return recorded


def add_photo(content: bytes, plot: str, day: date, token: str) -> PhotosAdded:
    """Store a photo of a plot that somebody took there, once for each token."""
    who = require(TALLIERS)
    files = [(f"Photo of {plot}", content)]
    with _ONE_AT_A_TIME:
        return front.add_photos(
            store_path(), files, PhotoOf(None, plot, day), Signed(who.name, token=token)
        )


def record_spray(entry: front.SprayEntry, token: str) -> None:
    """Record a spray, once for each token."""
    who = require(WRITERS)
    with _ONE_AT_A_TIME:
        front.record_spray(store_path(), entry, Signed(who.name, token=token))


def correct_tally(
    entry: front.TallyEntry, why: str, token: str, seen: int, accept: str | None = None
) -> front.Recorded:
    """Put a plot's picking day right, once for each token."""
    who = require(TALLIERS)
    signed = Signed(who.name, why.strip(), token)
    with _ONE_AT_A_TIME:
        recorded = front.correct_tally(store_path(), entry, signed, seen, accept)
    drafts().done(draft_place(entry.plot, entry.day, Purpose.CORRECTION))
    return recorded
