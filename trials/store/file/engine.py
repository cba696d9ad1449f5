"""The database engine that a file is attached to for one turn, lent again and again.

To make an engine takes some 13 ms, to attach a file to one that is there some 5 ms. An engine is
lent to one turn at a time, so what breaks it, as a damaged file does, breaks no other store's.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import duckdb

# Extensions would be fetched from elsewhere while the program runs: it does without. Those inside
# the library are loaded when they are met, as after a crash: a journal with a table whose rule uses
# a function cannot be read back otherwise, and the store with it.
# No row is looked up through an index: one that is wrong, with a checksum that is right, would
# leave rows out of an answer and nobody would know. Indexes only hold new rows to their keys. The
# rows of a plot among a million are found in some ten milliseconds instead of two.
SETTINGS: dict[str, str | bool | int | float | list[str]] = {
    "autoinstall_known_extensions": False,
    "autoload_known_extensions": True,
    "index_scan_max_count": 0,
    "index_scan_percentage": 0.0,
}

_NAME = "farm_file"  # an attached file's, whatever it is called on the disk
_KEPT = 2
_idle: list[duckdb.DuckDBPyConnection] = []
_lock = threading.Lock()


@contextmanager
def attached(path: Path, *, read_only: bool) -> Iterator[duckdb.DuckDBPyConnection]:
    """A connection to the file, which this process lets go of at the end.

    Raises
    ------
    duckdb.Error
        The file cannot be opened.
    """
    import duckdb

    engine = _attach(path, read_only=read_only)
    try:
        with cursor_of(engine) as connection:
            yield connection
    finally:
        # What went wrong was reported where it happened; such an engine is not lent again. Nor is
        # one that wrote beside the file: its folder there goes with it, and cannot be changed.
        try:
            engine.execute(f"DETACH {_NAME}; SET temp_directory = ''")
        except duckdb.Error:
            _end(engine)
        else:
            _put_back(engine)


@contextmanager
def cursor_of(connection: duckdb.DuckDBPyConnection) -> Iterator[duckdb.DuckDBPyConnection]:
    """One more connection to an attached file, for one unit of work in whatever thread.

    What it begins, registers or makes for a while ends with it.
    """
    cursor = connection.cursor()
    try:
        cursor.execute(f"USE {_NAME}")
        yield cursor
    finally:
        _end(cursor)


def _attach(path: Path, *, read_only: bool) -> duckdb.DuckDBPyConnection:
    import duckdb

    with _lock:
        engine = _idle.pop() if _idle else None
    engine = engine or duckdb.connect(config=SETTINGS)
    options = "TYPE duckdb, READ_ONLY" if read_only else "TYPE duckdb"
    try:
        # What does not fit into memory goes beside the file, where only its owner may look.
        engine.execute(f"SET temp_directory = {_text(f'{path}.tmp')}")
        engine.execute(f"ATTACH {_text(str(path))} AS {_NAME} ({options})")
    except BaseException:
        _end(engine)
        raise
    return engine


def _text(words: str) -> str:
    return "'" + words.replace("'", "''") + "'"


def _put_back(engine: duckdb.DuckDBPyConnection) -> None:
    with _lock:
        if len(_idle) < _KEPT:
            _idle.append(engine)
            return
    _end(engine)


def _end(engine: duckdb.DuckDBPyConnection) -> None:
    import duckdb

    with suppress(duckdb.Error):
        engine.close()


def _end_all() -> None:
    """A process that is forked off would have the engines without the threads they work with."""
    with _lock:
        ended, _idle[:] = [*_idle], []
    for engine in ended:
        _end(engine)


if hasattr(os, "register_at_fork"):
    os.register_at_fork(before=_end_all)
