"""Rows typed into a form: checked like those of a file, and stored all or nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from trials import records
from trials.model.rows import Added, Sheet, Signed
from trials.season.tallying import require_seen
from trials.store import Store
from trials.store.stored_sheets import stored_rows

if TYPE_CHECKING:
    import pandas as pd

Tables = Mapping[Sheet, Sequence[Mapping[str, str]]]


def enter(store: Path, tables: Tables, signed: Signed, accept: str | None = None) -> Added:
    """Store the rows that were typed into a form, by sheet; a token counts once.

    ``tables`` has the text of each cell by the name of its column; ``accept`` is why unlikely
    records are true.

    Raises
    ------
    RecordsRefused
        Something typed cannot be right, or a row is stored with other values; nothing was stored.
    RecordsHeld
        Something typed is unlikely, and nobody says why it is true.
    """
    kept = Store.open(store)
    require_seen(tables)
    return kept.add(records.judge_rows(tables, kept.known(), accept=accept), signed)


def stored(store: Path, sheet: Sheet) -> pd.DataFrame:
    """The rows of a sheet that are stored, in its columns; of the plots without their factors."""
    return stored_rows(Store.open(store), sheet)
