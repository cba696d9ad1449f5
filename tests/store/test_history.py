from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest

from trials.errors import UnknownName
from trials.model.rows import Batch, Sheet, Signed
from trials.model.trial import Change
from trials.store import Store
from trials.store.history import changes as entries
from trials.store.history.tables import TWINS

MakeBatch = Callable[..., Batch]
DAY_1 = date(2025, 7, 10)
ANN = Signed("Ann", "misread")


def test_a_load_is_counted_by_kind_of_row(store: Store, batch: Batch) -> None:
    (entry,) = store.history()
    assert (entry.number, entry.what, entry.who, entry.why) == (1, "load", None, None)
    assert set(entry.files) == {source.file for source in batch.sources}
    assert entry.rows == (
        ("cost", 3, 0),
        ("crop_figure", 2, 0),
        ("currency", 2, 0),
        ("cut", 19, 0),
        ("cut_line", 22, 0),
        ("event", 4, 0),
        ("germination_test", 3, 0),
        ("market_price", 3, 0),
        ("planting", 9, 0),
        ("score", 1, 0),
        ("seed_price", 4, 0),
        ("seed_stock", 3, 0),
        ("stand_count", 12, 0),
        ("stem_sample", 10, 0),
    )
    assert entry.changes == ()
    assert abs(entry.recorded_at - datetime.now(UTC).replace(tzinfo=None)) < timedelta(hours=1)


def test_a_plot_s_history_shows_how_each_row_came(store: Store, make_batch: MakeBatch) -> None:
    store.correct(make_batch({Sheet.STAND_COUNTS: [("Z3", date(2025, 6, 20), 9)]}), ANN, 1)
    store.add(make_batch({Sheet.SCORES: [("Z2", DAY_1, "ease", 3.0)]}), ANN)
    loaded, corrected = store.history("Z3")
    counted = ("stand_count", (("plot", "Z3"), ("counted_on", "2025-06-20")))
    assert Change(*counted, None, (("living", 10),)) in loaded.changes
    assert {change.record for change in loaded.changes} == {
        "cut",
        "cut_line",
        "planting",
        "stand_count",
    }
    assert corrected.changes == (Change(*counted, (("living", 10),), (("living", 9),)),)
    assert [entry.number for entry in store.history("Z2")] == [1, 3]


@pytest.mark.slow
def test_a_trial_s_history_leaves_out_what_is_not_of_it(
    store: Store, make_batch: MakeBatch
) -> None:
    store.add(make_batch({Sheet.SCORES: [("Y1", DAY_1, "ease", 3.0)]}), ANN)
    store.close("Y", date(2025, 10, 6), "frost", ANN)
    store.add(make_batch({Sheet.EVENTS: [("Z", None, DAY_1, "note", "wind")]}), ANN)
    assert [entry.number for entry in store.history("Y")] == [1, 2, 3]
    assert [entry.number for entry in store.history("Z")] == [1, 4]
    assert store.history("Y")[-1].rows == (("closing", 1, 0),)
    assert store.history("Y", last=1) == store.history("Y")[-1:]
    assert [entry.number for entry in store.history(last=2)] == [3, 4]


def test_what_brought_a_few_rows_lists_them(store: Store, make_batch: MakeBatch) -> None:
    store.add(make_batch({Sheet.SCORES: [("Y1", DAY_1, "ease", 3.0)]}), ANN)
    place = (("plot", "Y1"), ("scored_on", "2025-07-10"), ("trait", "ease"))
    assert store.history()[-1].changes == (Change("score", place, None, (("value", 3.0),)),)


def test_a_name_that_is_neither_trial_nor_plot(store: Store) -> None:
    with pytest.raises(UnknownName, match="trial or plot"):
        store.history("nothing of the kind")


def test_an_empty_store_has_no_history(empty_store: Store) -> None:
    assert empty_store.history() == ()


def test_a_clock_set_back_does_not_turn_the_order_about(
    store: Store, make_batch: MakeBatch, monkeypatch: pytest.MonkeyPatch
) -> None:
    class SetBack(datetime):
        @classmethod
        def now(cls, tz: object = None) -> SetBack:
            return cls(2001, 1, 1)

    monkeypatch.setattr(entries, "datetime", SetBack)
    store.add(make_batch({Sheet.SCORES: [("Y1", DAY_1, "ease", 3.0)]}), ANN)
    first, second = store.history()
    assert second.recorded_at == first.recorded_at + timedelta(microseconds=1)
    traits = [  # each entry is known from its own time on, and not before
        set(store.as_known_at(each.recorded_at).known().frames[Sheet.SCORES]["trait"])
        for each in (first, second)
    ]
    assert traits == [{"vase_life_days"}, {"vase_life_days", "ease"}]


def test_a_table_and_its_twin_have_the_same_columns(empty_store: Store) -> None:
    with empty_store.turns.reading() as cursor:
        for twin in TWINS:
            columns = cursor.table(twin.table).columns
            assert sorted(columns) == sorted([*twin.columns, "entry"])
            # Columns that came later stand behind superseded_by: a table only grows at its end.
            assert set(cursor.table(f"{twin.table}_was").columns) == {*columns, "superseded_by"}
