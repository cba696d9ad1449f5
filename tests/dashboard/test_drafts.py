"""Drafts: at hand by person, plot and day, and written to the store as soon as it takes them."""

from __future__ import annotations

import time
from collections.abc import Sequence
from datetime import date, datetime, timedelta

import pytest

from dashboard.tally import drafts as module
from dashboard.tally.drafts import KEPT_AT_MOST, Drafts
from trials import TallybedError
from trials.errors import StoreBusy
from trials.season import DraftPlace, KeptDraft, Purpose, Typed

DAY = date(2026, 8, 5)
HERE = DraftPlace("Finn", "P1", DAY)


class Shelf:
    """A store that takes drafts, unless somebody else holds it."""

    def __init__(self) -> None:
        self.is_held = False
        self.turns: list[list[Typed]] = []

    def keep(self, typed: Sequence[Typed]) -> None:
        if self.is_held:
            raise StoreBusy("held by another program")
        self.turns.append([*typed])


@pytest.fixture
def shelf() -> Shelf:
    return Shelf()


@pytest.fixture
def never_by_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is written unless the test says so."""
    monkeypatch.setattr(Drafts, "_write_until_done", lambda self: None)


def kept(fields: dict[str, str], later: int = 0, token: str = "other") -> KeptDraft:
    at = datetime(2026, 8, 5, 10, 42) + timedelta(minutes=later)
    return KeptDraft(HERE, token, fields, at, "open", None)


def test_what_is_typed_is_there_after_a_reload() -> None:
    drafts = Drafts()
    drafts.type_in(HERE, "grade 40", "12")
    again = drafts.at(HERE)
    assert again.typed == {"grade 40": "12"}
    assert again.token == drafts.at(HERE).token
    assert drafts.begun("Finn") == {HERE}


def test_people_plots_days_and_purposes_keep_apart() -> None:
    drafts = Drafts()
    places = [
        HERE,
        DraftPlace("Wren", "P1", DAY),
        DraftPlace("Finn", "P2", DAY),
        DraftPlace("Finn", "P1", date(2026, 8, 6)),
        DraftPlace("Finn", "P1", DAY, Purpose.CORRECTION),
    ]
    assert len({drafts.at(place).token for place in places}) == len(places)
    drafts.type_in(HERE, "grade 40", " ")
    assert drafts.begun("Finn") == frozenset(), "blanks are nothing"


def test_a_recorded_draft_makes_room_for_a_new_mark() -> None:
    drafts = Drafts()
    first = drafts.at(HERE)
    drafts.done(HERE)
    drafts.done(HERE)
    assert drafts.at(HERE).token != first.token


def test_they_do_not_fill_the_memory() -> None:
    drafts = Drafts()
    for number in range(KEPT_AT_MOST + 50):
        drafts.at(DraftPlace("Finn", str(number), DAY))
    assert len(drafts._kept) == KEPT_AT_MOST


def test_fields_typed_in_a_breath_are_written_in_one_turn(shelf: Shelf) -> None:
    drafts = Drafts(shelf.keep)
    for text in ("1", "12"):
        drafts.type_in(HERE, "grade 40", text)
    drafts.type_in(HERE, "cull bent", "2")
    until = time.monotonic() + 20
    while not shelf.turns and time.monotonic() < until:
        time.sleep(0.01)
    ((typed,),) = shelf.turns
    assert typed.fields == {"grade 40": "12", "cull bent": "2"}
    assert typed.token == drafts.at(HERE).token


@pytest.mark.usefixtures("never_by_itself")
def test_while_the_store_is_held_it_stays_here_and_is_written_later(shelf: Shelf) -> None:
    drafts = Drafts(shelf.keep)
    shelf.is_held = True
    drafts.type_in(HERE, "grade 40", "12")
    assert not drafts.write()
    assert drafts.at(HERE).typed == {"grade 40": "12"}
    drafts.found("Finn", [], time.monotonic())
    assert drafts.begun("Finn") == {HERE}, "not being in the store yet is not being gone"
    shelf.is_held = False
    assert drafts.write()
    assert drafts.write()
    assert len(shelf.turns) == 1, "nothing is written twice"


@pytest.mark.usefixtures("never_by_itself")
def test_only_what_was_typed_since_is_written(shelf: Shelf) -> None:
    drafts = Drafts(shelf.keep)
    drafts.type_in(HERE, "grade 40", "12")
    drafts.write()
    drafts.type_in(HERE, "grade 50", "3")
    drafts.write()
    assert [turn[0].fields for turn in shelf.turns] == [{"grade 40": "12"}, {"grade 50": "3"}]


@pytest.mark.usefixtures("never_by_itself")
def test_what_was_filled_in_beforehand_goes_along_with_the_first_field(shelf: Shelf) -> None:
    drafts = Drafts(shelf.keep)
    drafts.at(HERE).typed.update({"grade 40": "12", "seen": "7"})
    assert drafts.write()
    assert shelf.turns == [], "nobody has typed anything yet"
    drafts.type_in(HERE, "grade 40", "21")
    drafts.write()
    assert shelf.turns[0][0].fields == {"grade 40": "21", "seen": "7"}


@pytest.mark.usefixtures("never_by_itself")
def test_what_another_device_typed_is_seen_and_what_is_not_written_yet_stays(shelf: Shelf) -> None:
    drafts = Drafts(shelf.keep)
    drafts.type_in(HERE, "grade 40", "12")
    drafts.write()
    drafts.type_in(HERE, "cull bent", "2")
    elsewhere = kept({"grade 40": "15", "grade 50": "3"})
    drafts.found("Finn", [elsewhere], time.monotonic())
    found = drafts.at(HERE)
    assert found.typed == {"grade 40": "15", "grade 50": "3", "cull bent": "2"}
    assert found.token == "other", "both will be recorded under one mark"


@pytest.mark.usefixtures("never_by_itself")
def test_what_another_process_recorded_is_gone_here_too(shelf: Shelf) -> None:
    drafts = Drafts(shelf.keep)
    asked_before = time.monotonic()
    drafts.type_in(HERE, "grade 40", "12")
    drafts.write()
    drafts.found("Finn", [], asked_before)
    assert drafts.begun("Finn") == {HERE}, "the store was asked before it had it"
    drafts.found("Wren", [], time.monotonic())
    assert drafts.begun("Finn") == {HERE}
    drafts.found("Finn", [], time.monotonic())
    assert drafts.begun("Finn") == frozenset()


@pytest.mark.usefixtures("never_by_itself")
def test_what_is_thrown_away_is_not_written_again(shelf: Shelf) -> None:
    drafts = Drafts(shelf.keep)
    drafts.type_in(HERE, "grade 40", "12")
    dropped: list[str] = []
    drafts.throw_away(HERE, lambda: dropped.append("dropped"))
    drafts.write()
    assert (dropped, shelf.turns) == (["dropped"], [])


@pytest.mark.usefixtures("never_by_itself")
def test_what_could_not_be_thrown_away_is_still_there(shelf: Shelf) -> None:
    drafts = Drafts(shelf.keep)
    drafts.type_in(HERE, "grade 40", "12")

    def refuse() -> None:
        raise StoreBusy("held by another program")

    with pytest.raises(TallybedError):
        drafts.throw_away(HERE, refuse)
    assert drafts.begun("Finn") == {HERE}


def test_the_one_who_writes_goes_on_trying_and_ends_once_all_is_written(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "WRITTEN_AFTER_S", 0.01)
    monkeypatch.setattr(module, "TRIED_AGAIN_AFTER_S", 0.01)
    shelf.is_held = True
    drafts = Drafts(shelf.keep)
    drafts.type_in(HERE, "grade 40", "12")
    writer = drafts._writer
    assert writer is not None
    time.sleep(0.1)
    assert writer.is_alive()
    shelf.is_held = False
    writer.join(20)
    assert not writer.is_alive()
    assert len(shelf.turns) == 1
