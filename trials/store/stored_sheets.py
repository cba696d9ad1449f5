"""What is stored of each sheet, and the names that a plan may add to."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trials.store import intake
from trials.store.questions import frame

if TYPE_CHECKING:
    import pandas as pd

    from trials.model.rows import Known, Sheet
    from trials.store.store import Store


def stored_rows(store: Store, sheet: Sheet) -> pd.DataFrame:
    """The stored rows of a sheet, in its columns; of the plots without their factors."""
    with store.turns.reading() as cursor:
        return frame(cursor, f"held_{sheet.value}")


def known_names(store: Store) -> Known:
    """The sites, seasons and varieties, against which the names of a plan are judged."""
    with store.turns.reading() as cursor:
        return intake.known_names(cursor)
