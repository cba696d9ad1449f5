"""Whether the store is whole, copies of it, and putting one back."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from trials.store import Backup, Restored, Store, Wholeness, put_back


def check(store: Path) -> Wholeness:
    """Read the store in every way there is and list what is not whole."""
    return Store.open(store).check()


def backup(store: Path, into: Path | None = None) -> Backup:
    """Make a verified copy of the store in a new folder, by default beside it.

    Raises
    ------
    FileRefused
        The place cannot be written to.
    """
    return Store.open(store).backup(into)


def restore(folder: Path, to: Path) -> Restored:
    """Put a backup back as the store ``to``; one that is there is kept under another name.

    Raises
    ------
    FileRefused
        The folder is no whole backup, or the place cannot be written to.
    """
    return put_back(folder, to, datetime.now().astimezone())
