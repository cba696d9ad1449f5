"""Whether the store is whole, copies of it, and putting one back."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from trials.store import (
    Backup,
    KeptCopy,
    Restored,
    Store,
    Wholeness,
    kept_copies,
    look_through,
    put_back,
)
from trials.store.copies.integrity import Told


def check(store: Path, told: Told | None = None) -> Wholeness:
    """Read the store in every way there is and list what is not whole.

    ``told`` hears how far it is.
    """
    return Store.open(store).check(told)


def backup(store: Path, into: Path | None = None) -> Backup:
    """Make a verified copy of the store in a new folder, by default beside it.

    Raises
    ------
    FileRefused
        The place cannot be written to.
    """
    return Store.open(store).backup(into)


def copies(store: Path) -> tuple[KeptCopy, ...]:
    """The copies beside the store, the newest first."""
    return kept_copies(store)


def look_through_copy(copy: KeptCopy) -> KeptCopy:
    """Read every row of a copy once more; ``problem`` says what differs from what was written."""
    return look_through(copy)


def restore(folder: Path, to: Path) -> Restored:
    """Put a backup back as the store ``to``; one that is there is kept under another name.

    Raises
    ------
    FileRefused
        The folder is no whole backup, or the place cannot be written to.
    """
    return put_back(folder, to, datetime.now().astimezone())
