"""A trial's history as it leaves a store: every row its records ever had, and the entries."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from trials.model.rows import Sheet
from trials.store.history.tables import PHOTO, TWINS, asked_of
from trials.store.questions import frame, rows, tidy

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

CLOSINGS = "closings"


@dataclass(frozen=True, slots=True)
class Kind:
    """Rows with a history: of which sheet, in which columns, and what tells them apart.

    Those of closings belong to no sheet. The key of a picking day is its plot and day: its rows
    come and go together.
    """

    name: str
    sheet: Sheet | None
    key: tuple[str, ...]
    columns: tuple[str, ...]


_OF_THE_FARM = frozenset(
    {
        *(Sheet.CROPS, Sheet.CURRENCIES, Sheet.PRICES, Sheet.COSTS),
        *(Sheet.SEED_STOCK, Sheet.GERMINATION_TESTS),
    }
)
_CUTS = ("plot", "cut_on", "outcome", "grade_cm", "stems", "cull_reason")
KINDS: Mapping[str, Kind] = {
    kind.name: kind
    for kind in (
        *(
            Kind(twin.sheet.value if twin.sheet else CLOSINGS, twin.sheet, twin.key, twin.columns)
            for twin in TWINS
            if twin.sheet is not Sheet.CUTS and twin.sheet not in _OF_THE_FARM
            if twin is not PHOTO
        ),
        Kind(Sheet.CUTS.value, Sheet.CUTS, ("plot", "cut_on"), _CUTS),
    )
}


@dataclass(frozen=True, slots=True)
class CarriedEntry:
    """An entry by the number it had where it was made; ``recorded_at`` in UTC."""

    number: int
    recorded_at: datetime
    who: str | None
    what: str
    why: str | None
    undoes: int | None


@dataclass(frozen=True, slots=True)
class CarriedDoubt:
    """Something unlikely that an entry took in with rows of a sheet, and why it is true."""

    entry: int
    sheet: str
    column: str | None
    doubt: str
    reason: str


@dataclass(frozen=True, slots=True, eq=False)
class Carried:
    """A trial's history.

    Attributes
    ----------
    entries
        Those that touched the trial's records, or the prices of its packets, the oldest first.
    rows
        By the names of ``KINDS`` every row that was ever held: its columns, the ``entry`` that
        brought it and the one it was ``superseded_by`` (NA: it holds). Kinds without rows are left
        out.
    doubts
        What those entries took in although it was unlikely.
    """

    entries: tuple[CarriedEntry, ...]
    rows: Mapping[str, pd.DataFrame]
    doubts: tuple[CarriedDoubt, ...]

    @property
    def lots(self) -> frozenset[str]:
        """The seed lots that plots were ever said to be sown from."""
        planted = self.rows.get(Sheet.PLOTS.value)
        return frozenset() if planted is None else frozenset(planted["lot"].dropna())


def carried_of(cursor: duckdb.DuckDBPyConnection, code: str) -> Carried:
    """The history of a trial, of one moment."""
    found: dict[str, pd.DataFrame] = {
        Sheet.SEED_ITEMS.value: frame(cursor, "carried_prices", trial=code),
        Sheet.CUTS.value: frame(cursor, "carried_cuts", trial=code),
    }
    for twin in TWINS:
        if twin is not PHOTO and twin.sheet not in _OF_THE_FARM | {Sheet.SEED_ITEMS, Sheet.CUTS}:
            name = twin.sheet.value if twin.sheet else CLOSINGS
            asked = cursor.execute(asked_of("carried_rows", twin), {"trial": code}).df()
            times = [at.to_pydatetime() for at in asked.get("recorded_at", ())]
            found[name] = tidy(asked)
            if twin.sheet is None:
                found[name]["recorded_at"] = times  # a time, and no day
    found = {name: found[name] for name in KINDS if len(found[name])}
    entries = _entries(cursor, found.values())
    return Carried(entries, found, _doubts(cursor, found))


def _entries(
    cursor: duckdb.DuckDBPyConnection, found: Iterable[pd.DataFrame]
) -> tuple[CarriedEntry, ...]:
    import pandas as pd

    numbers = {
        int(number)
        for table in found
        for column in ("entry", "superseded_by")
        for number in table[column].dropna().unique()
    }
    cursor.register("named", pd.DataFrame({"number": sorted(numbers)}, dtype="int64"))
    entries = tuple(CarriedEntry(*head) for head in rows(cursor, "carried_entries"))
    cursor.unregister("named")
    return entries


def _doubts(
    cursor: duckdb.DuckDBPyConnection, found: Mapping[str, pd.DataFrame]
) -> tuple[CarriedDoubt, ...]:
    import pandas as pd

    named = [
        (int(number), name)
        for name, table in found.items()
        for number in table["entry"].dropna().unique()
    ]
    cursor.register("named", pd.DataFrame(named, columns=["entry", "sheet"]))
    doubts = tuple(CarriedDoubt(*doubt) for doubt in rows(cursor, "carried_doubts"))
    cursor.unregister("named")
    return doubts
