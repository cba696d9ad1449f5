"""What a trial needs next, counted out by hand for each stage of a season."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from trials.layout.calendar import TaskKind
from trials.layout.next_steps import NextStep, StepKind, TrialNow, next_steps
from trials.model.re_entry import Spray
from trials.model.trial import TrialStage
from trials.report.next_words import step_sentence


def noon(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 12).astimezone()


def steps(of: TrialNow, day: date) -> list[tuple[StepKind, date | None, bool]]:
    return [(step.kind, step.on, step.overdue) for step in next_steps(of, noon(day))]


SOWN, OUT, CUT = date(2026, 3, 1), date(2026, 4, 20), date(2026, 7, 1)
PLANNED = (
    (TaskKind.SOW, SOWN),
    (TaskKind.SOW, SOWN + timedelta(21)),
    (TaskKind.TRANSPLANT, OUT),
    (TaskKind.FIRST_CUT, CUT),
)


def test_a_trial_that_is_laid_out_is_sown_and_then_planted() -> None:
    laid_out = TrialNow(TrialStage.LAID_OUT, uncounted=12, expected=PLANNED)
    before = [(StepKind.SOW, SOWN, False), (StepKind.PLANT, OUT, False)]
    assert steps(laid_out, date(2026, 2, 1)) == before
    assert steps(laid_out, date(2026, 3, 2)) == [(StepKind.PLANT, OUT, False)]
    assert steps(laid_out, date(2026, 4, 21)) == [(StepKind.PLANT, OUT, True)]


def test_a_trial_without_a_calendar_still_waits_to_be_planted() -> None:
    assert steps(TrialNow(TrialStage.LAID_OUT), OUT) == [(StepKind.PLANT, None, False)]


def test_plots_are_counted_by_the_first_cut() -> None:
    planted = TrialNow(TrialStage.PLANTED, uncounted=12, expected=PLANNED)
    due = [(StepKind.FIRST_CUT, CUT, False), (StepKind.COUNT, CUT, False)]
    assert sorted(steps(planted, date(2026, 5, 1))) == sorted(due)
    # Nothing says that cutting started on the day on which it was expected.
    late = [(StepKind.FIRST_CUT, CUT, True), (StepKind.COUNT, None, False)]
    assert steps(planted, date(2026, 9, 1)) == late
    picking = TrialNow(TrialStage.PICKING, uncounted=3, harvests=(CUT,))
    (count, *_) = next_steps(picking, noon(date(2026, 7, 2)))
    assert count == NextStep(StepKind.COUNT, CUT, overdue=True, plots=3)
    assert steps(TrialNow(TrialStage.PLANTED, uncounted=2), OUT) == [(StepKind.COUNT, None, False)]


@pytest.mark.parametrize(
    ("harvests", "due"),
    [
        ((date(2026, 7, 1),), date(2026, 7, 8)),  # a week, as nothing else is known
        ((date(2026, 7, 1), date(2026, 7, 4)), date(2026, 7, 7)),
        # Gaps of 3, 3 and 9 days: the usual one is 3.
        (tuple(date(2026, 7, day) for day in (1, 4, 7, 16)), date(2026, 7, 19)),
    ],
)
def test_a_harvest_is_due_as_long_after_the_last_as_harvests_usually_are(
    harvests: tuple[date, ...], due: date
) -> None:
    picking = TrialNow(TrialStage.PICKING, harvests=harvests, ends_on=date(2026, 10, 31))
    assert steps(picking, due) == [(StepKind.HARVEST, due, False)]
    assert steps(picking, due + timedelta(1)) == [(StepKind.HARVEST, due, True)]
    assert steps(picking, date(2026, 11, 1)) == [(StepKind.CLOSE, None, False)]


def test_frost_comes_into_sight_and_then_the_trial_is_ready_to_close() -> None:
    frost = date(2026, 10, 10)
    picking = TrialNow(TrialStage.PICKING, harvests=(date(2026, 9, 18),), first_frost=frost)
    assert StepKind.FROST not in [kind for kind, _, _ in steps(picking, date(2026, 9, 18))]
    assert (StepKind.FROST, frost, False) in steps(picking, date(2026, 9, 19))
    assert (StepKind.FROST, frost, True) in steps(picking, date(2026, 10, 11))
    frozen = TrialNow(TrialStage.PICKING, harvests=(CUT,), first_frost=frost, frost_recorded=True)
    assert steps(frozen, date(2026, 9, 25)) == [(StepKind.CLOSE, None, False)]


def test_a_sprayed_plot_comes_first_until_it_may_be_entered() -> None:
    day = date(2026, 7, 2)
    spray = Spray("Mildew stop", day, None, 24)  # no time of day: from the end of that day
    picking = TrialNow(TrialStage.PICKING, harvests=(CUT,), sprays=((spray, 4),))
    first, *rest = next_steps(picking, noon(day))
    assert first == NextStep(StepKind.STAY_OUT, plots=4, spray=spray)
    assert rest
    after = spray.until + timedelta(minutes=1)
    assert StepKind.STAY_OUT not in [step.kind for step in next_steps(picking, after)]
    assert "Do not enter 4 plots before 2026-07-04 00:00 local time" in step_sentence(first)


def test_a_closed_trial_is_compared_and_ordered_from() -> None:
    assert steps(TrialNow(TrialStage.CLOSED), CUT) == [
        (StepKind.COMPARE, None, False),
        (StepKind.ORDER, None, False),
    ]


@pytest.mark.parametrize("overdue", [True, False])
@pytest.mark.parametrize("kind", StepKind)
def test_every_step_is_one_sentence_with_its_day(kind: StepKind, overdue: bool) -> None:
    undated = kind in (StepKind.CLOSE, StepKind.COMPARE, StepKind.ORDER, StepKind.STAY_OUT)
    spray = Spray("X", CUT, None, 1) if kind is StepKind.STAY_OUT else None
    step = NextStep(kind, None if undated else CUT, overdue and not undated, 2, spray)
    said = step_sentence(step)
    assert said.endswith(".")
    assert undated or "2026-07-01" in said


def test_a_step_falls_on_the_day_of_this_machine_s_clock() -> None:
    late = datetime(2026, 7, 9, 0, 0, tzinfo=UTC)
    picking = TrialNow(TrialStage.PICKING, harvests=(date(2026, 7, 1),))
    (step,) = next_steps(picking, late)
    assert step.overdue is (late.astimezone().date() > date(2026, 7, 8))
