"""What seed can be bought, and how well it germinates."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from trials.model.money import Cost, CostKind, Currency, MarketPrice
from trials.model.seed_lot import SeedLot
from trials.model.trial import SeedHouse, SeedItem, SeedSaving, SoldAs
from trials.store.questions import rows

if TYPE_CHECKING:
    from datetime import date

    import duckdb
    import pandas as pd


def seed_items(
    cursor: duckdb.DuckDBPyConnection, crop: str | None, prices: int | None
) -> tuple[SeedItem, ...]:
    """See ``Store.seed_items``."""
    return tuple(
        replace(
            SeedItem(*row),
            sold_as=SoldAs(sold_as),
            seed_saving=None if saving is None else SeedSaving(saving),
        )
        for *row, sold_as, saving in rows(cursor, "seed_items", crop=crop, year=prices)
    )


def variety_figures(
    cursor: duckdb.DuckDBPyConnection,
) -> tuple[tuple[str, str, int, float | None, float | None], ...]:
    """See ``Store.variety_figures``."""
    return tuple(
        (name, trial, season, height, vase_life)
        for name, trial, season, height, vase_life in rows(cursor, "variety_figures")
    )


def price_lists(cursor: duckdb.DuckDBPyConnection) -> tuple[tuple[int, str], ...]:
    """See ``Store.price_lists``."""
    return tuple((year, currency) for year, currency in rows(cursor, "price_lists"))


def currencies(cursor: duckdb.DuckDBPyConnection) -> tuple[Currency, ...]:
    """See ``Store.currencies``."""
    found = rows(cursor, "held_currencies")
    return tuple(Currency(name, own == "yes", rate) for name, own, rate in found)


def prices(cursor: duckdb.DuckDBPyConnection, crop: str | None) -> tuple[MarketPrice, ...]:
    """See ``Store.prices``."""
    return tuple(MarketPrice(*row) for row in rows(cursor, "newest_prices", crop=crop))


def costs(cursor: duckdb.DuckDBPyConnection, crop: str) -> tuple[Cost, ...]:
    """See ``Store.costs``."""
    return tuple(
        Cost(year, of, CostKind(kind), amount)
        for year, of, kind, amount in rows(cursor, "newest_costs", crop=crop)
    )


def packet_prices(cursor: duckdb.DuckDBPyConnection) -> dict[str, float]:
    """See ``Store.packet_prices``."""
    found: dict[str, float] = {}
    for variety, _, _, price, *_ in rows(cursor, "offers"):
        found[variety] = min(price, found.get(variety, price))
    return found


def seed_houses(cursor: duckdb.DuckDBPyConnection) -> tuple[SeedHouse, ...]:
    """Every seller of seed."""
    return tuple(SeedHouse(*row) for row in rows(cursor, "held_seed_houses"))


def seed_lots(cursor: duckdb.DuckDBPyConnection) -> tuple[SeedLot, ...]:
    """See ``Store.seed_lots``."""
    counts = dict(rows(cursor, "seed_in_stock"))
    tests: dict[str, list[tuple[int, int]]] = {}
    days: dict[str, date] = {}
    for lot, germinated, seeds, day in rows(cursor, "newest_germination_tests"):
        tests.setdefault(lot, []).append((germinated, seeds))
        days[lot] = day
    return tuple(
        SeedLot(
            *(lot, variety, year, rate, counts.get(lot), tuple(tests.get(lot, ()))),
            SoldAs(sold_as),
            (house, item),
            days.get(lot),
        )
        for lot, variety, year, rate, sold_as, house, item in rows(cursor, "seed_lots")
    )


def germination_tests(
    cursor: duckdb.DuckDBPyConnection,
) -> tuple[tuple[str, date, int, int], ...]:
    """See ``Store.germination_tests``."""
    found = rows(cursor, "germination_tests_by_day")
    return tuple((lot, day, seeds, germinated) for lot, day, seeds, germinated in found)


def germination(cursor: duckdb.DuckDBPyConnection) -> pd.Series[float]:
    """Share of seeds that germinate, by variety: its newest lot, the poorest of several."""
    import pandas as pd

    found = dict(rows(cursor, "germination"))
    index = pd.Index(list(found), name="variety", dtype=object)
    return pd.Series(list(found.values()), index=index, name="germination", dtype="float64")
