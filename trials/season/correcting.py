"""What a grower does about records that are wrong: correct, withdraw, undo, look at the history."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from trials import records
from trials.store import Store

if TYPE_CHECKING:
    from trials.model.rows import Batch, Known, Signed
    from trials.model.trial import Entry, RecordsDigest


def store_at(store: Path, as_known_at: datetime | int | None = None) -> Store:
    """The store, or the store as it was known at a time or entry."""
    kept = Store.open(store)
    return kept if as_known_at is None else kept.as_known_at(as_known_at)


def correct(
    store: Path,
    files: Sequence[Path],
    signed: Signed,
    *,
    seen: int | None = None,
    accept: str | None = None,
) -> Entry | None:
    """Put right what is held by corrected sheets of the same form, all or nothing.

    Of a picking day (and of the stems measured that day) a sheet gives every row; they take the
    place of all that is held of that plot and day. ``seen`` is the newest entry that whoever
    corrected the sheet had looked at; without it, the newest there is. ``accept`` says why the
    unlikely is true. None comes back where the sheets say nothing but what is held.

    Raises
    ------
    RecordsRefused
        A row cannot be, or has nothing to put right; a RecordsHeld is unlikely.
    ChangedMeanwhile
        What is to be replaced was changed after ``seen``.
    HistoryRefused
        Other records rest on what would go.
    """
    read = partial(records.read_corrections, accept=accept)
    return _amend(store, files, signed, seen, read, Store.correct)


def withdraw(
    store: Path, files: Sequence[Path], signed: Signed, *, seen: int | None = None
) -> Entry | None:
    """Take out rows that should never have been; the files have them word for word.

    Raises
    ------
    RecordsRefused
        A row is not held like that.
    HistoryRefused
        Other records rest on it.
    """
    return _amend(store, files, signed, seen, records.read_withdrawals, Store.withdraw)


def undo(store: Path, entry: int | None, signed: Signed) -> Entry:
    """Take an entry back, by default the newest by the same person."""
    return Store.open(store).undo(entry, signed)


def history(store: Path, of: str | None = None, last: int | None = None) -> tuple[Entry, ...]:
    """Who changed what, when and why, oldest first: of a trial, of a plot, or of everything."""
    return Store.open(store).history(of, last)


def submission(store: Path, token: str) -> Entry | None:
    """The entry that a submission made, and whether it was taken back; None where it made none."""
    return Store.open(store).submission(token)


def records_mark(store: Path) -> tuple[int, datetime] | None:
    """What changes whenever a record does, and stays where none did."""
    return Store.open(store).records_mark()


def records_digest(
    store: Path, trial: str, as_known_at: datetime | int | None = None
) -> RecordsDigest:
    """The digest of a trial's records, beside the one they were closed with."""
    return store_at(store, as_known_at).digest(trial)


def _amend(
    store: Path,
    files: Sequence[Path],
    signed: Signed,
    seen: int | None,
    read: Callable[[Sequence[Path], Known], Batch],
    change: Callable[[Store, Batch, Signed, int], Entry | None],
) -> Entry | None:
    kept = Store.open(store)
    known = kept.known()
    batch = read(files, known)
    return change(kept, batch, signed, known.last_entry if seen is None else seen)
