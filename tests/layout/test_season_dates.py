"""A plan's calendar: from its own days, the frost, and what happened; days counted by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

import pytest

from trials.layout.calendar import CropDays, DateSource, Frost, TaskKind
from trials.layout.crops import CropFigure, figures_of
from trials.layout.plan import TrialPlan
from trials.layout.season_dates import (
    SeasonDates,
    Timing,
    crop_days,
    figures_for,
    frost_of,
    left_out,
    planned_calendar,
    without_calendar,
)
from trials.model.crop_facts import Fact, FactSource
from trials.model.trial import AppliedTo
from trials.stats.results import LayoutKind

if TYPE_CHECKING:
    from tests.layout.conftest import Planner

FROST = Frost(date(2027, 5, 1), date(2027, 10, 1))


def crop(plan: TrialPlan, timing: Timing) -> CropDays | None:
    return crop_days(plan, timing, figures_for(plan, timing, figures_of(plan.crop)))


def dates(
    plan: TrialPlan, timing: Timing, happened: dict[TaskKind, date] | None = None
) -> SeasonDates:
    found = crop(plan, timing)
    assert found is not None
    return planned_calendar(plan, timing, found, FROST, happened or {}, every_days=21)


def days(
    plan: TrialPlan, timing: Timing, happened: dict[TaskKind, date] | None = None
) -> dict[TaskKind, date]:
    found: dict[TaskKind, date] = {}
    for task in dates(plan, timing, happened).tasks:
        found.setdefault(task.kind, task.on)
    return found


def test_a_crop_without_a_day_goes_out_at_the_last_frost(planner: Planner) -> None:
    plan = planner.plan(LayoutKind.COMPLETE_BLOCKS, planner.factor(6), crop="zinnia")
    found = days(plan, Timing())
    assert found[TaskKind.TRANSPLANT] == FROST.last_spring
    assert found[TaskKind.FIRST_CUT] == found[TaskKind.SOW] + timedelta(60)


def test_the_plans_own_days_are_kept(planner: Planner) -> None:
    plan = planner.plan(
        LayoutKind.COMPLETE_BLOCKS,
        planner.factor(6),
        sow_on=date(2027, 3, 1),
        transplant_on=date(2027, 4, 20),
    )
    found = days(plan, Timing(days_to_bloom=110))
    assert (found[TaskKind.SOW], found[TaskKind.TRANSPLANT]) == (plan.sow_on, plan.transplant_on)
    alone = planner.plan(
        LayoutKind.COMPLETE_BLOCKS, planner.factor(6), transplant_on=date(2027, 4, 20)
    )
    assert days(alone, Timing(days_to_bloom=110, days_in_trays=50))[TaskKind.TRANSPLANT] == date(
        2027, 4, 20
    )


def test_factors_say_what_work_there_is(planner: Planner) -> None:
    pinch = planner.factor(2, "pinch", AppliedTo.WHOLE_PLOT)
    netting = planner.factor(2, "netting", AppliedTo.WHOLE_PLOT)
    plain = planner.plan(LayoutKind.COMPLETE_BLOCKS, planner.factor(6), crop="zinnia")
    both = planner.plan(LayoutKind.SPLIT_PLOT, pinch, netting, planner.factor(6), crop="zinnia")
    assert {TaskKind.PINCH, TaskKind.NET}.isdisjoint(days(plain, Timing()))
    assert {TaskKind.PINCH, TaskKind.NET} <= set(days(both, Timing()))
    assert TaskKind.PINCH in days(plain, Timing(pinched=True))
    assert TaskKind.PINCH not in days(both, Timing(pinched=False))


def test_what_happened_moves_what_follows(planner: Planner) -> None:
    plan = planner.plan(LayoutKind.COMPLETE_BLOCKS, planner.factor(6), crop="zinnia")
    before = days(plan, Timing(pinched=True))
    late = before[TaskKind.TRANSPLANT] + timedelta(9)
    after = days(plan, Timing(pinched=True), {TaskKind.TRANSPLANT: late})
    assert after[TaskKind.SOW] == before[TaskKind.SOW]
    for kind in (TaskKind.PINCH, TaskKind.FIRST_CUT, TaskKind.NEXT_FLUSH):
        assert after[kind] - before[kind] == timedelta(9)
    tasks = dates(plan, Timing(), {TaskKind.TRANSPLANT: late}).tasks
    assert [t.kind for t in tasks if t.source is DateSource.HAPPENED] == [TaskKind.TRANSPLANT]


def test_a_crop_is_known_by_the_name_it_ends_in(planner: Planner) -> None:
    plan = planner.plan(LayoutKind.COMPLETE_BLOCKS, planner.factor(6), crop="plume celosia")
    celosia = crop(plan, Timing(days_in_trays=42))
    assert celosia is not None
    assert (celosia.to_bloom, celosia.to_transplant) == (90, 42)


def test_no_crop_borrows_the_days_of_another(planner: Planner) -> None:
    """The zinnia's days in trays, heights and cuts are not those of statice or celosia."""
    unknown = planner.plan(LayoutKind.COMPLETE_BLOCKS, planner.factor(6), crop="statice")
    assert crop(unknown, Timing()) is None
    assert without_calendar(unknown, Timing(), {}) == (Fact.DAYS_TO_BLOOM, Fact.DAYS_IN_TRAYS)
    given = crop(unknown, Timing(days_to_bloom=110, days_in_trays=50, pinched=True, netted=True))
    assert given == CropDays(110, 50)
    celosia = planner.plan(LayoutKind.COMPLETE_BLOCKS, planner.factor(6), crop="celosia")
    known = figures_for(celosia, Timing(), figures_of("celosia"))
    assert without_calendar(celosia, Timing(), known) == (Fact.DAYS_IN_TRAYS,)
    timing = Timing(pinched=True, days_in_trays=42)
    assert left_out(celosia, timing, figures_for(celosia, timing, known)) == (
        Fact.GERMINATION_C,
        Fact.DAYS_BETWEEN_FLUSHES,
        Fact.FLUSHES,
        Fact.DAYS_TO_PINCH,
        Fact.PINCH_HEIGHT_CM,
        Fact.DAYS_PINCHING_DELAYS,
    )


