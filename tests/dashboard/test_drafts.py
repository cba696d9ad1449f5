"""Drafts: kept by who types, plot and day, until they are recorded."""

from __future__ import annotations

from datetime import date

from dashboard.drafts import KEPT_AT_MOST, Drafts

DAY = date(2026, 8, 5)


def test_what_is_typed_is_there_after_a_reload() -> None:
    drafts = Drafts()
    drafts.type_in("Finn", "P1", DAY, "grade 40", "12")
    again = drafts.at("Finn", "P1", DAY)
    assert again.typed == {"grade 40": "12"}
    assert again.token == drafts.at("Finn", "P1", DAY).token
    assert drafts.begun("Finn", DAY) == {"P1"}


def test_people_plots_and_days_keep_apart() -> None:
    drafts = Drafts()
    places = [("Finn", "P1"), ("Wren", "P1"), ("Finn", "P2")]
    tokens = {drafts.at(who, plot, DAY).token for who, plot in places}
    tokens.add(drafts.at("Finn", "P1", date(2026, 8, 6)).token)
    assert len(tokens) == 4
    drafts.type_in("Finn", "P1", DAY, "grade 40", " ")
    assert drafts.begun("Finn", DAY) == frozenset(), "blanks are nothing"


def test_a_recorded_draft_makes_room_for_a_new_mark() -> None:
    drafts = Drafts()
    first = drafts.at("Finn", "P1", DAY)
    drafts.done("Finn", "P1", DAY)
    drafts.done("Finn", "P1", DAY)
    assert drafts.at("Finn", "P1", DAY).token != first.token


def test_they_do_not_fill_the_memory() -> None:
    drafts = Drafts()
    for number in range(KEPT_AT_MOST + 50):
        drafts.at("Finn", str(number), DAY)
    assert len(drafts._kept) == KEPT_AT_MOST
