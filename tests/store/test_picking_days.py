"""Picking days are one row each: rows of the sheet fold into them, and older stores are folded.

``fixtures/history_0008.tallybed.gz`` was made by the program whose last step was 8: the small farm,
a day corrected, culls added to held days from a sheet of their own, a row added and taken back, a
row withdrawn and brought back, a picked day made a missed one and back, and a day that came late.
"""

from __future__ import annotations

import gzip
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pandas as pd
import pyarrow as pa
import pytest

from trials.errors import RecordsRefused
from trials.model.rows import Batch, Sheet, Signed
from trials.store import Store
from trials.store.history.changes import NotOneDay
from trials.store.picking_days import folded
from trials.store.questions import question

MakeBatch = Callable[..., Batch]
Contents = Callable[[Path], dict[str, list[tuple[Any, ...]]]]
DAY, NEXT = date(2025, 7, 10), date(2025, 7, 11)
SHEET = pa.schema(
    {
        "plot": pa.string(),
        "cut_on": pa.date32(),
        "outcome": pa.string(),
        "grade_cm": pa.int32(),
        "stems": pa.int32(),
        "cull_reason": pa.string(),
    }
)
ANN = Signed("Ann", "her own sheet")


def sheet(*rows: tuple[Any, ...]) -> pa.Table:
    return pa.Table.from_pylist(
        [dict(zip(SHEET.names, row, strict=True)) for row in rows], schema=SHEET
    )


def days(*rows: tuple[Any, ...]) -> set[tuple[Any, ...]]:
    """The folded days: plot, day, outcome, grades, reasons, none."""
    found = folded(sheet(*rows).to_pandas()).to_pylist()
    return {
        (
            row["plot"],
            row["cut_on"],
            row["outcome"],
            tuple(row["stems_by_grade"]),
            tuple(row["culls_by_reason"]),
            row["none_marketable"],
        )
        for row in found
    }


def of_day(store: Store, plot: str, day: date) -> pd.DataFrame:
    """The rows of the sheet that are held of a plot and day."""
    held = store.known().frames[Sheet.CUTS]
    return held[(held["plot"] == plot) & (held["cut_on"] == day)]


def test_rows_of_a_day_become_one_in_the_order_of_their_keys() -> None:
    assert days(
        ("B", DAY, "picked", 50, 3, None),
        ("A", NEXT, "missed", None, None, None),
        ("B", DAY, "picked", None, 2, "short"),
        ("B", NEXT, "picked", None, 0, None),
        ("B", DAY, "picked", 40, 0, None),
        ("B", DAY, "picked", None, 1, "bent"),
        ("A", DAY, "picked", None, 0, None),
        ("A", DAY, "picked", None, 4, "bent"),
    ) == {
        ("B", DAY, "picked", ((40, 0), (50, 3)), (("bent", 1), ("short", 2)), False),
        ("A", NEXT, "missed", (), (), False),
        ("B", NEXT, "picked", (), (), True),
        ("A", DAY, "picked", (), (("bent", 4),), True),
    }


@pytest.mark.parametrize(
    ("rows", "problem"),
    [
        ([("A", DAY, "picked", 40, 1, None), ("A", DAY, "picked", 40, 1, None)], "comes twice"),
        (
            [("A", DAY, "picked", None, 1, "bent"), ("A", DAY, "picked", None, 2, "bent")],
            "comes twice",
        ),
        ([("A", DAY, "picked", None, 0, None)] * 2, "comes twice"),
        (
            [("A", DAY, "picked", 40, 1, None), ("A", DAY, "missed", None, None, None)],
            "both picked and missed",
        ),
        ([("A", DAY, "missed", None, 0, None)], "was missed, but has stems"),
        ([("A", DAY, "missed", 40, 3, None)], "was missed, but has stems"),
        ([("A", DAY, "picked", 40, 3, "bent")], "both marketable and culled"),
        ([("A", DAY, "picked", None, 3, None)], "stems without a grade or a reason"),
        ([("A", DAY, "picked", None, None, None)], "stems without a grade or a reason"),
    ],
)
def test_rows_that_cannot_all_be_true_of_a_day_are_refused(
    rows: list[tuple[Any, ...]], problem: str
) -> None:
    with pytest.raises(NotOneDay, match=rf"\(plot: A, cut_on: 2025-07-10.*{problem}"):
        folded(sheet(("B", DAY, "picked", 40, 1, None), *rows).to_pandas())


