"""Long answers: calculated once, behind the pages or in them, bounded, and failures tried again."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from dashboard import answers, data
from dashboard.answers import Answers, begin
from trials.errors import FileRefused, NotAllowed, SignInRefused
from trials.model.trial import Role

WAIT_S = 20.0


@pytest.fixture
def kept() -> Answers[int]:
    return Answers(3)


def refusing(refusal: Exception) -> Callable[[], int]:
    def ask() -> int:
        raise refusal

    return ask


def test_two_who_ask_the_same_get_one_calculation(kept: Answers[int]) -> None:
    asked, go_on = [], threading.Event()

    def slow() -> int:
        asked.append(1)
        assert go_on.wait(WAIT_S)
        return 7

    first = begin(kept.answer("a", slow))
    second = begin(kept.answer("a", slow))
    assert first is second
    assert not first.is_done()
    go_on.set()
    assert kept.now("a", slow) == 7
    assert (asked, first.is_there(), kept.is_there("a")) == ([1], True, True)


def test_the_oldest_answers_make_room(kept: Answers[int]) -> None:
    for number in range(5):
        assert kept.now(number, lambda number=number: number) == number  # type: ignore[misc]
    assert [kept.is_there(number) for number in range(5)] == [False, False, True, True, True]


def test_heavy_answers_leave_less_room() -> None:
    heavy = Answers(10, lambda found: found)
    for number in (1, 6, 5, 4):
        assert heavy.now(number, lambda number=number: number) == number  # type: ignore[misc]
    assert heavy.now(99, lambda: 99) == 99
    assert heavy.now(2, lambda: 2) == 2
    assert [number for number in (1, 6, 5, 4, 99, 2) if heavy.is_there(number)] == [2]


def test_a_refusal_is_said_and_not_kept(kept: Answers[int]) -> None:
    with pytest.raises(FileRefused):
        kept.now("a", refusing(FileRefused("no")))
    assert kept.now("a", lambda: 7) == 7


def test_a_refusal_behind_the_pages_waits_for_who_asked(kept: Answers[int]) -> None:
    failed = begin(kept.answer("a", refusing(FileRefused("no"))))
    assert failed.is_done(WAIT_S)
    assert kept.answer("a", lambda: 7) is failed
    assert kept.now("a", lambda: 7) == 7  # who can wait tries again


@pytest.mark.parametrize("private", [SignInRefused("ended"), NotAllowed("no")])
def test_one_visitors_rights_say_nothing_of_anothers(
    kept: Answers[int], private: Exception
) -> None:
    assert begin(kept.answer("a", refusing(private))).is_done(WAIT_S)
    assert begin(kept.answer("a", lambda: 7)).is_done(WAIT_S)
    assert kept.now("a", lambda: 8) == 7


def test_what_nobody_waits_for_is_begun_again_by_the_next(kept: Answers[int]) -> None:
    answer = kept.answer("a", lambda: 7)
    answer.cancel()
    assert not answer.run()
    assert kept.now("a", lambda: 8) == 8


def test_a_newer_list_ahead_replaces_an_older_one(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(answers, "AHEAD_AFTER_S", 0.05)
    ahead = answers._Ahead(answers._Pace())
    begun, go_on, last = threading.Event(), threading.Event(), threading.Event()
    done: list[str] = []

    def first() -> bool:
        begun.set()
        return go_on.wait(WAIT_S)

    def of(name: str) -> Callable[[], bool]:
        def run() -> bool:
            done.append(name)
            if name == "last":
                last.set()
            return False

        return run

    ahead.want([first, of("old")])
    assert begun.wait(WAIT_S)
    ahead.want([of("new"), of("last")])
    go_on.set()
    assert last.wait(WAIT_S)
    assert done == ["new", "last"]


def test_what_is_calculated_ahead_is_found_by_the_page_unless_a_record_changed(
    hostile_farm: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TALLYBED_STORE", str(hostile_farm.store))
    asked = (hostile_farm.open_trial, "stems_per_plant", False)
    run = data.compare.ahead(*asked)
    late = data.compare.ahead(hostile_farm.open_trial, "stem_length_cm", False)
    assert run()
    assert data.compare.is_there(*asked)
    assert not run()
    data.close(hostile_farm.open_trial, date(2026, 10, 1), "frost")
    assert not late()
    assert not data.compare.is_there(*asked)


def test_an_answer_that_is_there_is_not_for_everybody(
    hostile_farm: Any, monkeypatch: pytest.MonkeyPatch, signed_in: Callable[..., None]
) -> None:
    monkeypatch.setenv("TALLYBED_STORE", str(hostile_farm.store))
    assert data.trials()
    signed_in(Role.PICKER)
    for ask in (data.trials, data.trials.begun, data.trials.ahead, data.trials.is_there):
        with pytest.raises(NotAllowed):
            ask()
