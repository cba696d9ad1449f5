"""An advisory lock on a small file: one process at a time has it, and loses it when it ends."""

from __future__ import annotations

import os
import random
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

if sys.platform == "win32":
    import msvcrt

    def _take(descriptor: int) -> bool:
        try:
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _take(descriptor: int) -> bool:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True


# Whoever has waited longer asks more often, so that nobody waits much longer than the others.
_FIRST_PAUSE_S, _SHORTEST_PAUSE_S, _HALVED_AFTER_S = 0.02, 0.002, 0.1


@contextmanager
def locked(file: Path, deadline: float) -> Iterator[bool]:
    """Hold the lock while it lasts; made where it is not there yet.

    ``deadline`` is a time of ``time.monotonic`` after which it is no longer waited for.

    Yields
    ------
    bool
        Whether the lock is held: not after the deadline, nor where no lock can be made.
    """
    try:
        descriptor = os.open(file, os.O_RDWR | os.O_CREAT, 0o600)
    except OSError:  # a place that may only be read
        yield False
        return
    try:
        yield _taken_by(descriptor, deadline)
    finally:
        os.close(descriptor)


def is_free(file: Path) -> bool:
    """Whether no process holds the lock of a file that is there."""
    descriptor = os.open(file, os.O_RDWR)
    try:
        return _take(descriptor)
    finally:
        os.close(descriptor)


def _taken_by(descriptor: int, deadline: float) -> bool:
    begun = time.monotonic()
    try:
        while not _take(descriptor):
            waited = time.monotonic() - begun
            left = deadline - time.monotonic()
            if left <= 0:
                return False
            pause = max(_FIRST_PAUSE_S / (1 + waited / _HALVED_AFTER_S), _SHORTEST_PAUSE_S)
            time.sleep(min(pause * random.uniform(0.5, 1.5), left))  # noqa: S311 (no secret)
    except OSError:  # a file system without such locks
        return False
    return True
