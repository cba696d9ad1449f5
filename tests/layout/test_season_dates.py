"""A plan's calendar: from its own days, the frost, and what happened; days counted by hand."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

import pytest

from trials.layout.calendar import DateSource, Frost, TaskKind
from trials.layout.plan import TrialPlan
from trials.layout.season_dates import Timing, crop_days, frost_of, planned_calendar
from trials.model import AppliedTo
from trials.stats.results import LayoutKind

if TYPE_CHECKING:
    from tests.layout.conftest import Planner

FROST = Frost(date(2027, 5, 1), date(2027, 10, 1))


def days(
    plan: TrialPlan, timing: Timing, happened: dict[TaskKind, date] | None = None
) -> dict[TaskKind, date]:
    crop = crop_days(plan, timing)
    assert crop is not None
    tasks = planned_calendar(plan, timing, crop, FROST, happened or {})
    found: dict[TaskKind, date] = {}
    for task in tasks:
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
    assert days(alone, Timing(days_to_bloom=110))[TaskKind.TRANSPLANT] == date(2027, 4, 20)


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
    crop = crop_days(plan, Timing())
    assert crop is not None
    tasks = planned_calendar(plan, Timing(), crop, FROST, {TaskKind.TRANSPLANT: late})
    assert [t.kind for t in tasks if t.source is DateSource.HAPPENED] == [TaskKind.TRANSPLANT]


def test_a_crop_is_known_by_the_name_it_ends_in(planner: Planner) -> None:
    plan = planner.plan(LayoutKind.COMPLETE_BLOCKS, planner.factor(6), crop="plume celosia")
    crop = crop_days(plan, Timing())
    assert crop is not None
    assert crop.to_bloom == 90
    unknown = planner.plan(LayoutKind.COMPLETE_BLOCKS, planner.factor(6), crop="statice")
    assert crop_days(unknown, Timing()) is None


def test_own_frosts_go_before_the_sites() -> None:
    site = (date(2027, 5, 9), date(2027, 10, 11))
    own = Timing(last_spring_frost=date(2027, 4, 1))
    assert frost_of(own, *site) == Frost(date(2027, 4, 1), date(2027, 10, 11))
    assert frost_of(own, None, None) is None
    with pytest.raises(ValueError, match="autumn"):
        frost_of(Timing(last_spring_frost=date(2027, 11, 1)), *site)
