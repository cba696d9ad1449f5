"""Tries that fail: free at first, then further and further apart."""

from __future__ import annotations

from contextlib import suppress

import pytest

from dashboard.access.sign_in_delay import (
    ADDRESS_LIMIT,
    FORGET_AFTER_S,
    NAME_LIMIT,
    REMEMBERED_AT_MOST,
    Patience,
)
from trials.errors import SignInRefused


class Clock:
    """A clock that the test sets."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


def tries_let_in(patience: Patience, clock: Clock, seconds: int, name: str, address: str) -> int:
    """How many tries get through, one a second."""
    let_in = 0
    for _ in range(seconds):
        clock.now += 1
        try:
            patience.admit(name, address)
        except SignInRefused:
            continue
        let_in += 1
    return let_in


def test_a_few_slips_cost_nothing(clock: Clock) -> None:
    patience = Patience(clock)
    for _ in range(NAME_LIMIT.free):
        patience.admit("Finn", "10.0.0.7")
    with pytest.raises(SignInRefused, match="Wait 2 seconds"):
        patience.admit("finn ", "10.0.0.8")


def test_a_day_of_guessing_one_name_is_a_few_tries_a_minute(clock: Clock) -> None:
    let_in = tries_let_in(Patience(clock), clock, 24 * 3600, "Finn", "10.0.0.7")
    assert let_in < 24 * 60 + 30


def test_an_address_that_tries_many_names_is_slowed_more(clock: Clock) -> None:
    patience = Patience(clock)
    let_in = sum(
        tries_let_in(patience, clock, 1, f"name {number}", "10.0.0.7") for number in range(7200)
    )
    assert let_in < ADDRESS_LIMIT.free + 40


def test_who_gets_in_starts_afresh(clock: Clock) -> None:
    patience = Patience(clock)
    for _ in range(4 * NAME_LIMIT.free):
        patience.admit("Finn", "10.0.0.7")
        patience.forgive("Finn", "10.0.0.7")


def test_others_are_let_in_meanwhile(clock: Clock) -> None:
    patience = Patience(clock)
    tries_let_in(patience, clock, 60, "Finn", "10.0.0.7")
    patience.admit("Ada", "10.0.0.8")


def test_an_hour_later_all_is_forgotten(clock: Clock) -> None:
    patience = Patience(clock)
    tries_let_in(patience, clock, 600, "Finn", "10.0.0.7")
    clock.now += FORGET_AFTER_S + 1
    patience.admit("Finn", "10.0.0.7")


def test_a_flood_of_names_does_not_fill_the_memory(clock: Clock) -> None:
    patience = Patience(clock)
    for number in range(3 * REMEMBERED_AT_MOST):
        patience.admit(str(number), str(number))
    assert len(patience._failed) <= REMEMBERED_AT_MOST + 2


def test_strangers_cannot_shut_anybody_out_of_where_they_are_known(clock: Clock) -> None:
    patience = Patience(clock)
    patience.admit("Finn", "10.0.0.8")
    patience.forgive("Finn", "10.0.0.8")  # Finn's own phone
    tries_let_in(patience, clock, 600, "Finn", "10.0.0.7")
    with pytest.raises(SignInRefused):
        patience.admit("Finn", "10.0.0.9")
    patience.admit("finn", "10.0.0.8")
    tries_let_in(patience, clock, 600, "Ada", "10.0.0.7")
    patience.admit("Ada", "127.0.0.1")  # on the farm's machine, known or not


@pytest.mark.slow
@pytest.mark.parametrize("address", ["127.0.0.1", "::1", "10.0.0.8"])
def test_where_somebody_is_known_guessing_is_slowed_all_the_same(
    clock: Clock, address: str
) -> None:
    patience = Patience(clock)
    patience.forgive("Finn", address)
    assert tries_let_in(patience, clock, 24 * 3600, "Finn", address) < 24 * 60 + 30


def test_a_name_tried_from_many_addresses_is_slowed_and_its_owner_is_not(clock: Clock) -> None:
    patience = Patience(clock)
    patience.know("Finn", "mark of Finn's phone")
    let_in = 0
    for second in range(24 * 3600):
        clock.now += 1
        with suppress(SignInRefused):
            patience.admit("Finn", f"10.1.{second // 250 % 250}.{second % 250}")
            let_in += 1
    assert let_in < 24 * 60 + 30
    with pytest.raises(SignInRefused):
        patience.admit("Finn", "10.0.0.9")
    patience.admit("Finn", "10.0.0.9", "mark of Finn's phone")
    with pytest.raises(SignInRefused):  # nobody else's mark helps
        patience.admit("Finn", "10.0.0.10", "another mark")