def test_the_zinnias_figures_are_those_of_common_practice() -> None:
    """Common practice: 70 F, 4 weeks in trays, pinched at 8 to 10 in, net at 18 in, 3 to 4 cuts."""
    zinnia = figures_of("zinnia")
    assert zinnia[Fact.GERMINATION_C].low == pytest.approx((70 - 32) / 1.8, abs=0.5)
    assert zinnia[Fact.DAYS_IN_TRAYS].low == 28
    height = zinnia[Fact.PINCH_HEIGHT_CM]
    assert (height.low, height.high) == pytest.approx((8 * 2.54, 10 * 2.54), abs=0.5)
    assert zinnia[Fact.NET_HEIGHT_CM].low == pytest.approx(18 * 2.54, abs=1)
    assert (zinnia[Fact.FLUSHES].low, zinnia[Fact.FLUSHES].high) == (3, 4)
    sowings = zinnia[Fact.DAYS_BETWEEN_SOWINGS]
    assert (sowings.low, sowings.high) == (21, 28)


def test_the_plans_figures_go_before_those_of_the_table(planner: Planner) -> None:
    plan = planner.plan(LayoutKind.COMPLETE_BLOCKS, planner.factor(6), crop="zinnia")
    found = figures_for(plan, Timing(days_to_bloom=70), figures_of("zinnia"))
    assert found[Fact.DAYS_TO_BLOOM] == CropFigure(70, 70, FactSource.PLAN)
    assert found[Fact.DAYS_IN_TRAYS].source is FactSource.COMMON_PRACTICE


def test_a_season_too_short_has_no_last_useful_sowing(planner: Planner) -> None:
    """Lisianthus: 140 days and 4 weeks before 1 October is 16 April; 70 days in trays is 20 Feb."""
    plan = planner.plan(LayoutKind.COMPLETE_BLOCKS, planner.factor(6), crop="lisianthus")
    enough = dates(plan, Timing())
    assert not enough.too_short
    assert enough.last_useful == date(2027, 4, 16)
    short = dates(plan, Timing(weeks_of_cutting=13))
    assert short.too_short
    assert TaskKind.LAST_SOWING not in {task.kind for task in short.tasks}


def test_sowings_that_do_not_fit_are_counted(planner: Planner) -> None:
    """From 3 April every 3 weeks to 5 July: 3 and 24 April, 15 May, 5 and 26 June."""
    plan = planner.plan(LayoutKind.COMPLETE_BLOCKS, planner.factor(6), crop="zinnia")
    found = dates(plan, Timing(successions=9))
    assert found.last_useful == date(2027, 7, 5)
    assert (found.asked, found.sowings) == (9, 5)


def test_a_sowing_without_a_cut_before_frost_does_not_fit(planner: Planner) -> None:
    """41 days in trays before 1 May is 21 March; 194 days later is 1 October, the day of frost."""
    plan = planner.plan(LayoutKind.COMPLETE_BLOCKS, planner.factor(6), crop="statice")
    nine = Timing(days_in_trays=41, days_between_sowings=21, successions=9)
    for bloom in (194, 200):
        none = dates(plan, replace(nine, days_to_bloom=bloom))
        assert none.first_sowing == date(2027, 3, 21)
        assert none.too_short
        assert (none.asked, none.sowings) == (9, 0)
        assert none.tasks[-1].kind is TaskKind.LAST_CUT
        assert TaskKind.FIRST_CUT not in {task.kind for task in none.tasks}
    day_before = dates(plan, replace(nine, days_to_bloom=193, weeks_of_cutting=0))
    assert day_before.last_useful == day_before.first_sowing
    assert day_before.sowings == 1
    made = {TaskKind.FIRST_CUT: date(2027, 10, 4)}
    late = dates(plan, Timing(days_to_bloom=200, days_in_trays=41), made)
    assert late.sowings == 1  # frost came later than its average, and the cut was made


def test_own_frosts_go_before_the_sites() -> None:
    site = (date(2027, 5, 9), date(2027, 10, 11))
    own = Timing(last_spring_frost=date(2027, 4, 1))
    assert frost_of(own, *site) == Frost(date(2027, 4, 1), date(2027, 10, 11))
    assert frost_of(own, None, None) is None
    with pytest.raises(ValueError, match="autumn"):
        frost_of(Timing(last_spring_frost=date(2027, 11, 1)), *site)
