"""What the page of safe keeping asks of the front door: checking, copying, and the copies."""

from __future__ import annotations

from collections.abc import Callable

import trials as front
from dashboard.data import store_path
from dashboard.visitor import WRITERS, require

PARTS = {
    "rows": "Reading every row …",
    "keys": "Looking every row up through its keys …",
    "rules": "Holding every row against the rules …",
    "file": "Holding every block of the file against its checksum …",
}


def check(told: Callable[[float, str], object]) -> front.Wholeness:
    """Read the whole store; ``told`` hears how far it is, from 0 to 1, and what is read."""
    require(WRITERS)
    return front.check(store_path(), lambda done, part: told(done, PARTS[part]))


def make_copy() -> front.Backup:
    """Make a verified copy beside the store, while others go on working."""
    require(WRITERS)
    return front.backup(store_path())


def copies() -> tuple[front.KeptCopy, ...]:
    """The copies beside the store, the newest first."""
    require(WRITERS)
    return front.copies(store_path())


def look_through(copy: front.KeptCopy) -> front.KeptCopy:
    """Read every row of a copy once more."""
    require(WRITERS)
    return front.look_through_copy(copy)


def restore_command(copy: front.KeptCopy) -> str:
    """What is typed on the farm's machine to put a copy back."""
    require(WRITERS)
    return front.restore_command(copy.folder, store_path())
