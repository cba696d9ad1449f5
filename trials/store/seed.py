"""What seed can be bought, and how well it germinates."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trials.model import SeedHouse, SeedItem
from trials.store.questions import rows

if TYPE_CHECKING:
    import duckdb
    import pandas as pd


def seed_items(cursor: duckdb.DuckDBPyConnection, crop: str | None) -> tuple[SeedItem, ...]:
    """Every packet and price break of the crop's varieties; None = of every crop."""
    return tuple(SeedItem(*row) for row in rows(cursor, "seed_items", crop=crop))


def seed_houses(cursor: duckdb.DuckDBPyConnection) -> tuple[SeedHouse, ...]:
    """Every seller of seed."""
    return tuple(SeedHouse(*row) for row in rows(cursor, "held_seed_houses"))


def germination(cursor: duckdb.DuckDBPyConnection) -> pd.Series[float]:
    """Share of seeds that germinate, by variety: its newest lot, the poorest of several."""
    import pandas as pd

    found = dict(rows(cursor, "germination"))
    index = pd.Index(list(found), name="variety", dtype=object)
    return pd.Series(list(found.values()), index=index, name="germination", dtype="float64")
