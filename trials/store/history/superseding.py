"""Moves rows that hold no longer to the twin of their table, naming the entry that ended them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trials.store.history.changes import Draft
from trials.store.history.tables import Twin, asked_of

if TYPE_CHECKING:
    import duckdb


def supersede(
    cursor: duckdb.DuckDBPyConnection, twin: Twin, draft: Draft, which: str, **parameters: int
) -> None:
    """Supersede the rows of a table whose rowids the question ``which`` answers with."""
    going = cursor.execute(asked_of(which, twin), parameters or None).df()
    if going.empty:
        return
    cursor.register("going", going)
    cursor.execute(asked_of("keep_superseded", twin), {"entry": draft.number})
    cursor.execute(asked_of("remove_superseded", twin))
    cursor.unregister("going")
