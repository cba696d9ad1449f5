"""A plan's calendar: the days its crop takes, from the plan's own dates and what happened."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from trials.layout.calendar import (
    CropDays,
    DateSource,
    Frost,
    Guide,
    GuideKind,
    Happened,
    Successions,
    Task,
    TaskKind,
    calendar,
    last_useful_sowing,
)
from trials.layout.crops import CropFigure, CropFigures
from trials.layout.plan import TrialPlan
from trials.model.crop_facts import Fact, FactSource

PINCH = "pinch"
NETTING = "netting"


@dataclass(frozen=True, slots=True)
class Timing:
    """A plan's wishes for its calendar; None takes what is known of the crop.

    The first part are the figures of ``Fact``. ``pinched`` and ``netted`` None follow from whether
    a factor of the plan is called ``pinch`` or ``netting``. Without frosts of its own the plan
    takes its site's, and ``frost_margin_days`` keeps that far from both.
    """

    days_to_bloom: int | None = None
    direct_sown: bool | None = None
    days_in_trays: int | None = None
    germination_c: float | None = None
    days_to_pinch: int | None = None
    pinch_height_cm: float | None = None
    pinch_leaf_pairs: int | None = None
    days_pinching_delays: int | None = None
    days_to_net: int | None = None
    net_height_cm: float | None = None
    days_between_flushes: int | None = None
    flushes: int | None = None
    days_between_sowings: int | None = None
    pinched: bool | None = None
    netted: bool | None = None
    successions: int = 1
    weeks_of_cutting: int = 4
    frost_margin_days: int = 0
    last_spring_frost: date | None = None
    first_autumn_frost: date | None = None
    season_starts_on: date | None = None
    season_ends_on: date | None = None


def frost_of(timing: Timing, last_spring: date | None, first_autumn: date | None) -> Frost | None:
    """The plan's own frosts where it gives them, else the site's; None where one is not known.

    Refuses (ValueError) an autumn before its spring.
    """
    last = timing.last_spring_frost or last_spring
    first = timing.first_autumn_frost or first_autumn
    if last is None or first is None:
        return None
    return Frost(last, first, timing.frost_margin_days)


def figures_for(plan: TrialPlan, timing: Timing, known: CropFigures) -> CropFigures:
    """The crop's figures, with what the plan says in the place of what is ``known``."""
    said = {fact: getattr(timing, fact.value) for fact in Fact}
    sow, out = plan.sow_on, plan.transplant_on
    if said[Fact.DAYS_IN_TRAYS] is None and sow is not None and out is not None:
        said[Fact.DAYS_IN_TRAYS] = (out - sow).days
    given = {
        fact: CropFigure(float(value), float(value), FactSource.PLAN)
        for fact, value in said.items()
        if value is not None
    }
    both = {**known, **given}
    return {fact: both[fact] for fact in Fact if fact in both}


@dataclass(frozen=True, slots=True)
class _Work:
    """What a plan does with its crop, as far as its calendar goes."""

    pinched: bool
    some_unpinched: bool
    netted: bool
    direct: bool
    several_sowings: bool


def _work(plan: TrialPlan, timing: Timing, known: CropFigures) -> _Work:
    factors = {factor.name for factor in plan.factors}
    direct = known.get(Fact.DIRECT_SOWN)
    pinched = PINCH in factors if timing.pinched is None else timing.pinched
    return _Work(
        pinched,
        pinched and PINCH in factors,
        NETTING in factors if timing.netted is None else timing.netted,
        direct is not None and bool(direct.low),
        timing.successions > 1,
    )


def without_calendar(plan: TrialPlan, timing: Timing, known: CropFigures) -> tuple[Fact, ...]:
    """The figures without which no date can be given."""
    work = _work(plan, timing, known)
    needed = [Fact.DAYS_TO_BLOOM]
    needed += [] if work.direct else [Fact.DAYS_IN_TRAYS]
    needed += [Fact.DAYS_BETWEEN_SOWINGS] if work.several_sowings else []
    return tuple(fact for fact in needed if fact not in known)


def left_out(plan: TrialPlan, timing: Timing, known: CropFigures) -> tuple[Fact, ...]:
    """The figures that are not known, so that some rows of the calendar are left out."""
    work = _work(plan, timing, known)
    wanted = [Fact.GERMINATION_C, Fact.DAYS_BETWEEN_FLUSHES, Fact.FLUSHES]
    if work.pinched:
        height = Fact.PINCH_LEAF_PAIRS if Fact.PINCH_LEAF_PAIRS in known else Fact.PINCH_HEIGHT_CM
        wanted += [Fact.DAYS_TO_PINCH, height, Fact.DAYS_PINCHING_DELAYS]
    if work.netted:
        wanted += [Fact.DAYS_TO_NET, Fact.NET_HEIGHT_CM]
    return tuple(fact for fact in wanted if fact not in known)


