"""The copies that are kept beside a store: which there are, and whether each is still whole."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from trials.errors import TallybedError
from trials.store.copies.backup import LIST, Backup, folder_beside
from trials.store.copies.restore import read_list, require_whole


@dataclass(frozen=True, slots=True)
class KeptCopy:
    """A folder beside the store, and what it says it holds.

    ``backup`` is None where its list cannot be read, and ``problem`` says why.
    """

    folder: Path
    backup: Backup | None
    problem: str | None = None


def kept_copies(store: Path) -> tuple[KeptCopy, ...]:
    """The finished copies beside a store, the newest first; those put elsewhere are not known.

    Each was read back and found equal before its folder got its name.
    """
    shelf = folder_beside(store.expanduser().absolute())
    if not shelf.is_dir():
        return ()
    found = [
        _looked_at(folder)
        for folder in shelf.iterdir()
        if not folder.name.startswith(".") and (folder / LIST).is_file()
    ]
    return tuple(sorted(found, key=_age, reverse=True))


def _looked_at(folder: Path) -> KeptCopy:
    try:
        return KeptCopy(folder, read_list(folder))
    except TallybedError as refusal:
        return KeptCopy(folder, None, refusal.text)


def _age(copy: KeptCopy) -> tuple[str, str]:
    return ("" if copy.backup is None else copy.backup.made_at, copy.folder.name)


def look_through(copy: KeptCopy) -> KeptCopy:
    """The same copy with every row read; ``problem`` says what differs from what was written."""
    if copy.backup is None:
        return copy
    try:
        require_whole(copy.backup)
    except TallybedError as refusal:
        return KeptCopy(copy.folder, copy.backup, refusal.text)
    return copy
