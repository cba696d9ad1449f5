from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pandas as pd
import pytest

from trials.errors import HistoryRefused, UnknownName
from trials.model.rows import Batch, Sheet, Signed
from trials.store import Store

pytestmark = pytest.mark.slow

MakeBatch = Callable[..., Batch]
DAY_1, FROST = date(2025, 7, 10), date(2025, 10, 6)
ANN = Signed("Ann", "misread")
ASKS: tuple[Callable[[Store, str], Any], ...] = (
    Store.plots,
    Store.grades,
    Store.closing,
    Store.digest,
)


def answers(store: Store) -> list[Any]:
    of_farm = [store.trials(), store.seed_items(), store.seed_houses(), store.germination()]
    return [ask(store, trial) for trial in ("Y", "Z") for ask in ASKS] + of_farm


def same(some: list[Any], others: list[Any]) -> bool:
    return all(
        one.equals(other) if isinstance(one, pd.DataFrame | pd.Series) else one == other
        for one, other in zip(some, others, strict=True)
    )


def change_everything(store: Store, make_batch: MakeBatch) -> None:
    """A correction, withdrawals, prices, a closing, a new trial with its plots, and an undoing."""
    price = ("Tern Seeds", "12", "Cloudhem", 200, 4.6, 1, "yes")
    store.correct(make_batch({Sheet.CUTS: [("Z1", DAY_1, "picked", 40, 9, None)]}), ANN, 1)
    store.correct(make_batch({Sheet.SEED_ITEMS: [price]}), ANN, 2)
    lost = ("Z", "Z5", date(2025, 7, 12), "lost", "voles")
    store.withdraw(make_batch({Sheet.EVENTS: [lost]}), ANN, 3)
    store.close("Z", FROST, "frost", ANN)
    plot = ("Y", "Y3", None, None, "Bed 11", 3, "Cloudhem", None, None, 10, 2.0, 2.4, DAY_1)
    store.add(make_batch({Sheet.PLOTS: [plot]}, "more-"), ANN)
    store.undo(2, ANN)


def test_every_answer_is_that_of_the_time(store: Store, make_batch: MakeBatch) -> None:
    before = answers(store)
    assert same(answers(store.as_known_at(1)), before)
    change_everything(store, make_batch)
    assert not same(answers(store), before)
    assert same(answers(store.as_known_at(1)), before)
    assert same(answers(store.as_known_at(7)), answers(store))


def test_each_step_is_seen_from_its_own_entry_on(store: Store, make_batch: MakeBatch) -> None:
    change_everything(store, make_batch)
    then = [store.as_known_at(entry) for entry in range(1, 8)]
    z1 = [at.plots("Z").query("plot == 'Z1'")["marketable_stems"].item() for at in then]
    assert z1 == [21, 24, 24, 24, 24, 24, 21]  # 6 + 10 + 5; 9 + 10 + 5; taken back
    assert [at.seed_items("statice")[0].price for at in then] == [4.1, 4.1, *[4.6] * 5]
    assert [len(at.completeness("Z").lost_plots) for at in then] == [1, 1, 1, 0, 0, 0, 0]
    assert [at.trial("Z").closed_on for at in then] == [None] * 4 + [FROST] * 3
    assert [at.trial("Y").plots for at in then] == [2] * 5 + [3] * 2
    assert [at.trial("Y").factors[0].levels[-1] for at in then] == ["Brindlecup"] * 5 + [
        "Cloudhem"
    ] * 2


def test_a_time_is_that_of_the_newest_entry_before_it(store: Store, make_batch: MakeBatch) -> None:
    (loaded,) = store.history()
    before = store.plots("Z")
    store.correct(make_batch({Sheet.CUTS: [("Z1", DAY_1, "picked", 40, 9, None)]}), ANN, 1)
    corrected = store.history()[-1]
    assert corrected.recorded_at > loaded.recorded_at
    just_before = corrected.recorded_at - timedelta(microseconds=1)
    for time in (loaded.recorded_at, just_before, just_before.replace(tzinfo=UTC)):
        assert store.as_known_at(time).plots("Z").equals(before)
    elsewhere = corrected.recorded_at.replace(tzinfo=UTC).astimezone()
    assert store.as_known_at(elsewhere).plots("Z").equals(store.plots("Z"))


def test_a_trial_of_later_is_not_known_yet(empty_store: Store, batch: Batch) -> None:
    first = {Sheet.SITES, Sheet.SEASONS, Sheet.VARIETIES, Sheet.SEED_HOUSES, Sheet.SEED_ITEMS}
    empty_store.add(Batch({sheet: batch.frames[sheet] for sheet in first}, (), {}))
    empty_store.add(batch)
    at = empty_store.as_known_at(1)
    assert [trial.code for trial in at.trials()] == ["X"]  # it has no plots to be known by
    with pytest.raises(UnknownName):
        at.plots("Z")
    assert at.seed_items() == empty_store.seed_items()


def test_nothing_was_known_before_the_history_begins(store: Store, empty_store: Store) -> None:
    with pytest.raises(
        HistoryRefused, match=r"does not reach back to 2020-01-01 00:00 UTC: it beg"
    ):
        store.as_known_at(datetime(2020, 1, 1))
    with pytest.raises(HistoryRefused, match="no change 2"):
        store.as_known_at(2)
    with pytest.raises(HistoryRefused, match="it has nothing yet"):
        empty_store.as_known_at(datetime(2026, 1, 1, tzinfo=UTC))


def test_what_was_known_takes_no_records(store: Store, batch: Batch) -> None:
    then = store.as_known_at(1)
    with pytest.raises(HistoryRefused, match="cannot be changed"):
        then.add(batch)
    with pytest.raises(HistoryRefused):
        then.close("Z", FROST, "frost")


def test_looking_back_is_private_to_who_looks(store: Store, make_batch: MakeBatch) -> None:
    then = store.as_known_at(1)
    store.correct(make_batch({Sheet.CUTS: [("Z1", DAY_1, "picked", 40, 9, None)]}), ANN, 1)
    with then.turns.reading() as past, store.turns.reading() as present:
        counted = (
            "SELECT list_sum(map_values(stems_by_grade)) + coalesce(list_sum(map_values("
            "culls_by_reason)), 0) FROM cut WHERE plot = 'Z1' AND cut_on = DATE '2025-07-10'"
        )
        assert past.execute(counted).fetchall() == [(4 + 6 + 2,)]
        assert present.execute(counted).fetchall() == [(9,)]


@pytest.mark.parametrize("name", ['quo"ted', "two words", "select", "main", "ümlaut;--"])
def test_a_store_of_any_name_can_look_back(store: Store, name: str) -> None:
    path = store.path.rename(store.path.with_name(f"{name}.tallybed"))
    renamed = Store.open(path)
    assert renamed.as_known_at(1).plots("Z").equals(renamed.plots("Z"))
