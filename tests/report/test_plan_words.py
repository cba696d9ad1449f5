"""The words of a plan: every kind has its own, in the reader's units."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from tests.plans import plan_of
from trials.layout.calendar import (
    CropDays,
    DateSource,
    Frost,
    FrostRisk,
    Guide,
    GuideKind,
    Task,
    TaskKind,
    calendar,
)
from trials.layout.field.neighbours import Neighbours
from trials.layout.plan import Planting
from trials.layout.power.detectable import Detectable, Found, ReplicatesNeeded, Wanted
from trials.layout.power.differences import Between, Difference
from trials.layout.power.plot_size_variation import TrialSpread, sized_spread
from trials.layout.power.power import Family
from trials.layout.power.sample_size import OnTheBeds, Possible
from trials.layout.power.variation import Spread, SpreadSource, assumed_spread
from trials.model.crop_facts import Fact
from trials.model.trial import AppliedTo, Factor
from trials.model.units import UnitSystem, feet_to_m, inches_to_cm
from trials.records.plan.file import plan_text
from trials.records.plan.proposed import Note, NoteKind
from trials.report.calendar_page import (
    TASK_WORDS,
    calendar_table,
    days_to_print,
    frost_words,
    guide_words,
)
from trials.report.plan_words import (
    density_sentence,
    larger_units_sentence,
    metres,
    neighbours_sentence,
    note_words,
    possible_sentences,
    spread_sentence,
    square_metres,
    tells_sentence,
    times_in_100,
)


@pytest.mark.parametrize("kind", NoteKind)
def test_every_note_is_a_sentence(kind: NoteKind) -> None:
    names = 2 if kind is NoteKind.NO_SOWING_FITS else 6
    if kind is NoteKind.SEASON_TOO_SHORT:
        names = 5
    assert note_words(Note(kind, ("Low Field",) * names)).endswith(".")


def test_where_no_sowing_fits_no_closer_sowings_are_advised() -> None:
    said = note_words(Note(NoteKind.NO_SOWING_FITS, ("9", "2027-10-05")))
    assert said == (
        "None of the 9 sowings you asked for fits. No cut is expected before 2027-10-05, when "
        "cutting ends."
    )
    alone = note_words(Note(NoteKind.NO_SOWING_FITS, ("1", "2027-10-05")))
    assert alone == "No cut is expected before 2027-10-05, when cutting ends."
    names = ("9", "1", "4", "2027-10-05", "2027-02-19", "weeks_of_cutting")
    fewer = note_words(Note(NoteKind.FEWER_SOWINGS, names))
    assert "1 fits." in fewer
    assert fewer.endswith("For more, lower weeks_of_cutting in [calendar].")


def test_every_task_has_words() -> None:
    assert set(TASK_WORDS) == set(TaskKind)


ZINNIA = {
    TaskKind.SOW: Guide(GuideKind.WARMTH_C, 21, 21),
    TaskKind.PINCH: Guide(GuideKind.PLANT_HEIGHT_CM, 20, 25),
    TaskKind.NET: Guide(GuideKind.NET_HEIGHT_CM, 45, 45),
}


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
    assert metric in guide_words(ZINNIA[kind])
    assert us in guide_words(ZINNIA[kind], UnitSystem.US)


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
    pinch = Task(TaskKind.PINCH, day, DateSource.EXPECTED, 1, guide=ZINNIA[TaskKind.PINCH])
    assert days_to_print([*tasks, pinch])[1] == (
        day,
        "pinch, when plants are 20 to 25 cm tall (8 to 10 in)",
    )


def test_every_cut_of_a_calendar_says_what_to_mind() -> None:
    crop = CropDays(to_bloom=75, to_transplant=28, regrowth=14, flushes=3)
    rows = calendar_table(calendar(crop, Frost(date(2027, 5, 1), date(2027, 10, 5)))).rows
    cuts = {row[1]: row[3] for row in rows if "cut" in row[1]}
    assert list(cuts) == ["first cut", "cut number 2", "cut number 3", "end of cutting"]
    assert all("sharp blades" in minded for minded in cuts.values())


def test_the_spread_says_whose_it_is() -> None:
    own = Spread(12.0, SpreadSource.OWN_TRIALS, df=20, trials=1)
    sized = sized_spread(own, 9, [TrialSpread("aster-2025", 12.0, 20, 16)])
    said = spread_sentence(sized, 9)
    assert "1 closed trial of your own (aster-2025): 12% for plots of 16 plants" in said
    assumed = spread_sentence(sized_spread(assumed_spread(), 3), 3)
    assert "Plots of 3 plants treated alike are expected to differ by 26%" in assumed
    assert "a usual figure" in assumed
    assert "15% for plots of 18 plants" in assumed
    assert "single plants differ by 40%, and plots by another 12%" in assumed


def test_larger_units_say_whose_spread_theirs_is() -> None:
    assert "a further 7.5% (assumed: half as much as plots)" in larger_units_sentence(
        assumed_spread()
    )
    own = Spread(12.0, SpreadSource.OWN_TRIALS, 4.0, SpreadSource.OWN_TRIALS, 20, 1)
    assert "a further 4.0% (the farm's own closed trials)" in larger_units_sentence(own)


def test_density_is_told_both_ways() -> None:
    """4 rows at 9 in on a 4-ft bed, common practice: 5.33 a foot, 1.33 a square foot, not 1.78."""
    example = Path(__file__).parents[2] / "data" / "plan-example.toml"
    plan = plan_of(plan_text(example), "plan")
    four_feet = [replace(bed, width_m=feet_to_m(4)) for bed in plan.beds]
    plan = replace(plan, planting=Planting(4, inches_to_cm(9)), beds=tuple(four_feet))
    said = density_sentence(plan, UnitSystem.US)
    assert said.startswith("5.33 plants per foot of bed, 1.33 per square foot.")
    assert "144 / (9 × 9 in), leaves out the bed's edges and gives 1.78" in said
    # By hand: 4 x 100 / 22.86 = 17.50 a metre, / 1.2192 m = 14.35; 10,000 / 22.86^2 = 19.14.
    said = density_sentence(plan, UnitSystem.METRIC)
    assert said.startswith("17.50 plants per metre of bed, 14.35 per square metre.")
    assert "(22.86 × 22.86 cm), leaves out the bed's edges and gives 19.14" in said
    wider = replace(plan, beds=(plan.beds[0], replace(plan.beds[1], width_m=1.0)))
    assert "14.35 to 17.50 per square metre" in density_sentence(wider, UnitSystem.METRIC)
    spacing = Factor("spacing_cm", ("20", "40"), AppliedTo.PLOT)
    both = density_sentence(replace(plan, factors=(*plan.factors, spacing)), UnitSystem.METRIC)
    assert [part.split()[0] for part in both.split("; ")] == ["20.00", "10.00"]


def test_neighbours_are_told_as_they_fell() -> None:
    said = neighbours_sentence(Neighbours(10, 0, 6, 1, 2, None))
    assert "along the beds none of 10 neighbouring pairs has the same entry" in said
    assert "across the paths 1 of 6 neighbouring pairs has the same entry" in said
    assert "across" not in neighbours_sentence(Neighbours(10, 0, 0, 0, 2, 1))


def test_lengths_and_chances() -> None:
    assert (metres(30.48, UnitSystem.METRIC), metres(30.48, UnitSystem.US)) == ("30.5 m", "100 ft")
    assert square_metres(9.290304, UnitSystem.US) == "100 sq ft"
    assert times_in_100(0.001) == "less than once in 100 times"
    assert times_in_100(0.9999) == "99 times in 100"


@pytest.mark.parametrize("kind", NoteKind)
def test_a_page_s_reader_gets_no_keys_and_no_files(kind: NoteKind) -> None:
    names = {
        NoteKind.NO_CROP_FIGURES: ("aster", *Fact),
        NoteKind.CROP_FIGURES_LEFT_OUT: ("aster", *Fact),
        NoteKind.SEASON_TOO_SHORT: ("aster", "2027-05-01", "4", "2027-10-05", "2027-04-01"),
        NoteKind.FEWER_SOWINGS: (
            *("4", "2", "4", "2027-10-05", "2027-07-01"),
            *("days_between_sowings", "weeks_of_cutting"),
        ),
        NoteKind.NO_SOWING_FITS: ("2", "2027-10-05"),
    }.get(kind, ("Low Field",))
    said = note_words(Note(kind, names), on_page=True)
    assert said.endswith(".")
    assert "_" not in said
    assert "[" not in said
    assert ".csv" not in said


def test_pairs_of_leaves_are_counted_in_any_units() -> None:
    guide = Guide(GuideKind.LEAF_PAIRS, 3, 4)
    assert "3 to 4 pairs of leaves" in guide_words(guide)
    assert guide_words(guide) == guide_words(guide, UnitSystem.US)


def test_the_frosts_are_said_with_their_margin() -> None:
    frost = Frost(date(2027, 5, 1), date(2027, 10, 5))
    average = frost_words(frost, on_page=True)
    assert average == (
        "Average last frost 2027-05-01, average first frost 2027-10-05: half of all years are "
        "earlier, half later."
    )
    asked = "For a safety margin, give frost_margin_days in [calendar]."
    assert frost_words(frost) == f"{average} {asked}"
    clear = f"{average} The calendar stays 10 days clear of both."
    assert frost_words(replace(frost, margin_days=10), on_page=True) == clear
    assert frost_words(replace(frost, margin_days=10)) == clear


NEEDS = ReplicatesNeeded(Wanted(20.0, family=Family.ONE_PAIR), 2, 36.04, 0.31, 6, 19.5, 40)
POSSIBLE = Possible(NEEDS, False, 90.0, 60.0, None, None, (), None)


def possible(**changed: Any) -> tuple[str, ...]:
    return possible_sentences(replace(POSSIBLE, **changed), UnitSystem.METRIC)


def test_a_wish_is_told_with_what_it_takes_and_what_the_beds_give() -> None:
    wish, planned, takes = possible()
    assert wish == f"You want to find a difference of 20% ({Family.ONE_PAIR}), 80 times in 100."
    assert planned == (
        "With 2 plots each, as planned, a difference of 20% is found 31 times in 100. Only "
        "differences of 36.0% or more are found as often as you want."
    )
    assert takes == (
        "20% needs 6 plots each (enough for 19.5%), 90.0 m of bed. Your beds have 60.0 m. They do "
        "not fit."
    )
    assert possible(fits=True)[2].endswith("They fit.")
    room = OnTheBeds(12, 4, 25.0, 0.5)
    (most,) = possible(most_here=room)[3:]
    assert most.startswith("The beds have room for at most 4 plots each of 12 plants, which find a")
    assert most.endswith(" difference of 25.0%.")
    assert possible(fits=True, most_here=room)[3:] == ()
    assert possible(weighing=(room,))[3:] == ("No other size of plot shows more on the same beds.",)


def test_smaller_plots_are_praised_only_where_they_are_smaller() -> None:
    best = OnTheBeds(6, 8, None, None)
    words = (
        "More plots or more plants per plot? The same beds have room for 8 plots each of 6 "
        "plants, too few for a test."
    )
    praise = f"{words} More plots show more than more plants per plot."
    assert possible(best_here=best)[3:] == (words,)
    for plants, said in ((12, praise), (6, words), (4, words)):
        written = OnTheBeds(plants, 4, 25.0, 0.5)
        assert possible(fits=True, most_here=written, best_here=best)[3:] == (said,)


def test_a_plan_that_is_enough_or_never_enough_says_so() -> None:
    enough = replace(NEEDS, needed=2)
    assert possible(needs=enough, weighing=(OnTheBeds(6, 8, 20.0, 0.8),))[2:] == (
        "That is enough: 2 plots each would do.",
    )
    never = replace(NEEDS, found_percent=None, chance=None, needed=None)
    assert possible(needs=never, bed_m_needed=None)[1:] == (
        "With 2 plots each, as planned, no difference can be tested.",
        "Even 40 plots each would not find 20%.",
    )
    assert possible(joint_chance=0.4)[2] == (
        "The F-test of all entries together finds two entries that far apart 40 times in 100."
    )


def test_a_difference_within_a_level_names_it_and_one_without_error_has_no_test() -> None:
    kind = Difference("variety", ("pinch",), Between.ANY, 6, 10.0, 12, (AppliedTo.PLOT,))
    row = Detectable(kind, 0.05, 0.8, (Found(Family.ONE_PAIR, 2.2, 22.58, 31.84),), None)
    assert tells_sentence(row) == (
        "variety within pinch (any two levels): least significant difference 22.6% of the mean "
        "(one pair chosen beforehand). Difference found 80 times in 100: 31.8% "
        f"({Family.ONE_PAIR})."
    )
    none = replace(row, found=(), difference=replace(kind, within=(), df=0))
    assert tells_sentence(none) == (
        "variety (any two levels): no test is possible, as too few plots are left to estimate "
        "error from."
    )
