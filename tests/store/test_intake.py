from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pandas as pd
import pytest

from trials.errors import RecordsRefused, TrialState
from trials.model.rows import Added, Batch, Sheet
from trials.store import Store, intake

MakeBatch = Callable[..., Batch]
Contents = Callable[[Path], dict[str, list[tuple[Any, ...]]]]
DAY = date(2025, 7, 31)
W_ON = ("W", 2025, "Long field", "zinnia", "?")


def counts(batch: Batch) -> tuple[tuple[Sheet, int], ...]:
    return tuple((sheet, len(batch.frames[sheet])) for sheet in Sheet)


def test_every_row_is_added_once(empty_store: Store, batch: Batch) -> None:
    assert empty_store.add(batch) == Added(added=counts(batch), already_held=())


def test_the_same_batch_again_adds_nothing(store: Store, batch: Batch, contents: Contents) -> None:
    before = contents(store.path)
    assert store.add(batch) == Added(added=(), already_held=counts(batch))
    assert contents(store.path) == before


def test_rows_left_out_by_the_judge_are_counted_as_held(empty_store: Store, batch: Batch) -> None:
    judged = replace(batch, already_held={Sheet.CUTS: 3})
    assert empty_store.add(judged).already_held == ((Sheet.CUTS, 3),)


def test_what_is_known_equals_what_was_added(store: Store, batch: Batch) -> None:
    known = store.known()
    for sheet, given in batch.frames.items():
        held = known.frames[sheet]
        assert set(held.columns) == set(given.columns), sheet
        order = list(given.columns)
        pd.testing.assert_frame_equal(
            held[order].sort_values(order, ignore_index=True),
            given.sort_values(order, ignore_index=True),
            obj=sheet.value,
        )
    assert known.closed_trials == frozenset()


def test_what_an_empty_store_knows_has_the_columns(empty_store: Store, batch: Batch) -> None:
    for sheet, held in empty_store.known().frames.items():
        expected = [c for c in batch.frames[sheet].columns if c not in {"variety", "spacing_cm"}]
        if sheet is Sheet.PLOTS:
            assert list(held.columns) == expected
        else:
            assert list(held.columns) == list(batch.frames[sheet].columns)
        assert held.empty


def test_closed_trials_are_known(store: Store) -> None:
    store.close("Z", DAY, "frost")
    assert store.known().closed_trials == {"Z"}


def test_more_lines_of_a_day_that_is_held_are_added(store: Store, make_batch: MakeBatch) -> None:
    more = make_batch({Sheet.CUTS: [("Z3", date(2025, 7, 24), "picked", None, 4, "bent")]})
    assert store.add(more).added == ((Sheet.CUTS, 1),)
    plots = store.plots("Z").set_index("plot")
    assert plots.loc["Z3", "culled_stems"] == 4
    assert plots.loc["Z3", "marketable_stems"] == 0


def test_another_price_break_of_an_item_is_added(store: Store, make_batch: MakeBatch) -> None:
    row = ("Tern Seeds", "11", "Brindlecup", 50, 2.9, 10, "no")
    assert store.add(make_batch({Sheet.SEED_ITEMS: [row]})).added == ((Sheet.SEED_ITEMS, 1),)
    assert [item.from_packs for item in store.seed_items() if item.item == "11"] == [1, 10]


def test_a_packet_sold_by_weight_keeps_its_weight(store: Store, make_batch: MakeBatch) -> None:
    row = ("Tern Seeds", "13", "Brindlecup", 800, 9.5, 1, "yes", 2.5, 320.0)
    batch = make_batch({Sheet.SEED_ITEMS: [row]})
    assert store.add(batch).added == ((Sheet.SEED_ITEMS, 1),)
    assert store.add(batch).nothing_new
    assert {item.item: item.grams for item in store.seed_items()} == {
        "Z-100": None,
        "11": None,
        "12": None,
        "13": 2.5,
    }
    held = store.known().frames[Sheet.SEED_ITEMS].set_index("item")
    assert tuple(held.loc["13", ["seeds", "grams", "seeds_per_gram"]]) == (800, 2.5, 320.0)
    other = make_batch({Sheet.SEED_ITEMS: [(*row[:5], 10, "yes", 2.0, 400.0)]})
    with pytest.raises(RecordsRefused):
        store.add(other)


def test_the_files_that_were_read_are_noted_once(
    store: Store, make_batch: MakeBatch, contents: Contents
) -> None:
    store.add(make_batch({Sheet.SCORES: [("Z2", DAY, "vase_life_days", 6.0)]}, "more-"))
    names = [row[2] for row in contents(store.path)["source"]]
    assert sorted(names) == sorted([*(f"{sheet.value}.csv" for sheet in Sheet), "more-scores.csv"])


# ------------------------------------------------------------------- two loads at one time

