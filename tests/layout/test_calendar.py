"""The calendar against common practice, counted out by hand."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trials.layout.calendar import (
    CropDays,
    DateSource,
    Frost,
    FrostRisk,
    Part,
    Successions,
    Task,
    TaskKind,
    calendar,
)
from trials.model.work_safety import Work

FROST = Frost(date(2031, 5, 10), date(2031, 10, 8))


def usual(
    to_bloom: int, *, transplanted: bool = True, pinched: bool = False, netted: bool = False
) -> CropDays:
    """A crop with the zinnia's days but for the first: 28 in trays, 14 to pinch or net, 7 late."""
    return CropDays(
        to_bloom,
        28 if transplanted else None,
        42 if pinched else None,
        42 if netted else None,
        regrowth=14,
        flushes=4,
        pinching_delays=7 if pinched else 0,
    )


ZINNIA = usual(60, netted=True)


def task_of(
    tasks: tuple[Task, ...], kind: TaskKind, succession: int | None = 1, flush: int | None = None
) -> Task:
    (found,) = [
        task
        for task in tasks
        if task.kind is kind
        and task.succession == succession
        and (flush is None or task.flush == flush)
    ]
    return found


def day(tasks: tuple[Task, ...], kind: TaskKind, succession: int | None = 1) -> date:
    return task_of(tasks, kind, succession).on


def test_a_tender_crop_is_sown_four_weeks_before_the_last_frost() -> None:
    tasks = calendar(ZINNIA, FROST)
    assert day(tasks, TaskKind.SOW) == date(2031, 4, 12)
    assert day(tasks, TaskKind.TRANSPLANT) == date(2031, 5, 10)
    assert day(tasks, TaskKind.FIRST_CUT) == date(2031, 6, 11)  # 60 days from sowing
    assert {task.source for task in tasks} == {DateSource.EXPECTED}
    assert [task.on for task in tasks] == sorted(task.on for task in tasks)


def test_it_is_cut_in_four_flushes_two_weeks_apart() -> None:
    tasks = calendar(ZINNIA, FROST)
    flushes = [task.on for task in tasks if task.flush is not None]
    assert flushes == [date(2031, 6, 11), date(2031, 6, 25), date(2031, 7, 9), date(2031, 7, 23)]


def test_the_last_useful_sowing_leaves_time_to_bloom_and_to_cut() -> None:
    # 8 October less 60 days is 9 August, less 4 weeks is 12 July.
    tasks = calendar(usual(60), FROST, Successions(weeks_of_cutting=4))
    assert day(tasks, TaskKind.LAST_SOWING, None) == date(2031, 7, 12)
    snapdragon = calendar(usual(120), FROST, Successions(weeks_of_cutting=4))
    assert day(snapdragon, TaskKind.LAST_SOWING, None) == date(2031, 5, 13)


def test_sowings_follow_one_another_up_to_the_last_useful_one() -> None:
    tasks = calendar(usual(60), FROST, Successions(count=20, every_days=21))
    sowings = [task.on for task in tasks if task.kind is TaskKind.SOW]
    assert {(b - a).days for a, b in pairwise(sowings)} == {21}
    last = day(tasks, TaskKind.LAST_SOWING, None)
    assert sowings[-1] <= last < sowings[-1] + timedelta(21)


def test_south_of_the_equator_sowing_goes_on_past_the_new_year() -> None:
    south = Frost(date(2031, 9, 20), date(2032, 5, 1))
    tasks = calendar(usual(60), south, Successions(count=20, every_days=21))
    assert max(task.on for task in tasks if task.kind is TaskKind.SOW) > date(2032, 1, 1)


def test_a_safety_margin_keeps_plants_and_cutting_from_both_frosts() -> None:
    """10 days: out on 20 May and not 10 May, cut to 28 September and not 8 October."""
    careful = Frost(FROST.last_spring, FROST.first_autumn, 10)
    tasks = calendar(ZINNIA, careful)
    assert day(tasks, TaskKind.TRANSPLANT) == date(2031, 5, 20)
    assert day(tasks, TaskKind.LAST_CUT, None) == date(2031, 9, 28)
    assert task_of(tasks, TaskKind.LAST_CUT, None).risk is FrostRisk.LESS_THAN_EVEN
    plain = calendar(ZINNIA, FROST)
    earlier = day(plain, TaskKind.LAST_SOWING, None) - day(tasks, TaskKind.LAST_SOWING, None)
    assert earlier == timedelta(10)


def test_unpinched_plots_of_a_pinching_trial_bloom_when_they_do() -> None:
    """60 days from 12 April is 11 June; the pinched plots bloom a week later."""
    both = CropDays(60, 28, 42, regrowth=14, flushes=2, pinching_delays=7, some_unpinched=True)
    tasks = calendar(both, FROST)
    cuts = {task.part: task.on for task in tasks if task.kind is TaskKind.FIRST_CUT}
    assert cuts == {Part.UNPINCHED: date(2031, 6, 11), Part.PINCHED: date(2031, 6, 18)}
    late = calendar(both, FROST, happened={TaskKind.PINCH: date(2031, 5, 29)})
    moved = {task.part: task.on for task in late if task.kind is TaskKind.FIRST_CUT}
    assert moved == {Part.UNPINCHED: date(2031, 6, 11), Part.PINCHED: date(2031, 6, 23)}


