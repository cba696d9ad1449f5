"""Files and folders that only the store's owner may open, and the working folders of a task."""

from __future__ import annotations

import logging
import os
import shutil
import stat
import tempfile
import threading
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from trials.store.file.lock import is_free, locked

_OTHERS = 0o077  # what others than the owner may do
_AT_WORK = ".tallybed-at-work"
_MARKED_AFTER_S = 60.0  # a folder is made a moment before its mark is locked
_NOTES = logging.getLogger(__name__)


class _Umask:
    """The process's mask of rights, which all its threads share: narrow while anybody asks."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._inside = 0
        self._usual = 0

    def narrow(self) -> None:
        with self._lock:
            if not self._inside:
                self._usual = os.umask(_OTHERS)
            self._inside += 1

    def widen(self) -> None:
        with self._lock:
            self._inside -= 1
            if not self._inside:
                os.umask(self._usual)


_UMASK = _Umask()


@contextmanager
def private_files() -> Iterator[None]:
    """While this lasts, only the owner may open what this process makes, from its first moment."""
    _UMASK.narrow()
    try:
        yield
    finally:
        _UMASK.widen()


def make_folder(folder: Path) -> None:
    """Make a folder and those above it that are missing; one that is there stays as it is."""
    with private_files():
        folder.mkdir(parents=True, exist_ok=True)


def close_to_others(path: Path) -> bool:
    """Take the rights of others from a file or folder of this user; whether they had any."""
    if os.name != "posix":  # a file's rights come from its folder there
        return False
    facts = path.stat()
    if facts.st_uid != os.geteuid() or not facts.st_mode & _OTHERS:
        return False
    path.chmod(stat.S_IMODE(facts.st_mode) & ~_OTHERS)
    return True


def close_store_to_others(store: Path, backups: Path) -> None:
    """Make a store, its journal and the folder of its copies their owner's, and say so once."""
    journal = store.with_name(f"{store.name}.wal")
    there = [path for path in (store, journal, backups) if path.exists()]
    for path in there:
        if close_to_others(path):
            _NOTES.warning(
                "%s could be opened by other users of this computer. Now only you can open it.",
                path,
            )


def is_writable(store: Path) -> bool:
    """Whether records can be added to a store: its journal is a file beside it."""
    return os.access(store, os.W_OK) and os.access(store.parent, os.W_OK)


@contextmanager
def working_folder(kind: str, within: Path) -> Iterator[Path]:
    """A private folder for what is not finished yet, gone afterwards; ``kind`` begins its name."""
    clear_left(within.glob(f"{kind}*"), time.time())
    with tempfile.TemporaryDirectory(prefix=kind, dir=within) as made, at_work(Path(made)):
        yield Path(made)


@contextmanager
def at_work(folder: Path) -> Iterator[None]:
    """Mark a folder as being worked on; the mark goes when the work or the process ends."""
    mark = folder / _AT_WORK
    with locked(mark, time.monotonic()):
        yield
    mark.unlink(missing_ok=True)


def clear_left(folders: Iterable[Path], now: float) -> None:
    """Remove those unfinished folders whose process has ended; ``now`` is seconds since 1970.

    A folder counts as this program's by the mark in it, and as left when no process holds the mark.
    """
    for folder in folders:
        try:
            left = now - folder.stat().st_mtime > _MARKED_AFTER_S and is_free(folder / _AT_WORK)
        except OSError:  # no mark, or gone meanwhile, or somebody else's
            continue
        if left:
            shutil.rmtree(folder, ignore_errors=True)
