"""What records usually are, and that every declared range is one the database takes."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import duckdb
import pytest

from trials.errors import RecordsHeld
from trials.model.rows import Known, Sheet
from trials.records import read
from trials.records.mapping.agreement import Agreed
from trials.records.rules.forms import FORMS, Column, Kind
from trials.records.rules.plausibility import RULES
from trials.store import Store

PLACES = {  # where the columns of a sheet are stored, when not in a table of its name
    Sheet.CROPS: ("crop_figure",),
    Sheet.CURRENCIES: ("currency",),
    Sheet.PRICES: ("market_price",),
    Sheet.COSTS: ("cost",),
    Sheet.SEED_ITEMS: ("seed_item", "seed_price"),
    Sheet.PLOTS: ("plot", "planting"),
}


def test_every_rule_says_why_in_plain_words() -> None:
    for rule in RULES:
        assert rule.column in FORMS[rule.sheet].names
        assert rule.what[0].islower()
        assert len(rule.why.split()) > 5
        assert rule.usual.low <= rule.usual.high


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "line", "column", "said"),
    [
        ("stem_samples.csv", "A1,2026-07-20,3,180", "length_cm", "180 cm is unusual"),
        ("cuts.csv", "A2,2026-07-28,picked,40,2000,", "stems", "2,009 stems so far from 16 plants"),
        ("cuts.csv", "A2,2026-05-01,picked,40,2,", "cut_on", "before the plot was transplanted"),
        ("cuts.csv", "A2,2026-11-20,picked,40,2,", "cut_on", "outside the season"),
        ("cuts.csv", "A2,2026-07-28,picked,160,2,", "grade_cm", "160 cm is unusual"),
        ("stand_counts.csv", "A2,2026-06-20,17", "living", "only 16 were set"),
        ("scores.csv", "A2,2026-01-20,looks,3", "scored_on", "outside the season"),
    ],
)
def test_the_unlikely_is_held_for_a_reason(
    tmp_path: Path, known: Known, name: str, line: str, column: str, said: str
) -> None:
    heading = ",".join(FORMS[Sheet(name.removesuffix(".csv"))].names)
    path = tmp_path / name
    path.write_text(f"{heading}\n{line}\n", "utf-8")
    with pytest.raises(RecordsHeld) as held:
        read([path], known)
    faults = [fault for fault in held.value.faults if said in fault.problem]
    assert [(fault.file, fault.row, fault.column) for fault in faults] == [(name, 2, column)]
    assert "--accept" in str(held.value)
    batch = read([path], known, Agreed(accept="so it was"))
    assert {one.reason for one in batch.accepted} == {"so it was"}
    assert len(batch.accepted) == len(held.value.faults)


def ranged() -> Iterator[tuple[Sheet, Column]]:
    for form in FORMS.values():
        for column in form.columns:
            if column.range is not None:
                yield form.sheet, column


@pytest.fixture(scope="module")
def checks(tmp_path_factory: pytest.TempPathFactory) -> dict[tuple[str, str], list[str]]:
    """The database's CHECKs on one column each, by table and column."""
    path = tmp_path_factory.mktemp("checks") / "farm.tallybed"
    Store.create(path)
    with duckdb.connect(path, read_only=True) as connection:
        rows = connection.execute(
            "SELECT table_name, constraint_column_names, expression FROM duckdb_constraints() "
            "WHERE constraint_type = 'CHECK'"
        ).fetchall()
    found: dict[tuple[str, str], list[str]] = {}
    for table, columns, expression in rows:
        if len(columns) == 1:
            found.setdefault((table, columns[0]), []).append(expression)
    return found


@pytest.mark.parametrize(("sheet", "column"), list(ranged()))
def test_the_database_takes_all_that_a_column_may_hold(
    checks: dict[tuple[str, str], list[str]], sheet: Sheet, column: Column
) -> None:
    assert column.range is not None
    step = 1 if column.kind is Kind.WHOLE else 1e-6
    low = column.range.low + (step if column.range.above else 0)
    high = column.range.high - (step if column.range.below else 0)
    tables = PLACES.get(sheet, (re.sub("ies$", "y", sheet.value).removesuffix("s"),))
    for table in tables:
        for expression in checks.get((table, column.name), []):
            for value in (low, high):
                kind = "INTEGER" if column.kind is Kind.WHOLE else "DOUBLE"
                asked = f"SELECT {expression} FROM (SELECT {value!r}::{kind} AS {column.name})"
                assert duckdb.execute(asked).fetchall() == [(True,)], (table, expression, value)


@pytest.mark.parametrize(("stems", "asked_about"), [(943, False), (944, True)])
def test_more_than_sixty_stems_for_each_plant_are_asked_about(
    tmp_path: Path, known: Known, stems: int, asked_about: bool
) -> None:
    # 16 plants were set in A1, and 17 stems are stored: 960 are 60 for each plant.
    path = tmp_path / "cuts.csv"
    heading = ",".join(FORMS[Sheet.CUTS].names)
    path.write_text(f"{heading}\nA1,2026-07-28,picked,40,{stems},\n", "utf-8")
    if asked_about:
        with pytest.raises(RecordsHeld, match="stems so far from 16 plants"):
            read([path], known)
    else:
        assert not read([path], known).accepted
