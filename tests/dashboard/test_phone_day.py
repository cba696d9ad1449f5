"""What the page for the phone is told of a day: the trial's grades, the sprays, what is done."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from dashboard.tally.phone_day import Asking, day_document
from trials import season
from trials.model.plot_day import GradesAndReasons, PlotOfWalk
from trials.model.re_entry import Spray
from trials.model.rows import Signed
from trials.model.trial import Outcome
from trials.model.units import UnitSystem
from trials.season import Tally, TallyEntry

DAY = date(2026, 8, 5)
NOW = datetime(2026, 8, 5, 8, 0, tzinfo=UTC)
ASKING = Asking("Finn", False, "f", DAY, NOW, UnitSystem.METRIC, blind=False)
PLANNED = {"t-2026": GradesAndReasons((40,), ("frost",), (30, 40, 60))}


def plot(code: str = "P1", **other: Any) -> PlotOfWalk:
    told = {
        "trial": "t-2026",
        "crop": "aster",
        "minimum_length_cm": 40.0,
        "plot": code,
        "bed": "Bed 1",
        "position": 1,
        "treatment": "Wrenlatch",
        "lost_reason": None,
        "outcome": None,
        "stems": None,
        "culls": None,
    }
    return PlotOfWalk(**{**told, **other})


def test_a_planned_trial_has_its_own_grades_only_and_the_short_ones_apart() -> None:
    trial: Any = day_document(ASKING, [plot()], PLANNED)["trials"]
    assert trial["t-2026"] == {
        "saleable": [[40, "40 cm"], [60, "60 cm"]],
        "short": [[30, "30 cm"]],
        "shortest": "40 cm",
        "reasons": ["frost", "bent", "damaged", "too short", "too open", "insects"],
    }


def test_zero_missed_lost_and_not_recorded_are_told_apart() -> None:
    walk = [
        plot("P1", outcome=Outcome.PICKED, stems=0, culls=0),
        plot("P2", outcome=Outcome.MISSED),
        plot("P3", lost_reason="voles"),
        plot("P4"),
    ]
    told: Any = day_document(ASKING, walk, PLANNED)["plots"]
    assert [(p["outcome"], p["stems"], p["lost"]) for p in told] == [
        ("picked", 0, None),
        ("missed", None, None),
        (None, None, "voles"),
        (None, None, None),
    ]


def test_blind_it_is_not_told_what_grows() -> None:
    asking = Asking("Finn", False, "f", DAY, NOW, UnitSystem.METRIC, blind=True)
    assert "Wrenlatch" in str(day_document(ASKING, [plot()], PLANNED))
    assert "Wrenlatch" not in str(day_document(asking, [plot()], PLANNED))


def test_a_spray_is_told_with_its_end_and_the_page_s_own_words() -> None:
    at = NOW.astimezone()
    spray = Spray("soap", at.date(), at.time(), 12)
    over = Spray("oil", at.date() - timedelta(3), time(8), 12)
    walk = [plot(sprays=(over, spray), sprayed_on=at.date())]
    document: Any = day_document(ASKING, walk, PLANNED)
    (told,) = document["plots"]
    (closing,) = told["sprays"]
    assert closing["until"] - closing["begins"] == 12 * 3600 * 1000
    assert closing["words"].startswith("Do not enter this plot. It was sprayed with soap")
    assert closing["untilWords"] in closing["words"]
    assert told["sprayed"].startswith(f"Sprayed on {at.date()}")


def test_the_walk_of_a_store_says_when_a_plot_was_sprayed_last(hostile_farm: Any) -> None:
    rows = [
        (hostile_farm.open_trial, "", "2026-07-20", "sprayed"),
        (hostile_farm.open_trial, "P38", "2026-08-01", "sprayed"),
        (hostile_farm.open_trial, "P38", "2026-08-09", "sprayed"),
    ]
    path = hostile_farm.write("events", "trial,plot,happened_on,kind", rows)
    season.load(hostile_farm.store, [path])
    told = {each.plot: each.sprayed_on for each in season.walk(hostile_farm.store, DAY)}
    assert (told["P37"], told["P38"]) == (date(2026, 7, 20), date(2026, 8, 1))
    for code in ("P37", "P38"):
        of = season.plot_on_day(hostile_farm.store, hostile_farm.open_trial, code, DAY)
        assert of.sprayed_on == told[code]


def test_a_trial_counts_by_what_it_has_used(hostile_farm: Any) -> None:
    entry = TallyEntry("P37", DAY, Tally.COUNTED, stems=((55, "1"),), culls=(("<i>hail</i>", "1"),))
    season.tally(hostile_farm.store, entry, Signed("Ann"))
    used = season.grades_and_reasons(hostile_farm.store, hostile_farm.open_trial)
    told = season.plot_on_day(hostile_farm.store, hostile_farm.open_trial, "P37", DAY)
    assert 55 in used.grades_cm
    assert used == GradesAndReasons(told.grades_cm, told.cull_reasons, told.planned_grades_cm)
