"""What each trial needs next, and by when, as far as the records tell."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from statistics import median

from trials.layout.calendar import TaskKind
from trials.model.re_entry import Spray
from trials.model.trial import TrialStage

FROST_IN_SIGHT = timedelta(days=21)
USUAL_DAYS_BETWEEN_HARVESTS = 7


class StepKind(StrEnum):
    """Something to do, or to expect."""

    STAY_OUT = "stay out"
    SOW = "sow"
    PLANT = "plant"
    PINCH = "pinch"
    NET = "net"
    COUNT = "count"
    FIRST_CUT = "first cut"
    HARVEST = "harvest"
    FROST = "frost"
    CLOSE = "close"
    COMPARE = "compare"
    ORDER = "order"


@dataclass(frozen=True, slots=True)
class NextStep:
    """One thing that a trial needs.

    ``on`` is the day it is due or expected, None where it has none; ``overdue`` says that the day
    has passed. ``plots`` is how many it concerns, None meaning all; ``spray`` keeps people out.
    """

    kind: StepKind
    on: date | None = None
    overdue: bool = False
    plots: int | None = None
    spray: Spray | None = None


@dataclass(frozen=True, slots=True)
class TrialNow:
    """What the records tell of a trial, as far as its next steps rest on it.

    ``expected`` has the days of its calendar that have not happened; ``harvests`` are the days on
    which a plot was picked; ``sprays`` the re-entry times of its plots, with how many plots each
    closes.
    """

    stage: TrialStage
    uncounted: int = 0
    expected: tuple[tuple[TaskKind, date], ...] = ()
    harvests: tuple[date, ...] = ()
    sprays: tuple[tuple[Spray, int], ...] = ()
    first_frost: date | None = None
    frost_recorded: bool = False
    ends_on: date | None = None


_TASKS: Mapping[TaskKind, StepKind] = {
    TaskKind.SOW: StepKind.SOW,
    TaskKind.TRANSPLANT: StepKind.PLANT,
    TaskKind.PINCH: StepKind.PINCH,
    TaskKind.NET: StepKind.NET,
    TaskKind.FIRST_CUT: StepKind.FIRST_CUT,
}
_WAITED_FOR: Mapping[TrialStage, frozenset[TaskKind]] = {
    TrialStage.LAID_OUT: frozenset({TaskKind.SOW, TaskKind.TRANSPLANT}),
    TrialStage.PLANTED: frozenset({TaskKind.PINCH, TaskKind.NET, TaskKind.FIRST_CUT}),
    TrialStage.PICKING: frozenset(),
    TrialStage.CLOSED: frozenset(),
}


def next_steps(of: TrialNow, now: datetime) -> tuple[NextStep, ...]:
    """What a trial needs at a moment (with a time zone): closed plots first, then by day."""
    if of.stage is TrialStage.CLOSED:
        return (NextStep(StepKind.COMPARE), NextStep(StepKind.ORDER))
    today = now.astimezone().date()
    steps = [
        NextStep(StepKind.STAY_OUT, plots=plots, spray=spray)
        for spray, plots in of.sprays
        if spray.closes_at(now)
    ]
    dated = [*_expected(of, today), *_counting(of, today), *_harvest(of, today)]
    dated += _ending(of, today)
    return (*steps, *sorted(dated, key=lambda step: (step.on is None, step.on or today)))


def _expected(of: TrialNow, today: date) -> Iterable[NextStep]:
    """The first expected day of each piece of work that its stage waits for."""
    first: dict[TaskKind, date] = {}
    for kind, day in of.expected:
        if kind in _WAITED_FOR[of.stage]:
            first[kind] = min(day, first.get(kind, day))
    # Sown is not recorded: once its day has passed, planting out is what is waited for.
    if TaskKind.TRANSPLANT in first and first.get(TaskKind.SOW, today) < today:
        del first[TaskKind.SOW]
    for kind, day in first.items():
        yield NextStep(_TASKS[kind], day, overdue=day < today)
    if of.stage is TrialStage.LAID_OUT and TaskKind.TRANSPLANT not in first:
        yield NextStep(StepKind.PLANT)


def _counting(of: TrialNow, today: date) -> Iterable[NextStep]:
    """Living plants are counted when cutting starts."""
    if not of.uncounted or of.stage is TrialStage.LAID_OUT:
        return
    expected = [day for kind, day in of.expected if kind is TaskKind.FIRST_CUT and day >= today]
    # A day that was expected and has passed tells nothing: cutting starts when it does.
    due = min((*of.harvests, *expected), default=None)
    yield NextStep(StepKind.COUNT, due, due is not None and due < today, of.uncounted)


def _harvest(of: TrialNow, today: date) -> Iterable[NextStep]:
    """The next harvest comes as long after the last as harvests usually do."""
    if of.stage is not TrialStage.PICKING or not of.harvests or of.frost_recorded:
        return
    gaps = [(later - day).days for day, later in zip(of.harvests, of.harvests[1:], strict=False)]
    usual = max(1, round(median(gaps))) if gaps else USUAL_DAYS_BETWEEN_HARVESTS
    due = of.harvests[-1] + timedelta(days=usual)
    if of.ends_on is None or today <= of.ends_on:
        yield NextStep(StepKind.HARVEST, due, overdue=due < today)


def _ending(of: TrialNow, today: date) -> Iterable[NextStep]:
    """Frost in sight, and closing once frost or the season's end has come."""
    over = of.ends_on is not None and of.ends_on < today
    if of.frost_recorded or (over and of.stage is TrialStage.PICKING):
        yield NextStep(StepKind.CLOSE)
    elif of.first_frost is not None and of.first_frost - today <= FROST_IN_SIGHT:
        yield NextStep(StepKind.FROST, of.first_frost, overdue=of.first_frost < today)
