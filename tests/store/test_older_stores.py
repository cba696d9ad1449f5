"""Stores as earlier programs left them, brought forward; each lies packed under ``fixtures``.

``step_NNNN.tallybed.gz`` holds the small farm of ``conftest`` with trial Z closed, made by the
program whose last step was NNNN. ``early_NNNN.tallybed.gz`` stands before the first step at which
records had a place: the farm and its seed (1), and its trials and plots (2), put in by the code of
that time. ``backup_0020.zip`` is a backup of such a store of step 20, in which trial Z is decided
by its share of saleable length and aster-2026 was laid out from a plan.
"""

from __future__ import annotations

import gzip
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from typing import Any

import duckdb
import pandas as pd
import pytest

from trials.errors import HistoryRefused, TrialState
from trials.model.rows import NOBODY, Batch, Sheet
from trials.model.trial import Margin
from trials.season.planning import drawn_again
from trials.store import Store, put_back
from trials.store.migrate import all_migrations

pytestmark = pytest.mark.slow

Contents = Callable[[Path], dict[str, list[tuple[Any, ...]]]]
MakeBatch = Callable[..., Batch]
FIXTURES = sorted(Path(__file__).with_name("fixtures").glob("step_*.tallybed.gz"))
EARLY = sorted(Path(__file__).with_name("fixtures").glob("early_*.tallybed.gz"))
HISTORY = 5  # the step since which every change is an entry
MEANING = 15  # the step since which only stems long enough to sell are marketable
# Sheets that came later, by their step.
SINCE = {Sheet.CROPS: 17, Sheet.CURRENCIES: 18, Sheet.PRICES: 18, Sheet.COSTS: 18}
SINCE |= {Sheet.SEED_STOCK: 19, Sheet.GERMINATION_TESTS: 19}
FROST = date(2025, 10, 6)


@dataclass(frozen=True, slots=True)
class Older:
    """A store as it is after it was brought forward, and the step it came from."""

    step: int
    file: bytes


def step_file(step: int) -> Path:
    return Path(__file__).with_name("fixtures") / f"step_{step:04}.tallybed.gz"


# Every question is asked of the first and the last, and of those that a turning point left.
TURNS = (FIXTURES[0], step_file(HISTORY), step_file(MEANING), FIXTURES[-1])
BETWEEN = [file for file in FIXTURES if file not in TURNS]


def name_of(file: Path) -> str:
    return file.name.partition(".")[0]


