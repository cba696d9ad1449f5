"""A store that remembers for one calculation: fewer questions, the same answers."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date

import duckdb
import pytest

from trials.store import Store
from trials.store.file.turns import Turns


@pytest.fixture
def turns_taken(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    counted: Counter[str] = Counter()
    reading = Turns.reading

    @contextmanager
    def counting(turns: Turns) -> Iterator[duckdb.DuckDBPyConnection]:
        counted["turns"] += 1
        with reading(turns) as cursor:
            yield cursor

    monkeypatch.setattr(Turns, "reading", counting)
    return counted


def test_nothing_is_asked_twice_and_the_answers_are_the_same(
    store: Store, turns_taken: Counter[str]
) -> None:
    kept = store.remembering()
    for _ in range(3):
        assert kept.trials() == store.trials()
        assert kept.plots("Z").equals(store.plots("Z"))
        assert kept.plots("Z", 60.0).equals(store.plots("Z", 60.0))
        assert kept.cuts("Z").equals(store.cuts("Z"))
    assert turns_taken["turns"] == 3 * 4 + 4


def test_each_caller_may_change_a_frame_of_its_own(store: Store) -> None:
    kept = store.remembering()
    own = kept.plots("Z")
    own["plot"] = "changed"
    assert kept.plots("Z").equals(store.plots("Z"))


def test_the_next_calculation_sees_what_changed(store: Store) -> None:
    before = store.remembering()
    assert before.trial("Z").closed_on is None
    store.close("Z", date(2025, 10, 1), "frost")
    assert before.trial("Z").closed_on is None
    assert store.remembering().trial("Z").closed_on == date(2025, 10, 1)
