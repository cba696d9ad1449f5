"""Stores as earlier programs left them, brought forward; each lies packed under ``fixtures``.

``step_NNNN.tallybed.gz`` holds the small farm of ``conftest`` with trial Z closed, made by the
program whose last step was NNNN. ``early_NNNN.tallybed.gz`` stands before the first step at which
records had a place: the farm and its seed (1), and its trials and plots (2), put in by the code of
that time.
"""

from __future__ import annotations

import gzip
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pandas as pd
import pytest

from trials.batch import Batch, Sheet
from trials.errors import TrialState
from trials.store import Store
from trials.store.migrate import all_migrations

Contents = Callable[[Path], dict[str, list[tuple[Any, ...]]]]
MakeBatch = Callable[..., Batch]
FIXTURES = sorted(Path(__file__).with_name("fixtures").glob("step_*.tallybed.gz"))
EARLY = sorted(Path(__file__).with_name("fixtures").glob("early_*.tallybed.gz"))
HISTORY = 5  # the step since which every change is an entry
FROST = date(2025, 10, 6)


@pytest.fixture(params=FIXTURES, ids=lambda file: file.name.partition(".")[0])
def older(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    path = tmp_path / "farm.tallybed"
    path.write_bytes(gzip.decompress(request.param.read_bytes()))
    return path


def older_step(path: Path) -> int:
    with duckdb.connect(path, read_only=True) as connection:
        ((number,),) = connection.execute("SELECT max(number) FROM migration").fetchall()
    return int(number)


def test_every_row_is_there_after_it(older: Path, batch: Batch) -> None:
    store = Store.open(older)
    assert len(store.check().migrations) == len(all_migrations())
    known = store.known()
    for sheet, given in batch.frames.items():
        order = list(given.columns)
        pd.testing.assert_frame_equal(
            known.frames[sheet][order].sort_values(order, ignore_index=True),
            given.sort_values(order, ignore_index=True),
            obj=sheet.value,
        )
    assert known.closed_trials == {"Z"}


def test_it_answers_as_a_new_store_with_the_same_records_does(older: Path, store: Store) -> None:
    brought = Store.open(older)
    closing = store.close("Z", FROST, "first hard frost")
    assert brought.closing("Z") == closing
    assert brought.trials() == store.trials()
    for trial in ("X", "Y", "Z"):
        for ask in (Store.plots, Store.cuts, Store.events, Store.grades, Store.culls):
            pd.testing.assert_frame_equal(ask(brought, trial), ask(store, trial))
    assert brought.seed_items() == store.seed_items()


def test_it_refuses_and_takes_what_a_new_store_does(
    older: Path, batch: Batch, make_batch: MakeBatch
) -> None:
    store = Store.open(older)
    assert store.add(batch).nothing_new
    with pytest.raises(TrialState, match="Trial Z was closed on 2025-10-06"):
        store.add(make_batch({Sheet.SCORES: [("Z1", FROST, "vase_life_days", 6.0)]}))
    assert store.add(make_batch({Sheet.SCORES: [("Y1", FROST, "vase_life_days", 6.0)]})).added


def test_rows_from_before_the_history_share_an_entry(older: Path, contents: Contents) -> None:
    if older_step(older) >= HISTORY:
        pytest.skip("it was made when history was kept already")
    Store.open(older)
    held = contents(older)
    (entry,) = held["entry"]
    assert (entry[0], entry[2], entry[3]) == (1, None, "before history")
    assert entry[4] == "held before history was kept"
    for table in ("cut", "stem_sample", "score", "planting", "seed_price"):
        assert {row[-1] for row in held[table]} == {1}
        assert held[f"{table}_was"] == []


def test_a_store_that_held_nothing_has_no_entry(empty_store: Store, contents: Contents) -> None:
    assert contents(empty_store.path)["entry"] == []


def test_there_is_a_store_of_every_step_before_the_last() -> None:
    """If not, run ``fixtures/keep_store.py`` with the program as it was before the newest step."""
    kept = {int(file.name.split("_")[1][:4]) for file in (*FIXTURES, *EARLY)}
    assert kept >= {step.number for step in all_migrations()[:-1]}


@pytest.mark.parametrize("file", EARLY, ids=lambda file: file.name.partition(".")[0])
def test_a_store_of_the_first_steps_takes_the_rest_of_the_records(
    file: Path, tmp_path: Path, batch: Batch, store: Store
) -> None:
    path = tmp_path / "early.tallybed"
    path.write_bytes(gzip.decompress(file.read_bytes()))
    brought = Store.open(path)
    assert brought.check().whole
    held = dict(brought.add(batch).already_held)
    assert held[Sheet.SEED_ITEMS] == 4
    assert held.get(Sheet.PLOTS, 0) == (0 if "0001" in file.name else 9)
    assert brought.trials() == store.trials()
    for trial in ("X", "Y", "Z"):
        pd.testing.assert_frame_equal(brought.plots(trial), store.plots(trial))
