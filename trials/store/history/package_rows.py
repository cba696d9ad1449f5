"""What a trial's package needs of a store beside its rows, and how a package comes in."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from trials.errors import FileRefused
from trials.store import closings, intake, plans, trial_list
from trials.store import photos as album
from trials.store.file.connection import hold_of
from trials.store.file.places import flush, move_to_free_place
from trials.store.file.private import make_folder, working_folder
from trials.store.history import importing as bringing
from trials.store.history import trial_digest
from trials.store.history.changes import What
from trials.store.history.export import CLOSINGS, Carried, carried_of
from trials.store.questions import rows

if TYPE_CHECKING:
    import duckdb

    from trials.model.photo import PhotoOf
    from trials.model.rows import Added, Batch, Known, Signed
    from trials.model.trial import Trial
    from trials.store.store import Store


@dataclass(frozen=True, slots=True)
class Ending:
    """When a trial's season was closed, and why."""

    closed_on: date
    reason: str


@dataclass(frozen=True, slots=True, eq=False)
class Parcel:
    """A trial with all that belongs to it, of one moment.

    ``meanings`` says what each column of the store means, by table and column; the column '' is
    the table itself. ``plan`` is None where the trial was loaded from files, ``ending`` while its
    season is open.
    """

    trial: Trial
    digest: str
    known: Known
    plan: plans.KeptPlan | None
    ending: Ending | None
    carried: Carried
    meanings: Mapping[tuple[str, str], str]


def parcel_of(store: Store, code: str) -> Parcel:
    """All that goes into a trial's package."""
    with store.turns.reading() as cursor:
        return Parcel(
            trial_list.trial(cursor, code),
            trial_digest.digest(cursor, code),
            intake.known(cursor),
            next((plans.KeptPlan(*plan) for plan in rows(cursor, "plan", trial=code)), None),
            _ending(cursor, code),
            carried_of(cursor, code),
            {(table, column): text for table, column, text in rows(cursor, "meanings")},
        )


@contextmanager
def store_for(path: Path) -> Iterator[Store]:
    """The store at a place; one that is not there is made with what is put into it, or not at all.

    Raises
    ------
    FileRefused
        The place cannot be written to, or something came there meanwhile.
    """
    from trials.store.store import Store

    if path.exists():
        yield Store.open(path)
        return
    try:
        make_folder(path.parent)
        with working_folder(".unpack-", path.parent) as folder:
            made = Store.create(folder / path.name)
            yield made
            with hold_of(made.path).alone() as connection:
                connection.execute("CHECKPOINT")  # closing would keep a failure to itself
            flush(made.path)
            move_to_free_place(made.path, path)
    except OSError as problem:
        raise FileRefused(
            f"No store can be made at {path}: {problem.strerror}. Name another place."
        ) from problem


@dataclass(frozen=True, slots=True, eq=False)
class TakenIn:
    """What a store gained from a parcel, and how many entries of its history (None: it has none).

    A trial that is held keeps the history it has; then ``entries`` is 0.
    """

    added: Added
    entries: int | None


def take_in(
    store: Store,
    code: str,
    batch: Batch,
    plan: plans.KeptPlan | None,
    ending: Ending | None,
    carried: Carried | None,
    photos: Mapping[str, PhotoOf],
    signed: Signed,
) -> TakenIn:
    """Store a trial with its plan, its closing, its history and its photos, all or nothing.

    What is held is left alone. The files of the photos (by digest) are there already.

    Raises
    ------
    RecordsRefused
        A row clashes with what is held.
    TrialState
        The trial is held and closed, and the rows are not those it was closed with.
    HistoryRefused
        The history cannot be, or does not fit the records.
    """
    with store.turns.writing() as cursor:
        held = any(trial.code == code for trial in trial_list.trials(cursor))
        entries = None if carried is None else 0
        if carried is None or held:
            added = intake.add(cursor, batch, signed, What.LOAD)
            if ending is not None and trial_list.trial(cursor, code).closed_on is None:
                closings.close(cursor, code, ending.closed_on, ending.reason, signed)
        else:
            if _ending_by(carried) != ending:
                bringing.refuse(code, "its closing differs")
            added, entries = bringing.bring(cursor, code, batch, carried, signed)
        if plan is not None and not rows(cursor, "plan", trial=code):
            plans.keep(cursor, code, plan)
        album.add(cursor, photos, signed)
        return TakenIn(added, entries)


def _ending_by(carried: Carried) -> Ending | None:
    """The closing that holds by a history."""
    closings_then = carried.rows.get(CLOSINGS)
    if closings_then is None:
        return None
    held = closings_then[closings_then["superseded_by"].isna()]
    return next(map(Ending, held["closed_on"], held["reason"]), None)


def _ending(cursor: duckdb.DuckDBPyConnection, code: str) -> Ending | None:
    return next((Ending(*ending) for ending in rows(cursor, "closing", trial=code)), None)
