"""From files to stored records: how sheets are read is agreed, and all of it goes in or none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from trials import records
from trials.model.rows import NOBODY
from trials.store import Store

if TYPE_CHECKING:
    from trials.model.rows import Added, Known, Signed
    from trials.records.mapping.agreement import Agreed
    from trials.records.mapping.guess import Guess


def load(
    store: Path,
    files: Sequence[Path],
    *,
    dry_run: bool = False,
    agreed: Agreed | None = None,
    signed: Signed = NOBODY,
) -> Added:
    """Bring records in from files or folders, all or nothing; make the store if there is none.

    Parameters
    ----------
    store
        Where the store is, or is to be.
    files
        CSV, XLSX and Parquet files, ours or somebody's own.
    dry_run
        Judge all of it and store nothing.
    agreed
        How sheets of somebody's own are read, and why unlikely records are true. Readings that
        the store keeps need not be given again.
    signed
        Who brings them, as the history keeps it.

    Raises
    ------
    RecordsRefused
        Some cell cannot be right. Every fault is listed and nothing was stored.
    RecordsHeld
        Some record is unlikely, and nobody says why it is true.
    ReadingNeeded
        How a sheet is to be read must be agreed first.
    """
    # One after the other: two threads that import libraries at once can deadlock in the importing.
    cut = records.cut(files)
    held, known = _opened(store)
    batch = records.judge(cut, known, _with_kept(agreed, known))
    if dry_run:
        return batch.as_added
    return (held or Store.create(store)).add(batch, signed)


def guesses(store: Path, files: Sequence[Path], agreed: Agreed | None = None) -> tuple[Guess, ...]:
    """How each table in the files would be read that is not one of ours, agreed before or not."""
    from trials.records.mapping.first_guess import guesses_of

    _, known = _opened(store)
    return guesses_of(files, known, _with_kept(agreed, known))


def _with_kept(agreed: Agreed | None, known: Known) -> Agreed:
    """What was agreed now goes before what was agreed on earlier."""
    from trials.records.mapping.agreement import Agreed

    agreed = agreed or Agreed()
    return replace(agreed, kept={**known.readings, **agreed.kept})


def _opened(path: Path) -> tuple[Store | None, Known]:
    """The store and what it holds; of one still to be made, what an empty one holds."""
    if path.exists():
        store = Store.open(path)
        return store, store.known()
    return None, known_of_nothing()


@cache
def known_of_nothing() -> Known:
    """What an empty store holds: every sheet's columns, and no row."""
    with TemporaryDirectory() as folder:
        return Store.create(Path(folder) / "new").known()
