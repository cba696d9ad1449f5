"""Turns at a store's file: each waits until it is free, works on one state of it, and lets go."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from trials.errors import FileRefused, HistoryRefused, StoreRefused
from trials.store import migrate
from trials.store.file.connection import Hold, transaction
from trials.store.file.private import is_writable
from trials.store.history import as_of as past

if TYPE_CHECKING:
    from datetime import datetime

    import duckdb

_ONLY_READS = "several questions in one turn only read, on one state: ask the store itself"


@dataclass(frozen=True, slots=True)
class Turns:
    """Units of work on one store, of today or as it was known at the moment ``as_of``.

    ``wait_s`` is how long one waits for the file before it says who holds it.
    """

    hold: Hold
    wait_s: float
    as_of: past.Moment | None = None

    @property
    def path(self) -> Path:
        """Where the file is."""
        return self.hold.path

    def looking_back(self, when: datetime | int) -> Turns:
        """The same file as it was known at a time, or when the entry of a number was made."""
        with self.reading() as cursor:
            return replace(self, as_of=past.moment_of(cursor, when))

    @contextmanager
    def reading(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """One unit of work on one state of the records."""
        with self.hold.cursor(self.wait_s) as cursor, transaction(cursor):
            self._require_current(cursor)
            if self.as_of is not None:
                past.look_back(cursor, self.as_of)
            yield cursor

    def _require_current(self, cursor: duckdb.DuckDBPyConnection) -> None:
        try:
            migrate.require_current(cursor, migrate.all_migrations(), self.path)
        except StoreRefused:
            self.hold.forget()  # who opens it next looks into it
            raise

    @contextmanager
    def at_once(self) -> Iterator[Turns]:
        """One turn for several units of work, all on one state of the records."""
        with self.reading() as cursor:
            yield OneTurn(self.hold, self.wait_s, self.as_of, cursor=cursor)

    @contextmanager
    def writing(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """One unit of work that no other thread or process writes during."""
        if self.as_of is not None:
            raise HistoryRefused("Earlier records cannot be changed. Open the store itself.")
        require_writable(self.path)
        with self.hold.writing(self.wait_s), self.reading() as cursor:
            yield cursor

    @contextmanager
    def alone(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """A cursor without a transaction, while nobody else writes: to judge the file itself."""
        with self.hold.writing(self.wait_s), self.hold.cursor(self.wait_s) as cursor:
            yield cursor


@dataclass(frozen=True, slots=True)
class OneTurn(Turns):
    """Units of work within a turn that was taken for all of them: they only read."""

    cursor: duckdb.DuckDBPyConnection = field(kw_only=True)

    @contextmanager
    def reading(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """The turn's own cursor."""
        yield self.cursor

    def looking_back(self, when: datetime | int) -> Turns:
        """Refused: the turn has one state of the records."""
        raise NotImplementedError(_ONLY_READS)

    @contextmanager
    def writing(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """Refused: others who wait for the file would wait for the writer too."""
        yield _refused()

    @contextmanager
    def alone(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """Refused: the turn has a transaction."""
        yield _refused()


def _refused() -> duckdb.DuckDBPyConnection:
    raise NotImplementedError(_ONLY_READS)


def require_writable(store: Path) -> None:
    """Refuse to write to a store that may only be read.

    Raises
    ------
    FileRefused
        Its file or its folder may not be written to.
    """
    if store.exists() and not is_writable(store):
        raise FileRefused(
            f"{store} can be read but not written: you may not write to the file or its "
            "folder. Nothing was changed. To add records, copy the store to a folder of your "
            "own."
        )
