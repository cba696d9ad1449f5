"""The entries of the history: each change of the records, with who made it, when and why."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from typing import TYPE_CHECKING

from trials.store.questions import question, rows

if TYPE_CHECKING:
    import duckdb

    from trials.model.rows import Signed


class What(StrEnum):
    """What kind of change an entry was."""

    BEFORE_HISTORY = "before history"
    NEW_MEANING = "new meaning"  # no record changed, but figures are calculated in another way
    LOAD = "load"
    TALLY = "tally"
    PLAN = "plan"
    CLOSING = "closing"
    PHOTO = "photo"
    CORRECTION = "correction"
    WITHDRAWAL = "withdrawal"
    UNDO = "undo"


class NotOneDay(ValueError):
    """Rows of a plot and day that cannot all be true of it; the text says which day, and why."""


@dataclass(slots=True)
class Draft:
    """An entry on its way: its number is taken, and it is kept only if something ``happened``."""

    number: int
    happened: bool = False


@contextmanager
def entry(
    cursor: duckdb.DuckDBPyConnection, what: What, signed: Signed, *, undoes: int | None = None
) -> Iterator[Draft]:
    """Make the next entry around what is done within; to be called within a transaction.

    Where nothing ``happened`` there is no entry: the history holds changes, not attempts.
    """
    ((last,),) = rows(cursor, "last_entry")
    draft = Draft(last + 1)
    yield draft
    if draft.happened:
        cursor.execute(
            question("add_entry"),
            {
                "number": draft.number,
                "recorded_at": datetime.now(UTC).replace(tzinfo=None),
                "who": signed.who,
                "what": what.value,
                "why": signed.why,
                "undoes": undoes,
                "token": signed.token,
                "tallied_at": signed.tallied_at,
            },
        )
        if signed.token is not None:  # what was typed is recorded, in this very transaction
            cursor.execute(question("drop_recorded_draft"), {"token": signed.token})


def entry_of(cursor: duckdb.DuckDBPyConnection, signed: Signed) -> int | None:
    """The entry that a submission with this token made before; None where it made none."""
    if signed.token is None:
        return None
    found = rows(cursor, "entry_of_token", token=signed.token)
    return int(found[0][0]) if found else None
