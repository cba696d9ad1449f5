"""The records as they were known: every question of the store, answered as of a moment."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from trials.errors import HistoryRefused, Remedy, Verb
from trials.store.history.tables import TWINS
from trials.store.questions import filled, rows

if TYPE_CHECKING:
    import duckdb


@dataclass(frozen=True, slots=True)
class Moment:
    """When an entry had been made, or a time.

    Entries up to ``entry`` had been made; where a ``time`` is given (UTC), only those of them that
    were recorded by then, wherever that was: entries of a package keep the time they were made at.
    """

    entry: int
    time: datetime | None = None

    @property
    def condition(self) -> str:
        """Which entries had been made, as a condition on the table of entries."""
        made = f"number <= {int(self.entry)}"
        if self.time is None:
            return made
        return f"{made} AND recorded_at <= TIMESTAMP '{self.time.isoformat(sep=' ')}'"


def look_back(cursor: duckdb.DuckDBPyConnection, moment: Moment) -> None:
    """Let this cursor see the records as they stood at that moment.

    Views of the tables' own names hide the tables, for this cursor and until it is closed, so
    that no question need know of it.
    """
    ((name,),) = rows(cursor, "database_name")
    database = '"' + name.replace('"', '""') + '"'
    for twin in TWINS:
        words = {"table": twin.table, "database": database, "made": moment.condition}
        cursor.execute(filled("as_known", **words))
    cursor.execute(filled("as_laid_out", database=database))


def moment_of(cursor: duckdb.DuckDBPyConnection, when: datetime | int) -> Moment:
    """A time (one without a zone is taken as UTC), or when the entry of a number had been made.

    Raises
    ------
    HistoryRefused
        The history begins later, or does not go on to that number.
    """
    ((last,),) = rows(cursor, "last_entry")
    if isinstance(when, int):
        if not 1 <= when <= last:
            raise no_entry(when, last)
        return Moment(when)
    time = when if when.tzinfo is None else when.astimezone(UTC).replace(tzinfo=None)
    ((found,),) = rows(cursor, "entry_by_time", time=time)
    if found is None:
        ((first,),) = rows(cursor, "first_entry")
        begins = "it has nothing yet" if first is None else f"it begins on {first:%Y-%m-%d %H:%M}"
        raise HistoryRefused(
            f"The history does not reach back to {time:%Y-%m-%d %H:%M} UTC: {begins}. "
            "Name a later time."
        )
    return Moment(last, time)


def no_entry(number: int, last: int) -> HistoryRefused:
    """That there is no such entry, and where to look."""
    there = f"Changes are numbered up to {last}." if last else "There is none yet."
    see = Remedy("See them", Verb.HISTORY)
    return HistoryRefused(f"There is no change {number}. {there}", see if last else None)
