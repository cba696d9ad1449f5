"""What each table holds, as a count and a digest that any program can find again.

The digest is the SHA-256 of the table's rows written as JSON objects without spaces (columns in
their order, dates as text, fractions with the fewest digits that give them back), sorted by their
UTF-8 bytes, one to a line. Reading it reads every cell, and damage raises where it is met.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from trials.store.questions import question, rows

if TYPE_CHECKING:
    import duckdb

_ROWS_AT_ONCE = 10_000


@dataclass(frozen=True, slots=True)
class TableDigest:
    """A table, how many rows it has, and the SHA-256 of them in hexadecimal."""

    table: str
    rows: int
    sha256: str


def tables(cursor: duckdb.DuckDBPyConnection) -> tuple[str, ...]:
    """The tables of the file, each after those it refers to."""
    return tuple(name for (name,) in rows(cursor, "tables_in_order"))


def of_table(cursor: duckdb.DuckDBPyConnection, table: str) -> TableDigest:
    """The digest of a table that is held."""
    cursor.execute(question("row_texts"), {"table": table})
    return TableDigest(table, *_of_lines(cursor))


def of_tables(cursor: duckdb.DuckDBPyConnection) -> tuple[TableDigest, ...]:
    """The digest of every table; within a transaction they are of one moment."""
    return tuple(of_table(cursor, table) for table in tables(cursor))


def of_file(connection: duckdb.DuckDBPyConnection, table: str, file: Path) -> TableDigest:
    """The digest of the rows of a Parquet file."""
    connection.execute(question("row_texts_of_file"), {"file": str(file)})
    return TableDigest(table, *_of_lines(connection))


def _of_lines(cursor: duckdb.DuckDBPyConnection) -> tuple[int, str]:
    digest, count = hashlib.sha256(), 0
    while some := cursor.fetchmany(_ROWS_AT_ONCE):
        digest.update("".join(f"{line}\n" for (line,) in some).encode())
        count += len(some)
    return count, digest.hexdigest()
