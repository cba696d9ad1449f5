"""The tally page as Streamlit runs it: the walk, the fields, and what is said of a plot."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

import trials
from dashboard import data
from dashboard.drafts import Drafts
from trials import season
from trials.model import Outcome

Show = Callable[..., AppTest]
DAY = date(2026, 8, 5)
PLOT = "P37"  # the first of the open trial


@pytest.fixture(autouse=True)
def fresh_drafts(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(data, "DRAFTS", Drafts())


def words(page: AppTest) -> str:
    assert not page.exception
    bodies = "\n".join(element.proto.body for element in page.get("html"))
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", bodies)))


def at(show: Show, farm: Any, plot: str = PLOT) -> AppTest:
    return show(farm.store, "tally", plot=plot, day=DAY.isoformat())


def tap(page: AppTest, label: str) -> AppTest:
    return next(b for b in page.button if b.label == label).click().run()


def type_in(page: AppTest, label: str, text: str) -> AppTest:
    next(t for t in page.text_input if t.label == label).set_value(text)
    return page


def told(farm: Any, plot: str = PLOT) -> Any:
    return trials.plot_on_day(farm.store, farm.open_trial, plot, DAY)


def test_the_walk_shows_what_is_left(hostile_farm: Any, show: Show) -> None:
    page = show(hostile_farm.store, "tally", day=DAY.isoformat())
    assert "0 of 18 plots done" in words(page)
    tap(page, "Next: P37, Bed")
    assert "P37 Bed, place 37" in words(page)


def test_a_scanned_stake_opens_its_plot_with_what_grows_there(
    hostile_farm: Any, show: Show
) -> None:
    page = at(show, hostile_farm, "p38 ")
    assert f"P38 Bed, place 38 {hostile_farm.varieties[1]}" in words(page)


def test_blind_the_page_does_not_say_what_grows(
    hostile_farm: Any, show: Show, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TALLYBED_BLIND", "1")
    said = words(at(show, hostile_farm))
    assert not any(name in said for name in hostile_farm.varieties)


def test_an_unknown_stake_is_told_the_nearest(hostile_farm: Any, show: Show) -> None:
    assert "Did you mean 'P37'?" in words(at(show, hostile_farm, "P377"))


def test_stems_and_culls_are_recorded_and_said_back(hostile_farm: Any, show: Show) -> None:
    page = at(show, hostile_farm)
    type_in(page, "40 cm", "12")
    type_in(page, "bent", "2")
    tap(page, "Record")
    assert "Recorded: 12 stems to sell. 40 cm: 12; culls, bent: 2." in words(page)
    assert told(hostile_farm).stems == ((40, 12),)
    assert not any(b.label == "Record" for b in page.button)
    tap(page, "Next: P38, Bed")
    assert "1 of 18 plots done" in words(page)


def test_nothing_filled_in_is_no_zero(hostile_farm: Any, show: Show) -> None:
    page = at(show, hostile_farm)
    type_in(page, "bent", "2")
    tap(page, "Record")
    assert "No stems are filled in" in words(page)
    assert told(hostile_farm).outcome is None


@pytest.mark.parametrize(
    ("label", "outcome", "said"),
    [
        ("Nothing to cut (0)", Outcome.PICKED, "picked, nothing to cut (0)"),
        ("Not picked", Outcome.MISSED, "not picked. What grew is not known"),
    ],
)
def test_zero_and_missed_are_taps_of_their_own(
    hostile_farm: Any, show: Show, label: str, outcome: Outcome, said: str
) -> None:
    page = at(show, hostile_farm)
    type_in(page, "40 cm", "1")
    tap(page, label)
    assert "Something is typed above" in words(page)
    type_in(page, "40 cm", "")
    tap(page, label)
    assert said in words(page)
    assert told(hostile_farm).outcome is outcome


def test_what_is_no_count_stays_in_its_field(hostile_farm: Any, show: Show) -> None:
    page = at(show, hostile_farm)
    type_in(page, "40 cm", "1o")
    tap(page, "Record")
    assert "'1o' is not a number" in words(page)
    assert next(t for t in page.text_input if t.label == "40 cm").value == "1o"
    assert told(hostile_farm).outcome is None


def test_what_was_typed_is_there_on_another_visit(hostile_farm: Any, show: Show) -> None:
    type_in(at(show, hostile_farm), "40 cm", "12").run()
    page = at(show, hostile_farm)
    assert next(t for t in page.text_input if t.label == "40 cm").value == "12"
    other = at(show, hostile_farm, "P38")
    assert next(t for t in other.text_input if t.label == "40 cm").value == ""


def test_a_correction_needs_a_reason_and_keeps_both(hostile_farm: Any, show: Show) -> None:
    page = at(show, hostile_farm)
    type_in(page, "40 cm", "12")
    tap(page, "Record")
    tap(page, "Correct this")
    assert next(t for t in page.text_input if t.label == "40 cm").value == "12"
    type_in(page, "40 cm", "21")
    tap(page, "Put it right")
    assert "what was wrong" in words(page)
    type_in(page, "What was wrong", "misread")
    tap(page, "Put it right")
    assert "40 cm: 21" in words(page)
    newest = season.history(hostile_farm.store)[-1]
    assert (newest.what, newest.why) == ("correction", "misread")


def test_a_plot_is_lost_with_a_reason(hostile_farm: Any, show: Show) -> None:
    page = at(show, hostile_farm)
    tap(page, "The plot is lost")
    assert "Say what happened" in words(page)
    type_in(page, "What happened", "<b>voles</b>")
    tap(page, "The plot is lost")
    assert "Lost: <b>voles</b>." in words(page)
    assert "Next: P38, Bed" in [b.label for b in page.button]


def test_after_a_spray_the_label_has_the_word(hostile_farm: Any, show: Show) -> None:
    rows = [(hostile_farm.open_trial, "", "2026-08-01", "sprayed", "soap")]
    path = hostile_farm.write("events", "trial,plot,happened_on,kind,reason", rows)
    trials.load(hostile_farm.store, [path])
    assert "Sprayed on 2026-08-01" in words(at(show, hostile_farm))


def test_out_of_season_nothing_is_asked(hostile_farm: Any, show: Show) -> None:
    page = show(hostile_farm.store, "tally", day="2027-01-05")
    assert "No open trial has plots in the ground on 2027-01-05" in words(page)


def test_what_is_unlikely_asks_for_a_reason(hostile_farm: Any, show: Show) -> None:
    page = at(show, hostile_farm)
    type_in(page, "40 cm", "1200")
    tap(page, "Record")
    assert "If it is true, say why and tap again." in words(page)
    assert told(hostile_farm).outcome is None
    type_in(page, "Why it is true", "all of the bed's last day")
    tap(page, "Record")
    assert told(hostile_farm).stems == ((40, 1200),)