def test_what_happened_moves_all_that_follows() -> None:
    plan = Successions(count=2, every_days=24)
    before = calendar(ZINNIA, FROST, plan)
    late = day(before, TaskKind.TRANSPLANT) + timedelta(9)
    after = calendar(ZINNIA, FROST, plan, happened={TaskKind.TRANSPLANT: late})
    assert task_of(after, TaskKind.TRANSPLANT).source is DateSource.HAPPENED
    assert day(after, TaskKind.SOW) == day(before, TaskKind.SOW)
    for kind in (TaskKind.NET, TaskKind.FIRST_CUT):
        assert day(after, kind) == day(before, kind) + timedelta(9)
    second = [task for task in before if task.succession == 2]
    assert [task for task in after if task.succession == 2] == second


def test_the_next_sowing_follows_the_last_one_as_it_was() -> None:
    plan = Successions(count=3, every_days=21)
    happened = {TaskKind.SOW: date(2031, 4, 20)}
    tasks = calendar(ZINNIA, FROST, plan, happened, {2: {TaskKind.SOW: date(2031, 5, 15)}})
    assert day(tasks, TaskKind.TRANSPLANT, 1) == date(2031, 5, 18)
    assert day(tasks, TaskKind.SOW, 3) == date(2031, 6, 5)


def test_a_late_pinch_delays_the_cut() -> None:
    crop = usual(60, pinched=True)
    before = calendar(crop, FROST)
    on = day(before, TaskKind.PINCH) + timedelta(5)
    after = calendar(crop, FROST, happened={TaskKind.PINCH: on})
    assert day(after, TaskKind.FIRST_CUT) == day(before, TaskKind.FIRST_CUT) + timedelta(5)
    plain = calendar(usual(60), FROST)
    assert day(before, TaskKind.FIRST_CUT) > day(plain, TaskKind.FIRST_CUT)


def test_a_second_cut_moves_the_third_and_a_first_the_second() -> None:
    tasks = calendar(
        ZINNIA,
        FROST,
        happened={TaskKind.FIRST_CUT: date(2031, 6, 20), TaskKind.NEXT_FLUSH: date(2031, 7, 6)},
    )
    assert [task.on for task in tasks if task.flush is not None] == [
        date(2031, 6, 20),
        date(2031, 7, 6),
        date(2031, 7, 20),
        date(2031, 8, 3),
    ]


def test_a_frost_that_came_ends_the_calendar() -> None:
    end = date(2031, 7, 1)
    tasks = calendar(ZINNIA, FROST, Successions(count=4, every_days=24), {TaskKind.LAST_CUT: end})
    assert max(task.on for task in tasks) == end
    last = task_of(tasks, TaskKind.LAST_CUT, None)
    assert last.source is DateSource.HAPPENED
    assert last.risk is None


def test_what_was_sown_too_late_still_counts_and_shows_its_risk() -> None:
    sown = {2: {TaskKind.SOW: date(2031, 9, 1)}}
    tasks = calendar(ZINNIA, FROST, later=sown)
    assert task_of(tasks, TaskKind.FIRST_CUT, 2).risk is FrostRisk.MORE_THAN_EVEN
    assert not [task for task in tasks if task.succession == 2 and task.kind is TaskKind.NEXT_FLUSH]


def test_an_average_frost_is_an_even_chance() -> None:
    tasks = calendar(ZINNIA, FROST)
    assert task_of(tasks, TaskKind.TRANSPLANT).risk is FrostRisk.EVEN
    assert task_of(tasks, TaskKind.LAST_CUT, None).risk is FrostRisk.EVEN
    assert task_of(tasks, TaskKind.FIRST_CUT).risk is FrostRisk.LESS_THAN_EVEN
    careful = calendar(ZINNIA, Frost(FROST.last_spring, FROST.first_autumn, 14))
    assert task_of(careful, TaskKind.TRANSPLANT).risk is FrostRisk.LESS_THAN_EVEN
    bold = calendar(ZINNIA, FROST, Successions(first_sowing=date(2031, 4, 1)))
    assert task_of(bold, TaskKind.TRANSPLANT).risk is FrostRisk.MORE_THAN_EVEN


def test_netting_is_done_with_caps_on_posts() -> None:
    assert Work.POSTS in task_of(calendar(ZINNIA, FROST), TaskKind.NET).safety


def test_a_crop_sown_in_place_is_not_transplanted() -> None:
    tasks = calendar(usual(60, transplanted=False), FROST)
    assert day(tasks, TaskKind.SOW) == FROST.last_spring
    assert task_of(tasks, TaskKind.SOW).risk is FrostRisk.EVEN
    assert TaskKind.TRANSPLANT not in {task.kind for task in tasks}


def test_dates_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="comes after"):
        Frost(date(2031, 10, 1), date(2031, 5, 1))
    with pytest.raises(ValueError, match="in that order"):
        CropDays(20, 28)
    with pytest.raises(ValueError, match="netted where it stands"):
        CropDays(60, 28, to_net=10)
    with pytest.raises(ValueError, match="at least once"):
        Successions(count=0)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 40), st.sampled_from([TaskKind.SOW, TaskKind.TRANSPLANT, TaskKind.PINCH]))
def test_no_date_comes_before_the_one_it_follows(days: int, kind: TaskKind) -> None:
    crop = usual(70, pinched=True, netted=True)
    on = day(calendar(crop, FROST), kind) + timedelta(days)
    tasks = calendar(crop, FROST, happened={kind: on})
    chain = [TaskKind.SOW, TaskKind.TRANSPLANT, TaskKind.PINCH, TaskKind.FIRST_CUT]
    dates = [day(tasks, each) for each in chain]
    assert dates == sorted(dates)