def crop_days(plan: TrialPlan, timing: Timing, known: CropFigures) -> CropDays | None:
    """The crop's days from sowing; None where ``without_calendar`` names figures.

    Refuses (ValueError) days that are not in order.
    """
    if without_calendar(plan, timing, known):
        return None
    work = _work(plan, timing, known)

    def days(fact: Fact) -> int | None:
        return round(known[fact].low) if fact in known else None

    bloom = days(Fact.DAYS_TO_BLOOM)
    if bloom is None:
        return None
    trays = None if work.direct else days(Fact.DAYS_IN_TRAYS)

    def after_planting(wanted: bool, fact: Fact) -> int | None:
        since = days(fact)
        return (trays or 0) + since if wanted and since is not None else None

    return CropDays(
        bloom,
        trays,
        after_planting(work.pinched, Fact.DAYS_TO_PINCH),
        after_planting(work.netted, Fact.DAYS_TO_NET),
        days(Fact.DAYS_BETWEEN_FLUSHES),
        days(Fact.FLUSHES) or 1,
        (days(Fact.DAYS_PINCHING_DELAYS) or 0) if work.pinched else 0,
        work.some_unpinched,
        dict(_guides(known)),
    )


def _guides(known: CropFigures) -> Iterator[tuple[TaskKind, Guide]]:
    """The heights and warmth of the crop; leaf pairs go before a height."""
    for kind, guide, fact in (
        (TaskKind.SOW, GuideKind.WARMTH_C, Fact.GERMINATION_C),
        (TaskKind.PINCH, GuideKind.PLANT_HEIGHT_CM, Fact.PINCH_HEIGHT_CM),
        (TaskKind.PINCH, GuideKind.LEAF_PAIRS, Fact.PINCH_LEAF_PAIRS),
        (TaskKind.NET, GuideKind.NET_HEIGHT_CM, Fact.NET_HEIGHT_CM),
    ):
        if fact in known:
            yield kind, Guide(guide, known[fact].low, known[fact].high)


@dataclass(frozen=True, slots=True)
class SeasonDates:
    """A plan's dates, and where the season is shorter than the plan.

    ``sowings`` of those ``asked`` are planned and give a cut before cutting ends. ``last_useful``
    is the last day of sowing that leaves the weeks of cutting wanted.
    """

    tasks: tuple[Task, ...]
    sowings: int
    asked: int
    last_useful: date
    first_sowing: date

    @property
    def too_short(self) -> bool:
        """Whether even the first sowing comes after the last useful one."""
        return self.last_useful < self.first_sowing


def planned_calendar(
    plan: TrialPlan,
    timing: Timing,
    crop: CropDays,
    frost: Frost,
    happened: Happened,
    every_days: int = 1,
) -> SeasonDates:
    """The dates of the plan's season: from its own days, else from the frost, moved by what was.

    A day of planting out that the plan fixes is kept where sowing has no day of its own.
    ``every_days`` lie between two sowings. The last useful sowing is left out where the season is
    too short for it, and so is a first cut expected on the day cutting ends or later.
    """
    first = plan.sow_on
    if first is None and plan.transplant_on is not None:
        first = plan.transplant_on - timedelta(crop.to_transplant or 0)
    how = Successions(timing.successions, every_days, timing.weeks_of_cutting, first_sowing=first)
    known = {kind: happened[kind] for kind in TaskKind if kind in happened}
    tasks = calendar(crop, frost, how, known)
    sown = [task.on for task in tasks if task.kind is TaskKind.SOW]
    last = last_useful_sowing(crop, frost, how)
    timely, late = _first_cuts(tasks)
    without_cut = {cut.succession for cut in late} - {cut.succession for cut in timely}
    found = SeasonDates(
        tuple(task for task in tasks if task not in late),
        len(sown) - len(without_cut),
        timing.successions,
        last,
        min(sown, default=last),
    )
    if not found.too_short:
        return found
    kept = tuple(task for task in found.tasks if task.kind is not TaskKind.LAST_SOWING)
    return replace(found, tasks=kept)


def _first_cuts(tasks: tuple[Task, ...]) -> tuple[list[Task], list[Task]]:
    """The first cuts that come before cutting ends or were made, and those expected too late."""
    ends = next(task.on for task in tasks if task.kind is TaskKind.LAST_CUT)
    cuts = [task for task in tasks if task.kind is TaskKind.FIRST_CUT]
    late = [cut for cut in cuts if cut.source is DateSource.EXPECTED and cut.on >= ends]
    return [cut for cut in cuts if cut not in late], late
