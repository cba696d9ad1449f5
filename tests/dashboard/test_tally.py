"""The tally page as Streamlit runs it: the walk, the fields, and what is said of a plot."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from dashboard.access.visitor import HERE
from dashboard.tally import bed
from dashboard.tally.offered import grades_of
from trials import season
from trials.model.plot_day import PlotOnDay
from trials.model.rows import Signed
from trials.model.trial import Outcome
from trials.model.units import UnitSystem
from trials.season.tallying import Tally, TallyEntry

pytestmark = pytest.mark.slow

Show = Callable[..., AppTest]
DAY = date(2026, 8, 5)
PLOT = "P37"  # the first of the open trial


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
    return season.plot_on_day(farm.store, farm.open_trial, plot, DAY)


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
        ("Not picked", Outcome.MISSED, "not picked"),
    ],
)
def test_zero_and_missed_are_taps_of_their_own(
    hostile_farm: Any, show: Show, label: str, outcome: Outcome, said: str
) -> None:
    page = at(show, hostile_farm)
    type_in(page, "40 cm", "1")
    tap(page, label)
    assert "There are figures in the fields above" in words(page)
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
    tap(page, "Correct")
    assert "what was wrong" in words(page)
    type_in(page, "What was wrong", "misread")
    tap(page, "Correct")
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
    season.load(hostile_farm.store, [path])
    assert "Sprayed on 2026-08-01" in words(at(show, hostile_farm))


def test_the_planned_grades_are_offered_from_the_first_day() -> None:
    told = PlotOnDay(
        plot=PLOT,
        day=DAY,
        outcome=None,
        stems=(),
        culls=(),
        lengths_cm=(),
        events=(),
        grades_cm=(),
        cull_reasons=(),
        sprayed_on=None,
        who=None,
        entry=None,
        last_entry=0,
        planned_grades_cm=(35, 45, 60),
    )
    assert grades_of(told, 45, UnitSystem.METRIC) == ((35,), (45, 60))


def test_out_of_season_nothing_is_asked(hostile_farm: Any, show: Show) -> None:
    page = show(hostile_farm.store, "tally", day="2027-01-05")
    assert "No open trial has plots in the ground on 2027-01-05" in words(page)


def test_what_is_unlikely_asks_for_a_reason(hostile_farm: Any, show: Show) -> None:
    page = at(show, hostile_farm)
    type_in(page, "40 cm", "1200")
    tap(page, "Record")
    assert "If it is true, give a reason and tap again." in words(page)
    assert told(hostile_farm).outcome is None
    type_in(page, "Why it is true", "all of the bed's last day")
    tap(page, "Record")
    assert told(hostile_farm).stems == ((40, 1200),)


# ------------------------------------------------------------------------------- typed before


def field(page: AppTest, label: str) -> str | None:
    return next((t.value for t in page.text_input if t.label == label), None)


def labels(page: AppTest) -> list[str]:
    return [b.label for b in page.button]


def written(farm: Any) -> tuple[Any, ...]:
    """What the store has of what was typed, once it has all of it."""
    assert bed.drafts().write()
    return season.drafts_of(farm.store, HERE)


def by_wren(farm: Any, stems: str, plot: str = PLOT, day: date = DAY) -> None:
    entry = TallyEntry(plot, day, Tally.COUNTED, stems=((40, stems),))
    season.tally(farm.store, entry, Signed("Wren", token=f"{plot} {day}"))


def test_what_was_typed_is_said_to_be_there_and_can_be_gone_on_with(
    hostile_farm: Any, show: Show
) -> None:
    first = type_in(at(show, hostile_farm), "40 cm", "12").run()
    assert "not recorded yet" not in words(first), "whoever types knows"
    page = at(show, hostile_farm)
    assert re.search(r"Typed at \d\d:\d\d, not recorded yet\.", words(page))
    assert field(page, "40 cm") == "12"
    tap(page, "Use it")
    assert "not recorded yet" not in words(page)
    assert field(page, "40 cm") == "12"
    assert [dict(draft.fields) for draft in written(hostile_farm)] == [{"grade 40": "12"}]
    tap(page, "Record")
    assert told(hostile_farm).stems == ((40, 12),)
    assert written(hostile_farm) == ()


def test_what_was_typed_is_thrown_away_when_asked_twice(hostile_farm: Any, show: Show) -> None:
    type_in(at(show, hostile_farm), "40 cm", "12").run()
    assert len(written(hostile_farm)) == 1
    page = tap(at(show, hostile_farm), "Discard")
    tap(page, "No, keep it")
    assert field(page, "40 cm") == "12"
    tap(tap(page, "Discard"), "Yes, throw it away")
    assert field(page, "40 cm") == ""
    assert "not recorded yet" not in words(page)
    assert written(hostile_farm) == ()
    assert told(hostile_farm).outcome is None


def test_two_phones_of_one_person_see_the_later_text(hostile_farm: Any, show: Show) -> None:
    one, other = at(show, hostile_farm), at(show, hostile_farm)
    type_in(one, "40 cm", "12").run()
    assert field(other.run(), "40 cm") == "12"
    type_in(other, "40 cm", "15").run()
    assert field(one.run(), "40 cm") == "15"


def test_what_is_older_than_the_plots_newest_record_is_taken_up_first(
    hostile_farm: Any, show: Show
) -> None:
    type_in(at(show, hostile_farm), "40 cm", "12").run()
    by_wren(hostile_farm, "9", day=date(2026, 8, 6))
    page = at(show, hostile_farm)
    said = words(page)
    assert "Since then this plot was recorded for another day" in said
    assert "stems of 40 cm: 12" in said
    assert "Record" not in labels(page)
    assert field(page, "40 cm") is None
    tap(page, "Use it")
    assert field(page, "40 cm") == "12"
    tap(page, "Record")
    assert told(hostile_farm).stems == ((40, 12),)


def test_what_was_typed_for_a_closed_trial_is_shown_and_not_recorded(
    hostile_farm: Any, show: Show
) -> None:
    type_in(at(show, hostile_farm), "40 cm", "12").run()
    assert len(written(hostile_farm)) == 1
    season.close(hostile_farm.store, hostile_farm.open_trial, date(2026, 10, 1), "frost")
    page = at(show, hostile_farm)
    said = words(page)
    assert f"Trial {hostile_farm.open_trial} is closed since 2026-10-01" in said
    assert "once the closing is taken back on the page History." in said
    assert "stems of 40 cm: 12" in said
    assert "Record" not in labels(page)
    tap(tap(page, "Discard"), "Yes, throw it away")
    assert "is closed since" not in words(page.run())
    assert written(hostile_farm) == ()


def test_whoever_closes_a_trial_is_told_what_is_typed_and_not_recorded(
    hostile_farm: Any, show: Show
) -> None:
    assert "Typed on page Tally and not recorded yet" not in words(show(hostile_farm.store))
    type_in(at(show, hostile_farm), "40 cm", "12").run()
    assert len(written(hostile_farm)) == 1
    said = words(show(hostile_farm.store))
    assert "After closing, it cannot be recorded:" in said
    assert f"{PLOT} on 2026-08-05, typed by {HERE} at " in said


def test_what_was_typed_elsewhere_is_listed_and_gone_to(hostile_farm: Any, show: Show) -> None:
    type_in(at(show, hostile_farm, "P38"), "40 cm", "12").run()
    assert len(written(hostile_farm)) == 1
    page = show(hostile_farm.store, "tally", day="2026-08-07")
    assert "P38 on 2026-08-05 typed at " in words(page)
    tap(page, "Go to P38")
    assert "P38 Bed, place 38" in words(page)
    assert field(page, "40 cm") == "12"


def test_somebody_else_was_first_and_both_are_shown_to_compare(
    hostile_farm: Any, show: Show
) -> None:
    page = type_in(at(show, hostile_farm), "40 cm", "12").run()
    type_in(page, "bent", "2").run()
    by_wren(hostile_farm, "9")
    tap(page, "Record")
    said = words(page)
    assert re.search(r"Somebody else recorded this plot at \d\d:\d\d \(Wren\)\.", said)
    assert "recorded by Wren" in said
    assert "stems of 40 cm 9 12" in said
    assert "culls, bent – 2" in said
    assert told(hostile_farm).stems == ((40, 9),)
    tap(page, "Replace it with mine")
    assert field(page, "40 cm") == "12"
    type_in(page, "What was wrong", "we counted it again together")
    tap(page, "Correct")
    assert told(hostile_farm).stems == ((40, 12),)
    assert told(hostile_farm).culls == (("bent", 2),)
    assert written(hostile_farm) == ()
    assert "Somebody else recorded" not in words(page)


def test_a_correction_that_was_begun_is_there_on_another_visit(
    hostile_farm: Any, show: Show
) -> None:
    by_wren(hostile_farm, "9")
    page = tap(at(show, hostile_farm), "Correct this")
    type_in(page, "40 cm", "19").run()
    assert len(written(hostile_farm)) == 1
    page = at(show, hostile_farm)
    assert "A correction: Typed at" in words(page)
    tap(page, "Use it")
    assert field(page, "40 cm") == "19"
    type_in(page, "What was wrong", "misread")
    tap(page, "Correct")
    assert told(hostile_farm).stems == ((40, 19),)
    assert written(hostile_farm) == ()


def test_a_note_leaves_the_counts_typed_beside_it(hostile_farm: Any, show: Show) -> None:
    page = type_in(at(show, hostile_farm), "40 cm", "12").run()
    for story in ("hail", "voles"):
        type_in(page, "What happened", story)
        tap(page, "Store note")
    assert [reason for _, reason in told(hostile_farm).events] == ["hail", "voles"]
    assert field(page, "40 cm") == "12"
    assert field(page, "What happened") == ""


def test_lengths_are_typed_in_inches_where_the_farm_likes_them(
    hostile_farm: Any, show: Show, monkeypatch: pytest.MonkeyPatch
) -> None:
    """1 inch = 2.54 cm exactly: 40 cm are 15.748 in, 24.5 in are 62.23 cm, 24 1/4 in 61.595 cm."""
    monkeypatch.setenv("TALLYBED_UNITS", "us")
    page = at(show, hostile_farm)
    type_in(page, "15.7 in", "12")
    type_in(page, "Stem 1 (in)", "24.5")
    type_in(page, "Stem 2 (in)", "24 1/4")
    page.run()
    assert not any("cm" in t.label for t in page.text_input)
    page.session_state["units"] = "metric"
    page.run()
    assert field(page, "40 cm") == "12"
    assert field(page, "Stem 1 (in)") == "24.5", "what was typed in inches stays so, and says so"
    type_in(page, "Stem 1 (cm)", "60")
    tap(page, "Record")
    assert told(hostile_farm).stems == ((40, 12),)
    assert told(hostile_farm).lengths_cm == (60.0, 62.23, 61.595)
    assert "Measured: 60 cm, 62.23 cm and 61.595 cm." in words(page)
    page.session_state["units"] = "US"
    assert "15.7 in: 12. Measured: 23.62 in, 24.5 in and 24.25 in." in words(page.run())


def test_nobody_is_sent_into_a_sprayed_plot(
    hostile_farm: Any, show: Show, monkeypatch: pytest.MonkeyPatch
) -> None:
    entry = season.SprayEntry(hostile_farm.open_trial, DAY, "<b>oil</b>", "24", "07:00", (PLOT,))
    season.record_spray(hostile_farm.store, entry, Signed("Finn", token="s"))
    noon = datetime.combine(DAY, time(12)).astimezone()
    monkeypatch.setattr(bed, "now", lambda: noon)
    said = words(at(show, hostile_farm))
    assert "Do not enter this plot. It was sprayed with <b>oil</b>" in said
    assert f"Do not enter: {PLOT}. Sprayed with <b>oil</b>, closed until 2026-08-06 07:00" in said
    page = show(hostile_farm.store, "tally", day=DAY.isoformat())
    assert "Next: P38, Bed" in [b.label for b in page.button]
    monkeypatch.setattr(bed, "now", lambda: noon + timedelta(days=1))
    page = show(hostile_farm.store, "tally", day=DAY.isoformat())
    assert "Do not enter" not in words(page)
    assert f"Next: {PLOT}, Bed" in [b.label for b in page.button]


def test_a_spray_is_recorded_on_the_page_of_its_trial(hostile_farm: Any, show: Show) -> None:
    page = show(hostile_farm.store, "home")
    tap(page, "Record spray")
    assert "Still needed: the product, the time when spraying ended, the re-entry" in words(page)
    type_in(page, "Product, as on its label", "oil")
    type_in(page, "Re-entry time on the label, in hours", "a day")
    time_of = next(t for t in page.text_input if t.label.startswith("Time when spraying ended"))
    time_of.set_value("18:05")
    next(d for d in page.date_input if d.label == "Day of spraying").set_value(DAY)
    tap(page, "Record spray")
    assert "Re-entry time: 'a day'" in words(page)
    type_in(page, "Re-entry time on the label, in hours", "24")
    tap(page, "Record spray")
    assert "The spray is recorded." in words(page)
    assert [spray.hours for spray in season.walk(hostile_farm.store, DAY)[0].sprays] == [24.0]
