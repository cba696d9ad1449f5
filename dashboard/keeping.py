"""What the page of safe keeping asks of the season: checking, copying, and the copies."""

from __future__ import annotations

from collections.abc import Callable

from dashboard import correcting, data
from dashboard.access.visitor import WRITERS, door, require
from dashboard.kept import store_path
from trials import season as front
from trials.report import safety_page

PARTS = {
    "rows": "Reading every row …",
    "keys": "Looking up every row by its keys …",
    "rules": "Checking every row by the rules …",
    "file": "Comparing every block of the file with its checksum …",
    "photos": "Comparing every photo with its digest …",
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
    """Backups next to the store, the newest first."""
    require(WRITERS)
    return front.copies(store_path())


def look_through(copy: front.KeptCopy) -> front.KeptCopy:
    """Read every row of a copy once more."""
    require(WRITERS)
    return front.look_through_copy(copy)


def restore(copy: front.KeptCopy) -> list[str]:
    """Put a copy in the store's place, and say where the store that was there is kept."""
    require(WRITERS)
    done = front.restore(copy.folder, store_path())
    data.forget_done()
    correcting.forget_done()
    at_the_door = door()
    if at_the_door is not None:
        at_the_door.forget()
    return safety_page.restored_lines(done)