CLASHES: dict[str, tuple[Sheet, tuple[Any, ...]]] = {
    "site": (Sheet.SITES, ("Long field", "elsewhere", 1.2, None)),
    "variety": (Sheet.VARIETIES, ("Amberwick", "zinnia", "red", "tall cutting")),
    "item": (Sheet.SEED_ITEMS, ("Tern Seeds", "11", "Brindlecup", 60, 2.9, 10, "no")),
    "price": (Sheet.SEED_ITEMS, ("Tern Seeds", "11", "Brindlecup", 50, 2.9, 1, "no")),
    "count": (Sheet.STAND_COUNTS, ("Z1", date(2025, 7, 10), 3)),
    "stems": (Sheet.CUTS, ("Z1", date(2025, 7, 10), "picked", 40, 7, None)),
    "culls": (Sheet.CUTS, ("Z1", date(2025, 7, 10), "picked", None, 7, "bent")),
    "missed": (Sheet.CUTS, ("Z1", date(2025, 7, 10), "missed", None, None, None)),
    "picked": (Sheet.CUTS, ("Z1", date(2025, 7, 24), "picked", 40, 7, None)),
    "sample": (Sheet.STEM_SAMPLES, ("Z1", date(2025, 7, 10), 1, 41.0)),
    "score": (Sheet.SCORES, ("Z1", date(2025, 7, 18), "vase_life_days", 8.0)),
    "level": (
        Sheet.PLOTS,
        (
            "Z",
            "Z1",
            "1",
            "w9",
            "Bed 2",
            1,
            "Brindlecup",
            "9",
            "L1",
            10,
            2.0,
            2.4,
            date(2025, 5, 31),
        ),
    ),
    "bed": (
        Sheet.PLOTS,
        ("Z", "Z1", "1", "w9", "Bed 3", 1, "Amberwick", "9", "L1", 10, 2.0, 2.4, date(2025, 5, 31)),
    ),
}
IMPOSSIBLE: dict[str, tuple[Sheet, tuple[Any, ...]]] = {
    "stems below zero": (Sheet.CUTS, ("Z1", DAY, "picked", 40, -1, None)),
    "stems of a missed pick": (Sheet.CUTS, ("Z1", DAY, "missed", 40, 1, None)),
    "a grade and a reason": (Sheet.CUTS, ("Z1", DAY, "picked", 40, 1, "bent")),
    "stems of neither": (Sheet.CUTS, ("Z1", DAY, "picked", None, 1, None)),
    "no number of stems": (Sheet.CUTS, ("Z1", DAY, "picked", 40, None, None)),
    "another outcome": (Sheet.CUTS, ("Z1", DAY, "skipped", None, None, None)),
    "a year long gone": (Sheet.CUTS, ("Z1", date(25, 7, 31), "picked", 40, 1, None)),
    "no such plot cut": (Sheet.CUTS, ("Q1", DAY, "picked", 40, 1, None)),
    "no such plot counted": (Sheet.STAND_COUNTS, ("Q1", DAY, 3)),
    "more living than set": (Sheet.STAND_COUNTS, ("Z1", DAY, 11)),
    "living below zero": (Sheet.STAND_COUNTS, ("Z1", DAY, -1)),
    "measured but not cut": (Sheet.STEM_SAMPLES, ("Z1", DAY, 1, 40.0)),
    "no length": (Sheet.STEM_SAMPLES, ("Z1", date(2025, 7, 10), 9, 0.0)),
    "lost without a reason": (Sheet.EVENTS, ("Z", "Z2", DAY, "lost", None)),
    "a plot of another trial": (Sheet.EVENTS, ("Y", "Z2", DAY, "note", None)),
    "no such trial": (Sheet.EVENTS, ("Q", None, DAY, "note", None)),
    "germination in per cent": (Sheet.SEED_LOTS, ("L9", "Tern Seeds", "11", 2025, 80.0)),
    "no such item": (Sheet.SEED_LOTS, ("L9", "Tern Seeds", "99", 2025, 0.8)),
    "frost in autumn before spring": (
        Sheet.SEASONS,
        (
            2026,
            "Long field",
            date(2026, 4, 1),
            date(2026, 10, 1),
            date(2026, 9, 1),
            date(2026, 5, 1),
        ),
    ),
    "a season that ends before it starts": (
        Sheet.SEASONS,
        (2026, "Long field", date(2026, 4, 1), date(2026, 3, 1), None, None),
    ),
    "ground that is none": (
        Sheet.TRIALS,
        (*W_ON, "variety on clouds", None, "stems_per_plant", 0.05, None, 40.0),
    ),
    "a margin that is none": (
        Sheet.TRIALS,
        (*W_ON, "variety on plots", None, "stems_per_plant", 0.05, "some", 40.0),
    ),
    "a factor the trial has not": (
        Sheet.PLOTS,
        ("Y", "Y3", None, None, "Bed 11", 3, "Amberwick", "9", None, 10, 2.0, 2.4, DAY),
    ),
}


