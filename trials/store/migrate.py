"""Brings a store's tables to what this program expects, one numbered step at a time.

A step is ``migrations/NNNN_name.sql``. To change the schema add the next number; never edit a
step that was released, its digest is kept in every store and an edited one is refused. Each step
and its record are one transaction, so a store stands before or after a step, never within. A store
of an older program is brought forward when it is opened; one of a newer program is refused.

A new store is spared the steps up to the one that ``migrations/up_to_NNNN.sql`` names: that file
makes the tables they leave. ``tests/store/fixtures/keep_tables.py`` writes it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from trials.errors import FileRefused, NotAStore, StoreDamaged, StoreRefused, StoreTooNew
from trials.store.file.connection import create_file, transaction
from trials.store.file.places import move_to_free_place
from trials.store.file.private import make_folder, working_folder
from trials.store.file.refusals import first_line
from trials.store.questions import question, rows

if TYPE_CHECKING:
    import duckdb

MIGRATIONS = Path(__file__).with_name("migrations")
_COLUMNS_OF_MIGRATION = 4


@dataclass(frozen=True, slots=True)
class Migration:
    """One step: its number, its name and the SQL that takes it."""

    number: int
    name: str
    sql: str

    @property
    def sha256(self) -> str:
        """The digest of its text; line ends do not count, as checkouts differ in them."""
        return hashlib.sha256("\n".join(self.sql.splitlines()).encode()).hexdigest()


@cache
def all_migrations(folder: Path = MIGRATIONS) -> tuple[Migration, ...]:
    """Every step this program knows, in order."""
    return tuple(
        Migration(int(file.stem[:4]), file.stem[5:], file.read_text(encoding="utf-8"))
        for file in sorted(folder.glob("[0-9][0-9][0-9][0-9]_*.sql"))
    )


@dataclass(frozen=True, slots=True)
class Tables:
    """The tables that the steps up to a number leave, as SQL that makes them at once."""

    number: int
    sql: str


@cache
def kept_tables(folder: Path = MIGRATIONS) -> Tables:
    """Those that are kept beside the steps."""
    (file,) = folder.glob("up_to_[0-9][0-9][0-9][0-9].sql")
    return Tables(int(file.stem[-4:]), file.read_text(encoding="utf-8"))


def tables_of(cursor: duckdb.DuckDBPyConnection) -> str:
    """SQL that makes the file's tables again, with what they mean."""
    return "\n".join(statement for (statement,) in rows(cursor, "schema_statements")) + "\n"


def make_new(path: Path) -> None:
    """Make a store at this program's last step where nothing is; folders above it are made too.

    Raises
    ------
    FileRefused
        Something is there already, or the place cannot be written to.
    """
    import duckdb

    for taken in (path, path.with_name(path.name + ".wal")):
        if taken.exists():
            raise FileRefused(f"{taken} exists already. Name another place, or move it away first.")
    try:
        make_folder(path.parent)
        # Made beside its place and moved there whole: nobody meets half a store.
        with working_folder(".store-", path.parent) as folder:
            fresh = folder / path.name
            connection = create_file(fresh)
            try:
                _fill(connection, all_migrations(), kept_tables())
                connection.execute("CHECKPOINT")  # closing would keep a failure to itself
            finally:
                connection.close()
            move_to_free_place(fresh, path)
    except (OSError, duckdb.Error) as error:
        why = error.strerror if isinstance(error, OSError) else first_line(error)
        raise FileRefused(f"No store can be made at {path}: {why}. Name another place.") from error


def pending(
    cursor: duckdb.DuckDBPyConnection, steps: Sequence[Migration], path: Path
) -> tuple[Migration, ...]:
    """The steps this store has yet to take; nothing is changed.

    Raises
    ------
    NotAStore
        A database, but without our table of migrations.
    StoreTooNew
        It has taken steps this program does not know.
    StoreDamaged
        A step it took is not the one this program has under that number.
    """
    if rows(cursor, "migration_columns") != [(_COLUMNS_OF_MIGRATION,)]:
        raise NotAStore(
            f"{path} is a database, but not a store of this program. Name the store's own file."
        )
    applied = rows(cursor, "applied_migrations")
    if len(applied) > len(steps):
        raise StoreTooNew(
            f"{path} was made by a newer version of this program (it is at step "
            f"{len(applied)}, this program has {len(steps)}). Update the program."
        )
    for step, (number, name, sha256) in zip(steps, applied, strict=False):
        if (step.number, step.name, step.sha256) != (number, name, sha256):
            raise StoreDamaged(
                f"The history of {path} does not fit this program: step {number} ({name}) is "
                f"not its step {step.number} ({step.name}), or was edited later. Restore a "
                "backup, or install the program again."
            )
    if not applied:
        raise NotAStore(f"{path} has no history, so it is not a store of this program.")
    return tuple(steps[len(applied) :])


def require_current(
    cursor: duckdb.DuckDBPyConnection, steps: Sequence[Migration], path: Path
) -> None:
    """Refuse a store that is not at this program's last step.

    It was when it was opened, but another file may have been put in its place since.

    Raises
    ------
    StoreRefused
        And what ``pending`` raises.
    """
    if pending(cursor, steps, path):
        raise StoreRefused(f"{path} was replaced by an older store. Start the program again.")


def _fill(connection: duckdb.DuckDBPyConnection, steps: Sequence[Migration], kept: Tables) -> None:
    with transaction(connection):
        connection.execute(kept.sql)
        for step in steps[: kept.number]:
            _record(connection, step)
    bring_forward(connection, steps[kept.number :])


def bring_forward(cursor: duckdb.DuckDBPyConnection, steps: Sequence[Migration]) -> None:
    """Take the steps, each with its record in one transaction."""
    for step in steps:
        with transaction(cursor):
            cursor.execute(step.sql)
            _record(cursor, step)


def _record(cursor: duckdb.DuckDBPyConnection, step: Migration) -> None:
    cursor.execute(
        question("record_migration"),
        {
            "number": step.number,
            "name": step.name,
            "sha256": step.sha256,
            "applied_at": datetime.now(UTC).replace(tzinfo=None),
        },
    )
