"""The records as they were known: every question of the store, answered as of an entry."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

from trials.errors import HistoryRefused
from trials.store.questions import filled, rows
from trials.store.twins import TWINS

if TYPE_CHECKING:
    import duckdb


def look_back(cursor: duckdb.DuckDBPyConnection, entry: int) -> None:
    """Let this cursor see the records as they stood when that entry had been made.

    Views of the tables' own names hide the tables, for this cursor and until it is closed, so
    that no question need know of it.
    """
    ((name,),) = rows(cursor, "database_name")
    database = '"' + name.replace('"', '""') + '"'
    for twin in TWINS:
        words = {"table": twin.table, "database": database, "entry": str(int(entry))}
        cursor.execute(filled("as_known", **words))
    cursor.execute(filled("as_laid_out", database=database))


def entry_at(cursor: duckdb.DuckDBPyConnection, when: datetime | int) -> int:
    """The newest entry at a time (one without a zone is taken as UTC), or the one of that number.

    Raises
    ------
    HistoryRefused
        The history begins later, or there is no entry of that number.
    """
    ((last,),) = rows(cursor, "last_entry")
    if isinstance(when, int):
        if not 1 <= when <= last:
            raise HistoryRefused(
                f"There is no entry {when}. The entries are numbered from 1 to {last}: see them "
                "with: tallybed history"
            )
        return when
    time = when if when.tzinfo is None else when.astimezone(UTC).replace(tzinfo=None)
    ((found,),) = rows(cursor, "entry_by_time", time=time)
    if found is None:
        ((first,),) = rows(cursor, "first_entry")
        begins = "it holds nothing yet" if first is None else f"it begins on {first:%Y-%m-%d %H:%M}"
        raise HistoryRefused(
            f"The history does not reach back to {time:%Y-%m-%d %H:%M} UTC: {begins}. "
            "Name a later time."
        )
    return int(found)
