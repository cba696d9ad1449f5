"""This process's turn at a store's file: shared by its threads, let go as soon as none works.

DuckDB lets one process at a time hold a file, by a lock that vanishes when that process closes
the file by any other means, a second connection of its own included. So there is one connection a
file and process, opened for the first unit of work and closed after the last that overlaps it;
every unit of work has a cursor of its own; and nothing here opens the file otherwise.
"""

from __future__ import annotations

import random
import re
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from trials.errors import (
    FileRefused,
    NotAStore,
    Remedy,
    StoreBusy,
    StoreDamaged,
    StoreMissing,
    StoreRefused,
    StoreTooNew,
    Verb,
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
_HOLDER = re.compile(r"lock is held in (?P<program>.+?) \(PID (?P<pid>\d+)\)")
_BUSY = re.compile(r"could not set lock|lock is held|used by another process", re.IGNORECASE)
_DAMAGE = re.compile(r"corrupt|checksum|deserializ|could not read enough bytes", re.IGNORECASE)
_UNWRITABLE = re.compile(
    r"no space left|could not (write|sync|truncate)|read-only file system|input/output error"
    r"|cannot open file",
    re.IGNORECASE,
)
_OTHER_JOURNAL = re.compile(r"WAL does not match database|WAL checkpoint iteration does not match")
_LOCKED_AWAY = re.compile(r"read-only file system|permission denied", re.IGNORECASE)
_WITHIN = re.compile(r'"exception_message":"((?:[^"\\]|\\.)*)"')

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


class Hold:
    """One store file as this process holds it. Get it from ``hold_of``, never directly."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._turn = threading.Condition()
        self._writing = threading.Lock()
        self._root: duckdb.DuckDBPyConnection | None = None
        self._users = 0
        self._begun = 0.0  # when this turn began
        self._leave_room = False
        self._broken = False

    @contextmanager
    def cursor(self, wait_s: float = WAIT_S) -> Iterator[duckdb.DuckDBPyConnection]:
        """A cursor for one unit of work; waits its turn for the file.

        Raises
        ------
        StoreMissing, NotAStore, StoreTooNew, StoreDamaged, StoreBusy, FileRefused
            The file cannot be opened, or turned out to be damaged while it was read.
        """
        import duckdb

        cursor = self._enter(time.monotonic() + wait_s)
        try:
            yield cursor
        except duckdb.FatalException as error:
            self._broken = True  # every cursor is dead: the last one out closes the connection
            if _UNWRITABLE.search(str(error)):
                raise _unusable(self.path, error) from error
            raise _damaged(self.path, error) from error
        except duckdb.Error as error:
            if means_damage(error):
                raise _damaged(self.path, error) from error
            # A full disk, a pulled stick; met at the commit it is no IOException.
            if isinstance(error, duckdb.IOException) or _UNWRITABLE.search(str(error)):
                raise _unusable(self.path, error) from error
            raise
        finally:
            self._leave(cursor)

    @contextmanager
    def writing(self, wait_s: float = WAIT_S) -> Iterator[None]:
        """The one turn to write within this process."""
        if not self._writing.acquire(timeout=wait_s):
            raise _busy_here(self.path, wait_s)
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
                look = _connect_in_turn(self.path, deadline, wait_s, read_only=True)
                try:
                    yield look
                except duckdb.Error as error:
                    if isinstance(error, duckdb.FatalException) or means_damage(error):
                        raise _damaged(self.path, error) from error
                    raise
                finally:
                    look.close()
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
                    raise _busy_here(self.path, wait_s)
            connection = _connect_in_turn(self.path, deadline, wait_s, read_only=False)
            try:
                yield connection
            finally:
                connection.close()

    @contextmanager
    def _turn_by(self, deadline: float) -> Iterator[None]:
        left = deadline - time.monotonic()
        if not self._turn.acquire(timeout=max(left, 0)):
            raise _busy_here(self.path, max(left, 0))
        try:
            yield
        finally:
            self._turn.release()

    def _enter(self, deadline: float) -> duckdb.DuckDBPyConnection:
        wait_s = max(deadline - time.monotonic(), 0)
        with self._turn_by(deadline):
            while self._broken or self._turn_is_over():
                if not self._turn.wait(max(deadline - time.monotonic(), 0)):
                    raise _busy_here(self.path, wait_s)
            if self._root is None:
                if self._leave_room:
                    self._leave_room = False
                    time.sleep(_ROOM_S)
                self._root = _connect_in_turn(self.path, deadline, wait_s, read_only=False)
                self._begun = time.monotonic()
            self._users += 1
            return self._root.cursor()

    def _turn_is_over(self) -> bool:
        over = self._root is not None and time.monotonic() - self._begun > _LONGEST_TURN_S
        self._leave_room |= over
        return over

    def _leave(self, cursor: duckdb.DuckDBPyConnection) -> None:
        import duckdb

        with self._turn:
            with suppress(duckdb.Error):
                cursor.close()
            self._users -= 1
            if self._users or self._root is None:
                return
            root, self._root = self._root, None
            self._broken = False
            self._turn.notify_all()
            with suppress(duckdb.FatalException):  # it was reported where it happened
                root.close()


_HOLDS: dict[Path, Hold] = {}
_HOLDS_LOCK = threading.Lock()


def require_text(path: Path) -> None:
    """Refuse a place whose name the database cannot be told: one of bytes that are no text."""
    try:
        str(path).encode("utf-8")
    except UnicodeEncodeError:
        raise FileRefused(
            f"{path}: the store cannot lie there, as the name is not text in UTF-8. Give the file "
            "or its folder another name."
        ) from None


def hold_of(path: Path) -> Hold:
    """This process's one hold on the file; made when it is first asked for."""
    require_text(path)
    path = path.expanduser().resolve()
    with _HOLDS_LOCK:
        return _HOLDS.setdefault(path, Hold(path))


def means_damage(error: duckdb.Error) -> bool:
    """Whether the database met something in its file that it did not write there."""
    return _DAMAGE.search(str(error)) is not None


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
    # The tables are small and many: with blocks of the usual size the file is nearly all padding.
    return duckdb.connect(path, config={**SETTINGS, "default_block_size": _BLOCK_BYTES})


def open_file(path: Path) -> duckdb.DuckDBPyConnection:
    """A database that only this process knows of, to be read."""
    import duckdb

    return duckdb.connect(path, read_only=True, config=SETTINGS)


def _connect_in_turn(
    path: Path, deadline: float, wait_s: float, *, read_only: bool
) -> duckdb.DuckDBPyConnection:
    import duckdb

    growth = 1.0
    while True:
        _look_at(path)
        try:
            return duckdb.connect(path, read_only=read_only, config=SETTINGS)
        except duckdb.Error as error:
            if not _BUSY.search(str(error)):
                raise _refusal(path, error) from error
            left = deadline - time.monotonic()
            if left <= 0:
                raise _busy(path, error, wait_s) from error
        # Random, so that those who wait do not all come back at once.
        time.sleep(min(random.uniform(*_FIRST_PAUSE_S) * growth, left))  # noqa: S311 (no secret)
        growth = min(growth * _GROWTH, _LONGEST_GROWTH)


def _look_at(path: Path) -> None:
    """Refuse what DuckDB would make a new database of: nothing, and an empty file."""
    if not path.exists():
        raise StoreMissing(
            f"There is no store at {path}. Load records to make one, or name another place."
        )
    if not path.is_file() or path.stat().st_size == 0:
        what = "empty" if path.is_file() else "not a file"
        raise NotAStore(f"{path} is {what}, not a store. Name the store's own file.")


def _refusal(path: Path, error: duckdb.Error) -> StoreRefused | FileRefused:
    text = str(error)
    if _OTHER_JOURNAL.search(text):
        return _beside_another_journal(path)
    if "not a valid DuckDB database file" in text:
        return NotAStore(f"{path} is not a store but some other file. Name the store's own file.")
    if "with version number" in text:
        return StoreTooNew(
            f"{path} was written by another version of the database than this program has. "
            "Bring the program up to date."
        )
    if "Cannot open file" in text or "Permission denied" in text or _UNWRITABLE.search(text):
        return _unusable(path, error)
    return _damaged(path, error)


def _unusable(path: Path, error: duckdb.Error) -> FileRefused:
    why = first_line(error)
    said = f"{path} cannot be read or written ({why}). Nothing was changed. "
    if _LOCKED_AWAY.search(why):
        remedy = "To look at it, copy it to a place of your own and open that."
        return FileRefused(f"{said}The place may not be written to, not even to read. {remedy}")
    return FileRefused(f"{said}See that the disk is there, has room, and may be written to.")


def _damaged(path: Path, error: duckdb.Error) -> StoreDamaged:
    return StoreDamaged(
        f"{path} is damaged ({first_line(error)}). Nothing was changed.",
        Remedy(
            "Put it back from a backup, which keeps this file aside",
            Verb.RESTORE,
            "BACKUP --to STORE",
        ),
    )


def _beside_another_journal(path: Path) -> StoreDamaged:
    journal = f"{path.name}.wal"
    return StoreDamaged(
        f"{path} and {journal} beside it do not belong together: one of them was put there, or put "
        "back, by hand. Nothing was changed. Bring back the two that belong together; or, if you "
        f"know that the store alone is the right one, move {journal} out of the folder and keep it."
    )


def _busy(path: Path, error: duckdb.Error, wait_s: float) -> StoreBusy:
    holder = _HOLDER.search(str(error))
    who = (
        f"{_program_of(holder['pid']) or Path(holder['program']).name} (process {holder['pid']})"
        if holder
        else "another program"
    )
    return StoreBusy(
        f"{path} is in use by {who} and did not come free within {wait_s:.3g} s. "
        "Close that program, or try again in a moment."
    )


def _program_of(pid: str) -> str | None:
    """What that process was started as, such as 'tallybed dashboard', where the system tells."""
    try:
        words = Path("/proc", pid, "cmdline").read_bytes().decode(errors="replace").split("\0")
    except OSError:
        return None
    names = [Path(word).name for word in words]
    if "tallybed" not in names:
        return None
    place = names.index("tallybed")
    return " ".join(["tallybed", *(word for word in words[place + 1 : place + 2] if word)])


def _busy_here(path: Path, wait_s: float) -> StoreBusy:
    return StoreBusy(
        f"{path} is in use by another part of this program and did not come free within "
        f"{wait_s:.3g} s. Try again in a moment."
    )


def first_line(error: duckdb.Error) -> str:
    """What the database says is wrong, without its own embellishments."""
    within = _WITHIN.search(str(error))
    text = within[1].replace('\\"', '"') if within else str(error).splitlines()[0]
    return text.rstrip(".")