@pytest.mark.parametrize(
    "values",
    [
        "'missed', MAP {40: 1}, MAP {}, false",
        "'missed', MAP {}, MAP {}, true",
        "'picked', MAP {}, MAP {}, false",
        "'picked', MAP {40: -1}, MAP {}, false",
        "'picked', MAP {40: NULL}, MAP {}, false",
        "'picked', MAP {500: 1}, MAP {}, false",
        "'picked', MAP {-1: 1}, MAP {}, false",
        "'picked', MAP {}, MAP {'': 1}, false",
        "'picked', MAP {}, MAP {'bent': NULL}, false",
        "'picked', MAP {}, MAP {'bent': -2}, false",
        "'picked', MAP {40: 1, 40: 2}, MAP {}, false",
        "'given', MAP {40: 1}, MAP {}, false",
    ],
)
def test_the_database_itself_refuses_a_day_that_cannot_be(store: Store, values: str) -> None:
    with (
        duckdb.connect(store.path) as connection,
        pytest.raises((duckdb.ConstraintException, duckdb.InvalidInputException)),
    ):
        connection.execute(f"INSERT INTO cut VALUES ('Y1', DATE '2025-09-09', {values}, 1)")


def test_the_widest_grades_and_counts_are_taken(store: Store, make_batch: MakeBatch) -> None:
    rows = [("Y1", date(2025, 9, 9), "picked", grade, 2**31 - 1, None) for grade in (0, 499)]
    store.add(make_batch({Sheet.CUTS: rows}))
    held = store.known().frames[Sheet.CUTS].query("plot == 'Y1' and stems > 1000")
    assert list(held["grade_cm"]) == [0, 499]


def test_rows_added_to_a_held_day_supersede_it_and_can_be_taken_back(
    store: Store, make_batch: MakeBatch, contents: Contents
) -> None:
    before = contents(store.path)["cut"]
    store.add(make_batch({Sheet.CUTS: [("Z1", DAY, "picked", None, 4, "aphids")]}), ANN)
    held = of_day(store, "Z1", DAY)
    assert {(row.grade_cm, row.stems, row.cull_reason) for row in held.fillna(0).itertuples()} == {
        (30, 4, 0),
        (40, 6, 0),
        (0, 2, "bent"),
        (0, 4, "aphids"),
    }
    (entry,) = (each for each in store.history() if each.number == 2)
    (change,) = entry.changes
    assert change.record == "cut_line"
    assert change.before is None
    assert dict(change.after or ()) == {"stems": 4}
    store.undo(2, ANN)
    assert [row[:-1] for row in contents(store.path)["cut"]] == [row[:-1] for row in before]


def test_a_held_day_takes_no_other_outcome(store: Store, make_batch: MakeBatch) -> None:
    missed = make_batch({Sheet.CUTS: [("Z1", DAY, "missed", None, None, None)]})
    with pytest.raises(RecordsRefused, match="both picked and missed"):
        store.add(missed)


@pytest.mark.slow
def test_days_of_an_older_store_are_folded_as_they_were_known_after_each_entry(
    tmp_path: Path,
) -> None:
    kept = Path(__file__).with_name("fixtures") / "history_0008.tallybed.gz"
    path = tmp_path / "farm.tallybed"
    path.write_bytes(gzip.decompress(kept.read_bytes()))
    then = "entry <= {0} AND (superseded_by IS NULL OR superseded_by > {0})"
    was = "(FROM {0} SELECT *, NULL AS superseded_by UNION ALL BY NAME FROM {0}_was)"
    known_then = (
        "SELECT d.plot, d.cut_on, d.outcome, l.grade_cm, l.stems, l.cull_reason "
        f"FROM (FROM {was.format('cut')} WHERE {then}) AS d "
        f"LEFT JOIN (FROM {was.format('cut_line')} WHERE {then}) AS l USING (plot, cut_on) "
        "ORDER BY ALL"
    )
    with duckdb.connect(path, read_only=True) as connection:
        ((last,),) = connection.execute("SELECT max(number) FROM entry").fetchall()
        before = [connection.execute(known_then.format(n)).fetchall() for n in range(1, last + 1)]
    store = Store.open(path)
    assert last == 11
    for number, lines in enumerate(before, 1):
        with store.as_known_at(number).turns.reading() as cursor:
            found = cursor.execute(question("held_cuts").rstrip().rstrip(";")).fetchall()
        assert sorted(found, key=repr) == sorted(lines, key=repr), number
    assert store.check().whole
    assert store.digest("Z").changed_after_closing is False


def test_an_entry_of_an_older_store_can_be_taken_back(tmp_path: Path) -> None:
    kept = Path(__file__).with_name("fixtures") / "history_0008.tallybed.gz"
    path = tmp_path / "farm.tallybed"
    path.write_bytes(gzip.decompress(kept.read_bytes()))
    store = Store.open(path)
    assert len(of_day(store, "Z2", date(2025, 8, 20))) == 2
    store.undo(10, ANN)
    assert of_day(store, "Z2", date(2025, 8, 20)).empty
