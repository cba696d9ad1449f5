"""Drafts in the store: kept by person, plot and day; no records, and gone with their record."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from trials.model.rows import Batch, Sheet, Signed
from trials.store import DraftPlace, Purpose, Store, Typed, put_back
from trials.store.history.changes import What

DAY = date(2025, 7, 20)
AT = datetime(2025, 7, 20, 10, 42)
HERE = DraftPlace("Finn", "Z1", DAY)


def typed(
    fields: dict[str, str], place: DraftPlace = HERE, token: str = "mark", minute: int = 42
) -> Typed:
    return Typed(place, token, fields, AT.replace(minute=minute))


def kept(store: Store, person: str = "Finn") -> list[tuple[DraftPlace, str, dict[str, str]]]:
    return [(each.place, each.token, dict(each.fields)) for each in store.desk.of(person)]


def test_fields_are_kept_one_by_one_under_the_first_mark(store: Store) -> None:
    store.desk.keep([typed({"grade 40": "12", "cull bent": "2"})])
    store.desk.keep([typed({"grade 40": "15"}, token="other phone", minute=50)])
    (found,) = store.desk.of("Finn")
    assert (found.place, found.token) == (HERE, "mark")
    assert found.fields == {"grade 40": "15", "cull bent": "2"}
    assert found.typed_at == AT.replace(minute=50)
    assert (found.trial, found.closed_on) == ("Z", None)


def test_people_plots_days_and_purposes_keep_apart(store: Store) -> None:
    places = [
        HERE,
        DraftPlace("Finn", "Z2", DAY),
        DraftPlace("Finn", "Z1", date(2025, 7, 21)),
        DraftPlace("Finn", "Z1", DAY, Purpose.CORRECTION),
        DraftPlace("Wren", "Z1", DAY),
    ]
    store.desk.keep(
        [typed({"grade 40": str(n)}, place, f"mark {n}") for n, place in enumerate(places)]
    )
    assert {place for place, _, _ in kept(store)} == set(places[:4])
    store.desk.discard(HERE)
    assert {place for place, _, _ in kept(store)} == set(places[1:4])
    assert len(kept(store, "Wren")) == 1


def test_emptied_fields_are_gone_and_with_the_last_one_the_draft(store: Store) -> None:
    store.desk.keep([typed({"grade 40": "12", "cull bent": "2"})])
    store.desk.keep([typed({"cull bent": " "})])
    assert kept(store) == [(HERE, "mark", {"grade 40": "12"})]
    store.desk.keep([typed({"grade 40": ""})])
    assert kept(store) == []


def test_hostile_text_is_kept_as_it_is(store: Store) -> None:
    fields = {"cull other words": "'); DROP TABLE draft; --", "words": '\u202e\U0001f33b \\"'}
    store.desk.keep([typed(fields)])
    assert kept(store) == [(HERE, "mark", fields)]


def test_it_goes_with_the_entry_that_records_it_and_does_not_come_back(
    store: Store, make_batch: Callable[..., Batch]
) -> None:
    store.desk.keep([typed({"grade 40": "12"})])
    rows = make_batch({Sheet.STAND_COUNTS: [("Z1", DAY, 3)]})
    store.add(rows, Signed("Finn", token="mark"), What.TALLY)
    assert kept(store) == []
    store.desk.keep([typed({"grade 40": "12"})])
    assert kept(store) == [], "a writer that comes late meets its mark in the history"


def test_of_a_closed_trial_it_says_so(store: Store) -> None:
    store.desk.keep([typed({"grade 40": "12"})])
    store.close("Z", date(2025, 10, 6), "frost")
    (found,) = store.desk.of("Finn")
    assert found.closed_on == date(2025, 10, 6)
    store.desk.keep([typed({"grade 40": "1"}, DraftPlace("Finn", "gone", DAY), "strange")])
    assert [each.trial for each in store.desk.of("Finn")] == ["Z", None]


def test_it_is_no_record(store: Store) -> None:
    def records() -> tuple[Any, ...]:
        return (store.digest("Z"), store.history(), store.records_mark(), store.trials())

    before = records()
    store.desk.keep([typed({"grade 40": "12"})])
    assert records() == before
    assert store.check().whole
    store.close("Z", date(2025, 10, 6), "frost")
    assert store.records_mark() != before[2], "a record changes the mark"


def test_a_copy_carries_it(store: Store, tmp_path: Path) -> None:
    store.desk.keep([typed({"grade 40": "12"})])
    made = store.backup(tmp_path / "copies")
    done = put_back(made.folder, tmp_path / "again.tallybed", datetime.now(UTC))
    assert kept(Store.open(done.store)) == kept(store)
