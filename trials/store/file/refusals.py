"""Why a store's file cannot be used, from what the database or the system says of it."""

from __future__ import annotations

import re
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

_MARK, _MARK_BEGINS, _MARK_ENDS = b"DUCK", 8, 12
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


def means_busy(error: duckdb.Error) -> bool:
    """Whether another process holds the file."""
    return _BUSY.search(str(error)) is not None


def means_no_room(error: duckdb.Error) -> bool:
    """Whether the disk is full, gone, or may not be written to."""
    return _UNWRITABLE.search(str(error)) is not None


def means_damage(error: duckdb.Error) -> bool:
    """Whether the database met something in its file that it did not write there."""
    return _DAMAGE.search(str(error)) is not None


def look_at(path: Path) -> None:
    """Refuse what DuckDB would make a new database of: nothing, and an empty file."""
    if not path.exists():
        raise StoreMissing(
            f"There is no store at {path}. Load records to make one, or name another place."
        )
    if not path.is_file() or path.stat().st_size == 0:
        what = "empty" if path.is_file() else "not a file"
        raise NotAStore(f"{path} is {what}, not a store. Name the store's own file.")
    if begins_otherwise(path):
        raise no_store(path)


def begins_otherwise(path: Path) -> bool:
    """Whether a file lacks the mark of the database; asked while this process does not hold it."""
    try:
        with path.open("rb") as file:
            return file.read(_MARK_ENDS)[_MARK_BEGINS:] != _MARK
    except OSError:  # the database will say why
        return False


def no_store(path: Path) -> NotAStore:
    """The file is of another kind."""
    return NotAStore(f"{path} is not a store. Name the store's own file.")


def refusal(path: Path, error: duckdb.Error) -> StoreRefused | FileRefused:
    """Why the database could not open a file."""
    text = str(error)
    if _OTHER_JOURNAL.search(text):
        return _beside_another_journal(path)
    if "not a valid DuckDB database file" in text:
        return no_store(path)
    if "with version number" in text:
        return StoreTooNew(
            f"{path} was written by another version of DuckDB than this program has. Update "
            "the program."
        )
    if "Cannot open file" in text or "Permission denied" in text or _UNWRITABLE.search(text):
        return unusable(path, error)
    return damaged(path, error)


def unusable(path: Path, error: duckdb.Error) -> FileRefused:
    """The file cannot be read or written: a full disk, a pulled stick, a right that is missing."""
    why = first_line(error)
    said = f"{path} cannot be read or written ({why}). Nothing was changed. "
    if _LOCKED_AWAY.search(why):
        remedy = "To read it, copy it to a folder of your own and open the copy."
        return FileRefused(
            f"{said}You may not write to this folder, which is needed even to read. {remedy}"
        )
    return FileRefused(f"{said}Check that the disk is there, has room and can be written to.")


def damaged(path: Path, error: duckdb.Error) -> StoreDamaged:
    """The file holds something that the database did not write."""
    return StoreDamaged(
        f"{path} is damaged ({first_line(error)}). Nothing was changed.",
        Remedy(
            "Restore a backup; this file is renamed",
            Verb.RESTORE,
            "BACKUP --to STORE",
        ),
    )


def _beside_another_journal(path: Path) -> StoreDamaged:
    journal = f"{path.name}.wal"
    return StoreDamaged(
        f"{path} and {journal} next to it do not belong together: one of them was copied "
        "there by hand. Nothing was changed. Restore the two that belong together. If you "
        f"are sure that the store alone is right, move {journal} out of the folder, but do not "
        "delete it."
    )


def busy(path: Path, error: duckdb.Error, wait_s: float) -> StoreBusy:
    """Another process holds the file, and which."""
    holder = _HOLDER.search(str(error))
    who = (
        f"{_program_of(holder['pid']) or Path(holder['program']).name} (process {holder['pid']})"
        if holder
        else "another program"
    )
    return StoreBusy(
        f"{path} is in use by {who} and was not free within {wait_s:.3g} s. Close that "
        "program, or try again in a moment."
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


def busy_here(path: Path, wait_s: float) -> StoreBusy:
    """Another thread of this process holds the file."""
    return StoreBusy(
        f"{path} is in use by another part of this program and was not free within "
        f"{wait_s:.3g} s. Try again in a moment."
    )


def first_line(error: duckdb.Error) -> str:
    """What the database says is wrong, without its own embellishments."""
    within = _WITHIN.search(str(error))
    text = within[1].replace('\\"', '"') if within else str(error).splitlines()[0]
    return text.rstrip(".")
