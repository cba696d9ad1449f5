"""This process's turn at a store's file: shared by its threads, let go as soon as none works.

DuckDB lets one process at a time hold a file, by a lock that vanishes when that process closes
the file by any other means, a second connection of its own included. So there is one connection a
file and process, opened for the first unit of work and closed after the last that overlaps it;
every unit of work has a cursor of its own; and nothing here opens the file otherwise.
"""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from trials.errors import FileRefused
from trials.store.file.engine import SETTINGS, attached, cursor_of
from trials.store.file.lock import locked
from trials.store.file.private import is_writable, private_files
from trials.store.file.refusals import (
    busy,
    busy_here,
    damaged,
    look_at,
    means_busy,
    means_damage,
    means_no_room,
    refusal,
    unusable,
)

if TYPE_CHECKING:
    import duckdb

WAIT_S = 10.0  # with eight processes writing at once the longest wait seen was 2.3 s
_BLOCK_BYTES = 16_384
_FIRST_PAUSE_S = (0.005, 0.030)
_LONGEST_GROWTH = 3.0
# Threads that overlap without end would keep other processes out: after so long nobody joins any
# more, and before the next turn there is room for those who ask meanwhile.
_LONGEST_TURN_S = 0.5
_ROOM_S = 0.06
_GROWTH = 1.5


class Hold:
    """One store file as this process holds it. Get it from ``hold_of``, never directly."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._turn = threading.Condition()
        self._writing = threading.Lock()
        self._root: duckdb.DuckDBPyConnection | None = None
        self._held = ExitStack()  # lets go of the file after the last that works on it
        self._users = 0
        self._begun = 0.0  # when this turn began
        self._leave_room = False
        self._broken = False
        self._known: tuple[int, int] | None = None

    def know(self) -> None:
        """From now on the file that is there is known to be a store at the last step."""
        self._known = self._identity()

    def forget(self) -> None:
        """It is not, after all."""
        self._known = None

    def is_known(self) -> bool:
        """Whether the file that is there now is that one.

        Raises
        ------
        StoreMissing, NotAStore
            There is none, or it is no database.
        """
        look_at(self.path)
        return self._known is not None and self._known == self._identity()

    def _identity(self) -> tuple[int, int]:
        facts = self.path.stat()
        return facts.st_dev, facts.st_ino

    @contextmanager
    def cursor(self, wait_s: float = WAIT_S) -> Iterator[duckdb.DuckDBPyConnection]:
        """A cursor for one unit of work; waits its turn for the file.

        Raises
        ------
        StoreMissing, NotAStore, StoreTooNew, StoreDamaged, StoreBusy, FileRefused
            The file cannot be opened, or turned out to be damaged while it was read.
        """
        import duckdb

        connection = self._enter(time.monotonic() + wait_s)
        try:
            with cursor_of(connection) as cursor:
                yield cursor
        except duckdb.FatalException as error:
            self._broken = True  # every cursor is dead: the last one out closes the connection
            if means_no_room(error):
                raise unusable(self.path, error) from error
            raise damaged(self.path, error) from error
        except duckdb.Error as error:
            if means_damage(error):
                raise damaged(self.path, error) from error
            # A full disk, a pulled stick; met at the commit it is no IOException.
            if isinstance(error, duckdb.IOException) or means_no_room(error):
                raise unusable(self.path, error) from error
            raise
        finally:
            self._leave()

    @contextmanager
    def writing(self, wait_s: float = WAIT_S) -> Iterator[None]:
        """The one turn to write within this process."""
        if not self._writing.acquire(timeout=wait_s):
            raise busy_here(self.path, wait_s)
        try:
            yield
        finally:
            self._writing.release()

    @contextmanager
    def looking(self, wait_s: float = WAIT_S) -> Iterator[duckdb.DuckDBPyConnection]:
        """A cursor that cannot change a byte, not even by tidying up after a crash.

        Where the process works on the file already, it is an ordinary cursor.
        """
        import duckdb

        deadline = time.monotonic() + wait_s
        with self._turn_by(deadline):
            if self._root is None:
                with _connected(self.path, deadline, wait_s, read_only=True) as look:
                    try:
                        yield look
                    except duckdb.Error as error:
                        if isinstance(error, duckdb.FatalException) or means_damage(error):
                            raise damaged(self.path, error) from error
                        raise
                return
        with self.cursor(deadline - time.monotonic()) as cursor:
            yield cursor

    @contextmanager
    def alone(self, wait_s: float = WAIT_S) -> Iterator[duckdb.DuckDBPyConnection]:
        """The file while nobody else works on it, no thread of this process either."""
        deadline = time.monotonic() + wait_s
        with self._turn_by(deadline):
            while self._root is not None:
                if not self._turn.wait(max(deadline - time.monotonic(), 0)):
                    raise busy_here(self.path, wait_s)
            with _connected(self.path, deadline, wait_s, read_only=False) as connection:
                yield connection

    @contextmanager
    def _turn_by(self, deadline: float) -> Iterator[None]:
        left = deadline - time.monotonic()
        if not self._turn.acquire(timeout=max(left, 0)):
            raise busy_here(self.path, max(left, 0))
        try:
            yield
        finally:
            self._turn.release()

    def _enter(self, deadline: float) -> duckdb.DuckDBPyConnection:
        wait_s = max(deadline - time.monotonic(), 0)
        with self._turn_by(deadline):
            while self._broken or self._turn_is_over():
                if not self._turn.wait(max(deadline - time.monotonic(), 0)):
                    raise busy_here(self.path, wait_s)
            if self._root is None:
                if self._leave_room:
                    self._leave_room = False
                    time.sleep(_ROOM_S)
                # A place that may only be read can still be read.
                read_only = self.path.exists() and not is_writable(self.path)
                self._root = self._held.enter_context(
                    _connected(self.path, deadline, wait_s, read_only=read_only)
                )
                self._begun = time.monotonic()
            self._users += 1
            return self._root

    def _turn_is_over(self) -> bool:
        over = self._root is not None and time.monotonic() - self._begun > _LONGEST_TURN_S
        self._leave_room |= over
        return over

    def _leave(self) -> None:
        with self._turn:
            self._users -= 1
            if self._users or self._root is None:
                return
            self._root = None
            self._broken = False
            self._turn.notify_all()
            self._held.close()


_HOLDS: dict[Path, Hold] = {}
_HOLDS_LOCK = threading.Lock()


def require_text(path: Path) -> None:
    """Refuse a place whose name the database cannot be told: one of bytes that are no text."""
    try:
        str(path).encode("utf-8")
    except UnicodeEncodeError:
        raise FileRefused(
            f"{path}: the store cannot be there, as the name is not text in UTF-8. Rename the "
            "file or its folder."
        ) from None


def hold_of(path: Path) -> Hold:
    """This process's one hold on the file; made when it is first asked for."""
    require_text(path)
    path = path.expanduser().resolve()
    with _HOLDS_LOCK:
        return _HOLDS.setdefault(path, Hold(path))


