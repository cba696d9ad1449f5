"""Is the store whole: reads every row, as damage shows only in what is read.

Damage to an index shows when records are added, which then refuses and changes nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trials.store.questions import question, rows

if TYPE_CHECKING:
    import duckdb

_ROWS_AT_ONCE = 10_000


@dataclass(frozen=True, slots=True)
class Wholeness:
    """What was read: the steps the store has taken, and the rows of each table."""

    migrations: tuple[str, ...]
    rows: tuple[tuple[str, int], ...]  # (table, rows)


def read_everything(cursor: duckdb.DuckDBPyConnection) -> Wholeness:
    """Read every cell of every table; damage raises where it is met."""
    counts: list[tuple[str, int]] = []
    for (table,) in rows(cursor, "own_tables"):
        cursor.execute(question("read_table"), {"table": table})
        count = 0
        while some := cursor.fetchmany(_ROWS_AT_ONCE):
            count += len(some)
        counts.append((table, count))
    names = tuple(f"{number:04d} {name}" for number, name, _ in rows(cursor, "applied_migrations"))
    return Wholeness(names, tuple(counts))
