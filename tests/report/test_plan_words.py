"""The words of a plan: every kind has its own, in the reader's units."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from trials.layout.calendar import GUIDES, DateSource, FrostRisk, Task, TaskKind
from trials.layout.neighbours import Neighbours
from trials.layout.plan import Planting
from trials.layout.sized_spread import TrialSpread, sized_spread
from trials.layout.spread import Spread, SpreadSource, assumed_spread
from trials.model import AppliedTo, Factor
from trials.proposing import Note, NoteKind
from trials.records.plan_file import plan_of, plan_text
from trials.report.calendar_page import TASK_WORDS, calendar_table, days_to_print, guide_words
from trials.report.plan_words import (
    density_sentence,
    larger_units_sentence,
    metres,
    neighbours_sentence,
    note_words,
    spread_sentence,
    square_metres,
    times_in_100,
)
from trials.units import UnitSystem, feet_to_m, inches_to_cm


@pytest.mark.parametrize("kind", NoteKind)
def test_every_note_is_a_sentence(kind: NoteKind) -> None:
    assert note_words(Note(kind, ("Low Field",))).endswith(".")


def test_every_task_has_words() -> None:
    assert set(TASK_WORDS) == set(TaskKind)


@pytest.mark.parametrize(
    ("kind", "metric", "us"),
    [
        # Common practice: near 70 F; pinch at 8 to 10 in; net about 18 in above the soil.
        (TaskKind.SOW, "21 °C", "70 °F"),
        (TaskKind.PINCH, "20 to 25 cm", "8 to 10 in"),
        (TaskKind.NET, "45 cm", "18 in"),
    ],
)
def test_guides_are_told_in_the_readers_units(kind: TaskKind, metric: str, us: str) -> None:
    assert metric in guide_words(GUIDES[kind])
    assert us in guide_words(GUIDES[kind], UnitSystem.US)


def test_a_day_says_whether_it_was_done_and_when_frost_may_come() -> None:
    day = date(2027, 5, 1)
    tasks = (
        Task(TaskKind.TRANSPLANT, day, DateSource.HAPPENED, 1),
        Task(TaskKind.NEXT_FLUSH, day, DateSource.EXPECTED, 2, 3, FrostRisk.EVEN),
        Task(TaskKind.FIRST_CUT, day, DateSource.EXPECTED, 1, 1, FrostRisk.LESS_THAN_EVEN),
    )
    rows = calendar_table(tasks).rows
    assert [row[2] for row in rows] == ["done", "expected", "expected"]
    assert rows[1][1] == "sowing 2: cut number 3"
    assert [row[3] for row in rows] == ["", "even chance of frost", ""]
    pinch = Task(TaskKind.PINCH, day, DateSource.EXPECTED, 1, guide=GUIDES[TaskKind.PINCH])
    assert days_to_print([*tasks, pinch])[1] == (
        day,
        "pinch, when plants are 20 to 25 cm tall (8 to 10 in)",
    )


def test_the_spread_says_whose_it_is() -> None:
    own = Spread(12.0, SpreadSource.OWN_TRIALS, df=20, trials=1)
    sized = sized_spread(own, 9, [TrialSpread("aster-2025", 12.0, 20, 16)])
    said = spread_sentence(sized, 9)
    assert "1 closed trial of your own: aster-2025" in said
    assert "16 plants and 12.0 %" in said
    assert "a usual figure" in spread_sentence(sized_spread(assumed_spread(), 9), 9)


def test_larger_units_say_whose_spread_theirs_is() -> None:
    assert "7.5 % of their own: half of what plots do" in larger_units_sentence(assumed_spread())
    own = Spread(12.0, SpreadSource.OWN_TRIALS, 4.0, SpreadSource.OWN_TRIALS, 20, 1)
    assert "4.0 % of their own: the farm's own closed trials" in larger_units_sentence(own)


def test_density_is_told_both_ways() -> None:
    """4 rows at 9 in on a 4-ft bed, common practice: 5.33 a foot, 1.33 a square foot, not 1.78."""
    example = Path(__file__).parents[2] / "data" / "plan-example.toml"
    plan = plan_of(plan_text(example), "plan")
    four_feet = [replace(bed, width_m=feet_to_m(4)) for bed in plan.beds]
    plan = replace(plan, planting=Planting(4, inches_to_cm(9)), beds=tuple(four_feet))
    said = density_sentence(plan, UnitSystem.US)
    assert said.startswith("5.33 plants a foot of bed, 1.33 a square foot of it")
    assert "144 / (9 × 9 in), knows no edges and says 1.78" in said
    # By hand: 4 x 100 / 22.86 = 17.50 a metre, / 1.2192 m = 14.35; 10,000 / 22.86^2 = 19.14.
    said = density_sentence(plan, UnitSystem.METRIC)
    assert said.startswith("17.50 plants a metre of bed, 14.35 a square metre of it")
    assert "(22.86 × 22.86 cm), knows no edges and says 19.14" in said
    wider = replace(plan, beds=(plan.beds[0], replace(plan.beds[1], width_m=1.0)))
    assert "14.35 to 17.50 a square metre" in density_sentence(wider, UnitSystem.METRIC)
    spacing = Factor("spacing_cm", ("20", "40"), AppliedTo.PLOT)
    both = density_sentence(replace(plan, factors=(*plan.factors, spacing)), UnitSystem.METRIC)
    assert [part.split()[0] for part in both.split("; ")] == ["20.00", "10.00"]


def test_neighbours_are_told_as_they_fell() -> None:
    said = neighbours_sentence(Neighbours(10, 0, 6, 1, 2, None))
    assert "along the beds none of 10 pairs" in said
    assert "across the paths 1 of 6 pairs" in said
    assert "across" not in neighbours_sentence(Neighbours(10, 0, 0, 0, 2, 1))


def test_lengths_and_chances() -> None:
    assert (metres(30.48, UnitSystem.METRIC), metres(30.48, UnitSystem.US)) == ("30.5 m", "100 ft")
    assert square_metres(9.290304, UnitSystem.US) == "100 sq ft"
    assert times_in_100(0.001) == "less than once in 100 times"
    assert times_in_100(0.9999) == "99 times in 100"