@contextmanager
def transaction(cursor: duckdb.DuckDBPyConnection) -> Iterator[None]:
    """All of it or nothing: rolls back on any exception and raises it again.

    An error must not be swallowed inside: after one, DuckDB's commit returns normally and keeps
    nothing.
    """
    import duckdb

    cursor.begin()
    try:
        yield
        cursor.commit()
    except BaseException:
        with suppress(duckdb.Error):  # a failed commit has ended the transaction already
            cursor.rollback()
        raise


def quoted(name: str) -> str:
    """A name of a table or column as SQL writes it, whatever is in it."""
    return '"' + name.replace('"', '""') + '"'


def create_file(path: Path) -> duckdb.DuckDBPyConnection:
    """A new, empty database at a path where nothing is."""
    import duckdb

    require_text(path)
    with private_files():
        # The tables are small and many: with blocks of the usual size the file is nearly all
        # padding.
        return duckdb.connect(path, config={**SETTINGS, "default_block_size": _BLOCK_BYTES})


def open_file(path: Path) -> duckdb.DuckDBPyConnection:
    """A database that only this process knows of, to be read."""
    import duckdb

    return duckdb.connect(path, read_only=True, config=SETTINGS)


@contextmanager
def _connected(
    path: Path, deadline: float, wait_s: float, *, read_only: bool
) -> Iterator[duckdb.DuckDBPyConnection]:
    """The file in its turn; what the database makes beside it is the owner's alone.

    Processes of this program wait at a lock of their own: to ask there costs microseconds, where
    to try the database costs some 5 ms. Who does not get it in time tries all the same, as it is
    the database that knows who is inside.
    """
    look_at(path)
    with (
        private_files(),
        locked(path.with_name(f".{path.name}.lock"), deadline),
        ExitStack() as held,
    ):
        yield _connect_in_turn(held, path, deadline, wait_s, read_only=read_only)


def _connect_in_turn(
    held: ExitStack, path: Path, deadline: float, wait_s: float, *, read_only: bool
) -> duckdb.DuckDBPyConnection:
    import duckdb

    growth = 1.0
    while True:
        look_at(path)
        try:
            return held.enter_context(attached(path, read_only=read_only))
        except duckdb.Error as error:
            if not means_busy(error):
                raise refusal(path, error) from error
            left = deadline - time.monotonic()
            if left <= 0:
                raise busy(path, error, wait_s) from error
        # Random, so that those who wait do not all come back at once.
        time.sleep(min(random.uniform(*_FIRST_PAUSE_S) * growth, left))  # noqa: S311 (no secret)
        growth = min(growth * _GROWTH, _LONGEST_GROWTH)
