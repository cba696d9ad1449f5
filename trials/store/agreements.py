"""What was agreed as files were loaded: how sheets are read, and why the unlikely is true."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trials.store.questions import question, rows

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

    from trials.model.rows import Batch


def keep(cursor: duckdb.DuckDBPyConnection, batch: Batch, entry: int) -> None:
    """Keep what a batch was agreed on, with the entry that took its rows in."""
    import pandas as pd

    if batch.readings:
        known = {reading.signature: reading.text for reading in batch.readings}
        fresh = pd.DataFrame(
            [(signature, text, entry) for signature, text in known.items()],
            columns=["signature", "text", "entry"],
        )
        _put(cursor, "keep_readings", fresh)
    if batch.accepted:
        fresh = pd.DataFrame(
            [
                (entry, one.sheet.value, one.file, one.row, one.column, one.doubt, one.reason)
                for one in batch.accepted
            ],
            columns=["entry", "sheet", "file", "row_number", "column_name", "doubt", "reason"],
        )
        _put(cursor, "keep_accepted", fresh.astype({"row_number": "Int64"}))


def readings(cursor: duckdb.DuckDBPyConnection) -> dict[str, str]:
    """The readings that are kept, as TOML, by what the headings of their sheets are known by."""
    return dict(rows(cursor, "kept_readings"))


def _put(cursor: duckdb.DuckDBPyConnection, name: str, fresh: pd.DataFrame) -> None:
    cursor.register("fresh", fresh)
    cursor.execute(question(name))
    cursor.unregister("fresh")
