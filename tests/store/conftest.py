"""A small farm with one plot for each thing that can happen to a plot, and a store that holds it.

The trial ``Z`` is picked on 10, 17 and 24 July 2025; stems of 40 cm and more can be sold.

=====  =================================================================================
plot   what happened
=====  =================================================================================
Z1     picked twice, missed once, sampled twice, counted three times
Z2     nothing to cut at first, then 6 stems; counted twice; never sampled
Z3     picked three times, never a stem
Z4     missed every time; counted twice
Z5     5 stems, then lost to voles
Z6     no row on 17 July; sampled on one of its two days; never counted
Z7     first picked on 17 July; counted only after that; sampled on a day without stems
=====  =================================================================================

The trial ``Y`` has no blocks and tallies no culls.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pandas as pd
import pytest

from trials.model.rows import Batch, Sheet, Source
from trials.store import Store

Row = tuple[Any, ...]
Contents = dict[str, list[Row]]
DAY_1, DAY_2, DAY_3 = date(2025, 7, 10), date(2025, 7, 17), date(2025, 7, 24)
SET_OUT = date(2025, 5, 31)
PRICE_YEAR = 2025  # of the price list, where a row says none

HEADINGS: Mapping[Sheet, str] = {
    Sheet.SITES: "site place bed_width_m note",
    Sheet.SEASONS: "season site starts_on ends_on last_spring_frost first_autumn_frost",
    Sheet.VARIETIES: "variety crop colour habit",
    Sheet.CROPS: "crop figure value source",
    Sheet.CURRENCIES: "currency own rate",
    Sheet.PRICES: "year market crop grade_cm from_week to_week stem_price",
    Sheet.COSTS: "year crop cost amount",
    Sheet.SEED_HOUSES: "house currency shipping free_shipping_from minimum_order",
    Sheet.SEED_ITEMS: "house item variety seeds price from_packs available grams "
    "seeds_per_gram price_year sold_as seed_saving",
    Sheet.SEED_LOTS: "lot house item packed_for germination",
    Sheet.SEED_STOCK: "lot counted_on seeds",
    Sheet.GERMINATION_TESTS: "lot tested_on replicate seeds germinated",
    Sheet.TRIALS: "trial season site crop question factors check primary_measure alpha "
    "equivalence_margin minimum_length_cm",
    Sheet.PLOTS: "trial plot block whole_plot bed position variety spacing_cm lot plants_set "
    "net_length_m net_area_m2 transplanted_on split_plot incomplete_block row column",
    Sheet.STAND_COUNTS: "plot counted_on living",
    Sheet.CUTS: "plot cut_on outcome grade_cm stems cull_reason",
    Sheet.STEM_SAMPLES: "plot cut_on stem length_cm",
    Sheet.EVENTS: "trial plot happened_on kind reason other_plot product sprayed_at re_entry_hours",
    Sheet.SCORES: "plot scored_on trait value",
}
WHOLE = {
    "season",
    "seeds",
    "from_packs",
    "price_year",
    "packed_for",
    "position",
    "plants_set",
    "living",
    "replicate",
    "germinated",
}
WHOLE |= {"grade_cm", "stems", "stem", "year", "from_week", "to_week"}
FRACTIONS = {"bed_width_m", "shipping", "free_shipping_from", "minimum_order", "price"}
FRACTIONS |= {"rate", "stem_price", "amount"}
FRACTIONS |= {"germination", "alpha", "minimum_length_cm", "net_length_m", "net_area_m2"}
FRACTIONS |= {"length_cm", "value", "grams", "seeds_per_gram", "re_entry_hours"}


def sheet_of(sheet: Sheet, rows: list[Row]) -> pd.DataFrame:
    """The rows of a sheet as they come judged; cells left out at the end of a row are empty."""
    heading = HEADINGS[sheet].split()
    whole = [(*row, *(None,) * (len(heading) - len(row))) for row in rows]
    frame = pd.DataFrame(whole, columns=heading, dtype=object)
    if sheet is Sheet.SEED_ITEMS:
        frame["price_year"] = frame["price_year"].fillna(PRICE_YEAR)
    kinds = dict.fromkeys(WHOLE, "Int64") | dict.fromkeys(FRACTIONS, "Float64")
    return frame.astype({name: kinds[name] for name in frame.columns if name in kinds})


def batch_of(rows: Mapping[Sheet, list[Row]], file: str = "") -> Batch:
    """A batch whose sources are one file a sheet."""
    return Batch(
        frames={sheet: sheet_of(sheet, some) for sheet, some in rows.items()},
        sources=tuple(
            Source(f"{file}{sheet.value}.csv", f"{hash_of(file + sheet.value)}", sheet, len(some))
            for sheet, some in rows.items()
        ),
        already_held={},
    )


def hash_of(text: str) -> str:
    """Something of the length of a SHA-256."""
    return text.encode().hex()[:64].ljust(64, "0")


def _plot(code: str, bed: str, position: int, variety: str, spacing: str | None) -> Row:
    trial, block = code[0], ("1" if position < 5 else "2") if code[0] == "Z" else None
    whole_plot = spacing and f"w{spacing}"
    lot = "L1" if variety == "Amberwick" else None
    row = (trial, code, block, whole_plot, bed, position, variety, spacing)
    return (*row, lot, 10, 2.0, 2.4, SET_OUT)


def _trial(
    code: str,
    season: int,
    crop: str,
    factors: str,
    check: str | None,
    measure: str,
    margin: str | None,
) -> Row:
    asked = f"Which {crop} is best?"
    return (code, season, "Long field", crop, asked, factors, check, measure, 0.05, margin, 40.0)


def season_rows() -> dict[Sheet, list[Row]]:
    """Every sheet of the small farm."""
    picked, missed = "picked", "missed"
    both = "spacing_cm on whole plots; variety on plots"
    return {
        Sheet.SITES: [("Long field", "by the brook", 1.2, None)],
        Sheet.SEASONS: [
            (2024, "Long field", date(2024, 4, 1), date(2024, 10, 31), None, None),
            (2025, "Long field", date(2025, 4, 1), date(2025, 10, 31), date(2025, 5, 12), None),
        ],
        Sheet.VARIETIES: [
            ("Amberwick", "zinnia", "amber", "tall cutting"),
            ("Brindlecup", "zinnia", None, None),
            ("Cloudhem", "statice", "white", None),
        ],
        Sheet.CROPS: [
            ("statice", "days_to_bloom", 110.0, "seed packet"),
            ("zinnia", "days_to_bloom", 66.0, "own records"),
        ],
        Sheet.CURRENCIES: [("EUR", "yes", 1.0), ("GBP", "no", 1.25)],
        Sheet.PRICES: [
            (2025, "florists", "zinnia", 40, 20, 28, 0.5),
            (2025, "florists", "zinnia", 50, 20, 40, 0.8),
            (2025, "florists", "zinnia", 40, 29, 40, 0.4),
        ],
        Sheet.COSTS: [
            (2025, "every crop", "bed", 8.0),
            (2025, "every crop", "picking", 0.1),
            (2025, "zinnia", "picking", 0.05),
        ],
        Sheet.SEED_HOUSES: [
            ("Hollow Seeds", "EUR", 4.5, 60.0, 10.0),
            ("Tern Seeds", "EUR", 3.0, None, 0.0),
        ],
        Sheet.SEED_ITEMS: [
            ("Hollow Seeds", "Z-100", "Amberwick", 100, 6.5, 1, "yes"),
            ("Hollow Seeds", "Z-100", "Amberwick", 100, 5.8, 5, "yes"),
            ("Tern Seeds", "11", "Brindlecup", 50, 3.2, 1, "no"),
            ("Tern Seeds", "12", "Cloudhem", 200, 4.1, 1, "yes"),
        ],
        Sheet.SEED_LOTS: [
            ("L0", "Hollow Seeds", "Z-100", 2024, 0.7),
            ("L1", "Hollow Seeds", "Z-100", 2025, 0.9),
            ("L2", "Hollow Seeds", "Z-100", 2025, 0.85),
            ("L3", "Tern Seeds", "11", 2025, 0.6),
        ],
        Sheet.SEED_STOCK: [
            ("L0", date(2024, 11, 3), 60),
            ("L0", date(2025, 11, 2), 0),
            ("L1", date(2025, 11, 2), 120),
        ],
        Sheet.GERMINATION_TESTS: [
            ("L1", date(2024, 12, 1), 1, 50, 47),
            ("L1", date(2025, 11, 20), 1, 100, 88),
            ("L1", date(2025, 11, 20), 2, 100, 84),
        ],
        Sheet.TRIALS: [
            _trial("Z", 2025, "zinnia", both, "Amberwick", "stems_per_plant", "10 %"),
            _trial("Y", 2025, "zinnia", "variety on plots", None, "stem_length_cm", "3"),
            _trial("X", 2024, "statice", "variety on plots", None, "stems_per_metre", None),
        ],
        Sheet.PLOTS: [
            _plot("Z1", "Bed 2", 1, "Amberwick", "9"),
            _plot("Z2", "Bed 2", 2, "Brindlecup", "9"),
            _plot("Z3", "Bed 2", 3, "Amberwick", "30"),
            _plot("Z4", "Bed 2", 4, "Brindlecup", "30"),
            _plot("Z5", "Bed 10", 5, "Amberwick", "12"),
            _plot("Z6", "Bed 10", 6, "Brindlecup", "12"),
            _plot("Z7", "Bed 10", 7, "Amberwick", "9"),
            _plot("Y1", "Bed 11", 1, "Amberwick", None),
            _plot("Y2", "Bed 11", 2, "Brindlecup", None),
        ],
        Sheet.STAND_COUNTS: [
            ("Z1", date(2025, 6, 20), 9),
            ("Z1", DAY_1, 8),
            ("Z1", date(2025, 8, 1), 7),
            ("Z2", date(2025, 6, 20), 10),
            ("Z2", date(2025, 7, 20), 9),
            ("Z3", date(2025, 6, 20), 10),
            ("Z4", date(2025, 6, 20), 7),
            ("Z4", date(2025, 7, 5), 6),
            ("Z5", date(2025, 6, 20), 5),
            ("Z7", date(2025, 8, 1), 8),
            ("Z7", date(2025, 8, 10), 6),
            ("Y1", date(2025, 6, 20), 0),
        ],
        Sheet.CUTS: [
            ("Z1", DAY_1, picked, 30, 4, None),
            ("Z1", DAY_1, picked, 40, 6, None),
            ("Z1", DAY_1, picked, None, 2, "bent"),
            ("Z1", DAY_2, picked, 40, 10, None),
            ("Z1", DAY_2, picked, 50, 5, None),
            ("Z1", DAY_2, picked, None, 1, "thrips"),
            ("Z1", DAY_3, missed, None, None, None),
            ("Z2", DAY_1, picked, None, 0, None),
            ("Z2", DAY_2, picked, None, 0, None),
            ("Z2", DAY_2, picked, None, 3, "bent"),
            ("Z2", DAY_3, picked, 40, 6, None),
            ("Z3", DAY_1, picked, None, 0, None),
            ("Z3", DAY_2, picked, 40, 0, None),
            ("Z3", DAY_3, picked, None, 0, None),
            ("Z4", DAY_1, missed, None, None, None),
            ("Z4", DAY_2, missed, None, None, None),
            ("Z4", DAY_3, missed, None, None, None),
            ("Z5", DAY_1, picked, 40, 5, None),
            ("Z5", DAY_1, picked, None, 1, "bent"),
            ("Z6", DAY_1, picked, 50, 8, None),
            ("Z6", DAY_3, picked, 30, 4, None),
            ("Z7", DAY_2, picked, 40, 2, None),
            ("Z7", DAY_3, picked, None, 0, None),
            ("Y1", DAY_1, picked, 40, 3, None),
            ("Y2", DAY_1, picked, 20, 3, None),
            ("Y2", DAY_1, picked, 40, 1, None),
        ],
        Sheet.STEM_SAMPLES: [
            ("Z1", DAY_1, 1, 40.0),
            ("Z1", DAY_1, 2, 50.0),
            ("Z1", DAY_2, 1, 50.0),
            ("Z1", DAY_2, 2, 60.0),
            ("Z1", DAY_2, 3, 70.0),
            ("Z5", DAY_1, 1, 44.0),
            ("Z6", DAY_3, 1, 33.0),
            ("Z6", DAY_3, 2, 35.0),
            ("Z7", DAY_2, 1, 42.0),
            ("Z7", DAY_3, 1, 60.0),
        ],
        Sheet.EVENTS: [
            ("Z", "Z5", date(2025, 7, 12), "lost", "voles"),
            ("Z", None, date(2025, 7, 1), "note", "hail"),
            ("Z", None, date(2025, 7, 1), "note", "and wind"),
            ("Z", "Z1", date(2025, 6, 25), "netted", None),
        ],
        Sheet.SCORES: [("Z1", date(2025, 7, 18), "vase_life_days", 7.5)],
    }


def contents_of(path: Path) -> Contents:
    """Every row of every table, read past the program; the file must not be open in it."""
    connection = duckdb.connect(path, read_only=True)
    try:
        tables = [
            name
            for (name,) in connection.execute(
                "SELECT table_name FROM duckdb_tables() ORDER BY table_name"
            ).fetchall()
        ]
        return {
            name: connection.execute(f'SELECT * FROM "{name}" ORDER BY ALL').fetchall()
            for name in tables
        }
    finally:
        connection.close()


@pytest.fixture
def rows() -> dict[Sheet, list[Row]]:
    return season_rows()


@pytest.fixture
def batch() -> Batch:
    return batch_of(season_rows())


@pytest.fixture(scope="session")
def make_batch() -> Callable[..., Batch]:
    return batch_of


@pytest.fixture(scope="session")
def contents() -> Callable[[Path], Contents]:
    return contents_of


@pytest.fixture(scope="session")
def _filled_once(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("filled") / "farm.tallybed"
    Store.create(path).add(batch_of(season_rows()))
    return path.read_bytes()


@pytest.fixture
def store(tmp_path: Path, _filled_once: bytes) -> Store:
    """A store that holds the small farm."""
    path = tmp_path / "farm.tallybed"
    path.write_bytes(_filled_once)
    opened = Store.open(path)
    opened.turns.hold.forget()  # who opens it next looks into the file, as a new process does
    return opened


@pytest.fixture
def empty_store(tmp_path: Path) -> Store:
    return Store.create(tmp_path / "empty.tallybed")