@pytest.fixture(scope="module", params=TURNS, ids=name_of)
def brought_once(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Older:
    path = tmp_path_factory.mktemp("older") / "farm.tallybed"
    path.write_bytes(gzip.decompress(request.param.read_bytes()))
    step = last_step(path)
    Store.open(path)
    return Older(step, path.read_bytes())


@pytest.fixture
def step(brought_once: Older) -> int:
    return brought_once.step


@pytest.fixture
def older(brought_once: Older, tmp_path: Path) -> Path:
    path = tmp_path / "older.tallybed"
    path.write_bytes(brought_once.file)
    return path


def last_step(path: Path) -> int:
    with duckdb.connect(path, read_only=True) as connection:
        ((number,),) = connection.execute("SELECT max(number) FROM migration").fetchall()
    return int(number)


def as_of(step: int, batch: Batch) -> Batch:
    """The rows of the sheets that there were."""
    frames = {sheet: rows for sheet, rows in batch.frames.items() if SINCE.get(sheet, 0) <= step}
    return replace(batch, frames=frames)


def assert_every_row_is_there(store: Store, batch: Batch) -> None:
    known = store.known()
    for sheet, given in batch.frames.items():
        order = list(given.columns)
        pd.testing.assert_frame_equal(
            known.frames[sheet][order].sort_values(order, ignore_index=True),
            given.sort_values(order, ignore_index=True),
            obj=sheet.value,
        )
    assert known.closed_trials == {"Z"}


def test_every_row_is_there_after_it(older: Path, step: int, batch: Batch) -> None:
    store = Store.open(older)
    assert len(store.check().migrations) == len(all_migrations())
    assert_every_row_is_there(store, as_of(step, batch))


@pytest.mark.parametrize("file", BETWEEN, ids=name_of)
def test_a_store_of_any_step_has_its_rows_and_takes_those_that_came_later(
    file: Path, tmp_path: Path, batch: Batch, store: Store
) -> None:
    path = tmp_path / "between.tallybed"
    path.write_bytes(gzip.decompress(file.read_bytes()))
    step = last_step(path)
    brought = Store.open(path)
    assert brought.check().whole  # every closing's digest is calculated again
    assert not brought.digest("Z").changed_after_closing
    assert_every_row_is_there(brought, as_of(step, batch))
    brought.add(batch)
    for ask in (Store.plots, Store.cuts, Store.events):
        pd.testing.assert_frame_equal(ask(brought, "Z"), ask(store, "Z"))


def test_it_answers_as_a_new_store_with_the_same_records_does(
    older: Path, batch: Batch, store: Store
) -> None:
    brought = Store.open(older)
    brought.add(batch)  # of the sheets that came later, which it could not hold
    closing = store.close("Z", FROST, "first hard frost")
    assert brought.closing("Z") == closing
    assert brought.trials() == store.trials()
    for trial in ("X", "Y", "Z"):
        for ask in (Store.plots, Store.cuts, Store.events, Store.grades, Store.culls):
            pd.testing.assert_frame_equal(ask(brought, trial), ask(store, trial))
    assert brought.seed_items() == store.seed_items()


def test_it_refuses_and_takes_what_a_new_store_does(
    older: Path, step: int, batch: Batch, make_batch: MakeBatch
) -> None:
    batch = as_of(step, batch)
    store = Store.open(older)
    assert store.add(batch).nothing_new
    with pytest.raises(TrialState, match="Trial Z was closed on 2025-10-06"):
        store.add(make_batch({Sheet.SCORES: [("Z1", FROST, "vase_life_days", 6.0)]}))
    assert store.add(make_batch({Sheet.SCORES: [("Y1", FROST, "vase_life_days", 6.0)]})).added


def test_rows_from_before_the_history_share_an_entry(
    older: Path, step: int, contents: Contents
) -> None:
    if step >= HISTORY:
        pytest.skip("it was made when history was kept already")
    Store.open(older)
    held = contents(older)
    entry, meaning = held["entry"]
    assert meaning[3] == "new meaning"
    assert (entry[0], entry[2], entry[3]) == (1, None, "before history")
    assert entry[4] == "held before history was kept"
    for table in ("cut", "stem_sample", "score", "planting", "seed_price"):
        place = -2 if table == "seed_price" else -1  # a column came behind the entry later
        assert {row[place] for row in held[table]} == {1}
        assert held[f"{table}_was"] == []


def test_the_history_says_that_marketable_means_something_else(older: Path, step: int) -> None:
    """Z1 and Z6 had stems of 30 cm, Y2 some of 20 cm, where 40 cm is the shortest sold."""
    if step >= MEANING:
        pytest.skip("it was made when marketable meant long enough to sell already")
    store = Store.open(older)
    (entry,) = (entry for entry in store.history() if entry.what == "new meaning")
    assert entry.why is not None
    assert entry.why.endswith("Figures change for: Y, Z.")
    assert entry.rows == ()
    assert entry in store.history("Z")
    assert entry in store.history("Z1")
    with pytest.raises(HistoryRefused, match="nothing to undo"):
        store.undo(entry.number, NOBODY)


def test_a_closing_still_answers_for_the_records_it_was_made_with(older: Path) -> None:
    """The digest is of the records, which are as they were: only what is made of them changed."""
    store = Store.open(older)
    assert store.check().whole  # every closing's digest is calculated again
    assert not store.digest("Z").changed_after_closing


def test_a_store_that_held_nothing_has_no_entry(empty_store: Store, contents: Contents) -> None:
    assert contents(empty_store.path)["entry"] == []


def test_there_is_a_store_of_every_step_before_the_last() -> None:
    """If not, run ``fixtures/keep_store.py`` with the program as it was before the newest step."""
    kept = {int(file.name.split("_")[1][:4]) for file in (*FIXTURES, *EARLY)}
    assert kept >= {step.number for step in all_migrations()[:-1]}


@pytest.mark.parametrize("file", EARLY, ids=name_of)
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


def test_a_backup_of_an_earlier_version_is_restored_with_today_s_names(tmp_path: Path) -> None:
    with zipfile.ZipFile(Path(__file__).with_name("fixtures") / "backup_0020.zip") as packed:
        packed.extractall(tmp_path / "backup")
    put_back(tmp_path / "backup", tmp_path / "farm.tallybed", datetime(2026, 11, 1))
    store = Store.open(tmp_path / "farm.tallybed")
    assert store.check().whole
    assert not store.digest("Z").changed_after_closing
    assert store.trial("Z").primary_measure == "saleable_length_share"
    assert store.trial("Z").margin == Margin(10, percent=True)
    houses = store.known().frames[Sheet.SEED_HOUSES].set_index("house")
    assert houses.loc["Hollow Seeds", "shipping"] == 4.5
    assert houses.loc["Hollow Seeds", "free_shipping_from"] == 60
    assert drawn_again(store.path, "aster-2026").plan.seed == 20260301