@pytest.fixture(scope="module")
def steadfast(
    _filled_once: bytes, tmp_path_factory: pytest.TempPathFactory, contents: Contents
) -> Iterator[Store]:
    """A store on which every load below is refused; at last it must hold what it held."""
    path = tmp_path_factory.mktemp("steadfast") / "farm.tallybed"
    path.write_bytes(_filled_once)
    before = contents(path)
    yield Store.open(path)
    assert contents(path) == before


@pytest.mark.parametrize(("sheet", "row"), CLASHES.values(), ids=list(CLASHES))
def test_a_row_held_with_other_content_is_refused_and_nothing_is_stored(
    steadfast: Store, make_batch: MakeBatch, sheet: Sheet, row: tuple[Any, ...]
) -> None:
    # Something new before and after it, which must not stay.
    new = {
        Sheet.SEED_HOUSES: [("Newcomer Seeds", "EUR", 1.0, None, 0.0)],
        Sheet.EVENTS: [("Y", None, DAY, "note", "late")],
    }
    with pytest.raises(RecordsRefused, match=r"already stored with other values.* Load the files"):
        steadfast.add(make_batch(new | {sheet: [row]}))


@pytest.mark.slow
@pytest.mark.parametrize(("sheet", "row"), IMPOSSIBLE.values(), ids=list(IMPOSSIBLE))
def test_the_database_itself_refuses_what_cannot_be(
    steadfast: Store, make_batch: MakeBatch, sheet: Sheet, row: tuple[Any, ...]
) -> None:
    with pytest.raises(RecordsRefused, match=rf"{sheet.value}\.csv"):
        steadfast.add(make_batch({sheet: [row]}))


def test_a_clash_names_the_file_and_the_key(store: Store, make_batch: MakeBatch) -> None:
    sheet, row = CLASHES["stems"]
    with pytest.raises(RecordsRefused) as refusal:
        store.add(make_batch({sheet: [row]}, "july-"))
    (fault,) = refusal.value.faults
    assert fault.file == "july-cuts.csv"
    assert "plot: Z1, cut_on: 2025-07-10, grade_cm: 40" in fault.problem
    assert "COALESCE" not in fault.problem.upper()


def test_a_closed_trial_takes_no_records(
    store: Store, make_batch: MakeBatch, contents: Contents
) -> None:
    store.close("Z", DAY, "frost")
    before = contents(store.path)
    plot = ("Z", "Z8", "1", "w9", "Bed 2", 8, "Amberwick", "9", None, 10, 2.0, 2.4, DAY)
    late: dict[Sheet, tuple[Any, ...]] = {
        Sheet.PLOTS: plot,
        Sheet.STAND_COUNTS: ("Z1", DAY, 3),
        Sheet.CUTS: ("Z1", DAY, "missed", None, None, None),
        Sheet.STEM_SAMPLES: ("Z1", date(2025, 7, 10), 9, 40.0),
        Sheet.EVENTS: ("Z", None, DAY, "note", "late"),
        Sheet.SCORES: ("Z1", DAY, "vase_life_days", 6.0),
    }
    for sheet, row in late.items():
        with pytest.raises(TrialState, match=r"Trial Z was closed on 2025-07-31"):
            store.add(make_batch({sheet: [row]}))
    assert contents(store.path) == before


def test_a_closed_trial_may_be_read_again_and_other_trials_go_on(
    store: Store, batch: Batch, make_batch: MakeBatch
) -> None:
    store.close("Z", DAY, "frost")
    assert store.add(batch).nothing_new
    more = make_batch({Sheet.SCORES: [("Y1", DAY, "vase_life_days", 6.0)]})
    assert store.add(more).added == ((Sheet.SCORES, 1),)


def test_a_fault_of_ours_midway_leaves_the_store_as_it_was(
    store: Store, make_batch: MakeBatch, contents: Contents, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = contents(store.path)

    def stumble(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(intake, "note_sources", stumble)
    with pytest.raises(ZeroDivisionError):
        store.add(make_batch({Sheet.SCORES: [("Y1", DAY, "vase_life_days", 6.0)]}))
    assert contents(store.path) == before


def test_text_pandas_keeps_as_strings_is_stored_alike(store: Store, make_batch: MakeBatch) -> None:
    batch = make_batch(
        {Sheet.EVENTS: [("Z", "Z1", DAY, "note", "ripe"), ("Z", None, DAY, "frost", None)]}
    )
    batch.frames[Sheet.EVENTS]["plot"] = batch.frames[Sheet.EVENTS]["plot"].astype("str")
    batch.frames[Sheet.EVENTS]["reason"] = batch.frames[Sheet.EVENTS]["reason"].astype("str")
    store.add(batch)
    connection = duckdb.connect(store.path, read_only=True)
    found = connection.execute(
        "SELECT plot, kind, reason FROM event WHERE happened_on = ? ORDER BY kind", [DAY]
    ).fetchall()
    connection.close()
    assert found == [(None, "frost", None), ("Z1", "note", "ripe")]
