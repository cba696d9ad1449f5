"""The work of a planting by date: what is expected from frost and crop, moved by what happened."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from enum import StrEnum
from types import MappingProxyType

from trials.model.work_safety import Work


class TaskKind(StrEnum):
    """A piece of work, or something to expect."""

    SOW = "sow"
    TRANSPLANT = "transplant"
    PINCH = "pinch"
    NET = "net"
    FIRST_CUT = "first cut"
    NEXT_FLUSH = "next flush"
    LAST_SOWING = "last useful sowing"
    LAST_CUT = "last cut"


class DateSource(StrEnum):
    """How a date is known."""

    EXPECTED = "expected"
    HAPPENED = "happened"


class FrostRisk(StrEnum):
    """How a date stands to the average date of frost, which is an even chance and no promise."""

    EVEN = "even chance of frost"
    MORE_THAN_EVEN = "more than an even chance of frost"
    LESS_THAN_EVEN = "less than an even chance of frost"


class GuideKind(StrEnum):
    """What a guide figure is about."""

    WARMTH_C = "warmth for germination, °C"
    PLANT_HEIGHT_CM = "height of the plants, cm"
    LEAF_PAIRS = "pairs of leaves"
    NET_HEIGHT_CM = "height of the net above the soil, cm"


class Part(StrEnum):
    """The plots that a date is for, where a trial compares pinched with unpinched plants."""

    UNPINCHED = "unpinched plots"
    PINCHED = "pinched plots"


@dataclass(frozen=True, slots=True)
class Guide:
    """A figure that decides more than the date does."""

    kind: GuideKind
    low: float
    high: float


SAFETY: Mapping[TaskKind, tuple[Work, ...]] = MappingProxyType(
    {
        TaskKind.SOW: (Work.SEED,),
        TaskKind.TRANSPLANT: (Work.LIFTING,),
        TaskKind.PINCH: (Work.BLADES,),
        TaskKind.NET: (Work.POSTS,),
        TaskKind.FIRST_CUT: (Work.BLADES, Work.HEAT, Work.LIFTING),
        TaskKind.NEXT_FLUSH: (Work.BLADES, Work.HEAT, Work.LIFTING),
        TaskKind.LAST_CUT: (Work.BLADES, Work.LIFTING),
    }
)


@dataclass(frozen=True, slots=True)
class Frost:
    """A site's average dates of the last frost in spring and the first after it.

    ``margin_days`` is a safety margin: plants go out that long after the one date, and cutting is
    planned to end that long before the other.
    """

    last_spring: date
    first_autumn: date
    margin_days: int = 0

    def __post_init__(self) -> None:
        if self.last_spring >= self.first_autumn:
            raise ValueError(
                f"the first frost of autumn ({self.first_autumn}) comes after the last of spring "
                f"({self.last_spring})"
            )

    @property
    def plants_go_out(self) -> date:
        """The day from which tender plants are set out."""
        return self.last_spring + timedelta(self.margin_days)

    @property
    def cutting_ends(self) -> date:
        """The day by which cutting is planned to end."""
        return self.first_autumn - timedelta(self.margin_days)

    def risk_of_late_frost(self, day: date) -> FrostRisk:
        """The chance that a frost still comes after ``day`` in spring."""
        return _risk((self.last_spring - day).days)

    def risk_of_early_frost(self, day: date) -> FrostRisk:
        """The chance that a frost has come by ``day`` in autumn."""
        return _risk((day - self.first_autumn).days)


def _risk(days_beyond: int) -> FrostRisk:
    if days_beyond == 0:
        return FrostRisk.EVEN
    return FrostRisk.MORE_THAN_EVEN if days_beyond > 0 else FrostRisk.LESS_THAN_EVEN


@dataclass(frozen=True, slots=True)
class CropDays:
    """A crop's days, all counted from sowing; None for work that it does not get.

    ``to_bloom`` is to the first cut of unpinched plants; pinched ones bloom ``pinching_delays``
    days later. Where ``some_unpinched``, the trial has plots of both. ``regrowth`` None leaves
    out the cuts after the first. ``guides`` are the heights and warmth that decide.
    """

    to_bloom: int
    to_transplant: int | None
    to_pinch: int | None = None
    to_net: int | None = None
    regrowth: int | None = None
    flushes: int = 1
    pinching_delays: int = 0
    some_unpinched: bool = False
    guides: Mapping[TaskKind, Guide] = field(default_factory=lambda: MappingProxyType({}))

    def __post_init__(self) -> None:
        earlier = [days for days in (self.to_transplant, self.to_pinch) if days is not None]
        if sorted(earlier) != earlier or not max([0, *earlier]) < self.to_bloom:
            raise ValueError("a crop is sown, transplanted, pinched and in bloom in that order")
        if self.to_net is not None and self.to_net < (self.to_transplant or 0):
            raise ValueError("a crop is netted where it stands, after transplanting")
        if (self.regrowth is not None and self.regrowth < 1) or self.flushes < 1:
            raise ValueError("a crop is cut at least once, and takes days to grow again")

    @property
    def parts(self) -> tuple[tuple[Part | None, bool], ...]:
        """The plots that bloom at a time of their own, and whether they are pinched."""
        if self.to_pinch is not None and self.some_unpinched:
            return ((Part.UNPINCHED, False), (Part.PINCHED, True))
        return ((None, self.to_pinch is not None),)


@dataclass(frozen=True, slots=True)
class Successions:
    """How a crop is sown again.

    ``first_sowing`` None sows so that the first plants go out once the frost allows it. No
    succession is planned after the last useful sowing, which leaves ``weeks_of_cutting`` before
    frost.
    """

    count: int = 1
    every_days: int = 1
    weeks_of_cutting: int = 4
    first_sowing: date | None = None

    def __post_init__(self) -> None:
        if self.count < 1 or self.every_days < 1 or self.weeks_of_cutting < 0:
            raise ValueError("a crop is sown at least once, with days between its successions")


@dataclass(frozen=True, slots=True)
class Task:
    """One date of the calendar.

    ``succession`` counts from 1; None for what concerns all of them. ``flush`` counts the cuts
    from 1. ``risk`` is there where frost could undo the work, and where the date is frost's own.
    ``part`` names the plots, where not all of them.
    """

    kind: TaskKind
    on: date
    source: DateSource
    succession: int | None = None
    flush: int | None = None
    risk: FrostRisk | None = None
    guide: Guide | None = None
    safety: tuple[Work, ...] = field(default=())
    part: Part | None = None


Happened = Mapping[TaskKind, date]
_NOTHING: Happened = MappingProxyType({})
_NO_LATER: Mapping[int, Happened] = MappingProxyType({})


def calendar(
    crop: CropDays,
    frost: Frost,
    successions: Successions | None = None,
    happened: Happened = _NOTHING,
    later: Mapping[int, Happened] = _NO_LATER,
) -> tuple[Task, ...]:
    """The dates of a crop in one season, in order.

    Parameters
    ----------
    successions : None for a single sowing
    happened : what was done and when, of the first sowing; all that follows moves with it. A
        NEXT_FLUSH is the second cut. A LAST_CUT is the end of all sowings, whatever the average
        frost: nothing is expected after it
    later : the same for the second sowing, the third, ..., by its number. What was sown counts,
        even where it was not planned or was sown too late
    """
    how = successions if successions is not None else Successions()
    end = happened.get(TaskKind.LAST_CUT, frost.cutting_ends)
    last_sowing = last_useful_sowing(crop, frost, how)
    risk = frost.risk_of_early_frost(frost.cutting_ends)
    tasks = [
        _task(crop, TaskKind.LAST_SOWING, last_sowing, _NOTHING),
        _task(
            crop,
            TaskKind.LAST_CUT,
            frost.cutting_ends,
            happened,
            risk=None if TaskKind.LAST_CUT in happened else risk,
        ),
    ]
    for number, sown_on, known in _sowings(crop, frost, how, last_sowing, {1: happened, **later}):
        tasks.extend(_one_sowing(crop, frost, number, sown_on, known, end))
    if TaskKind.LAST_CUT in happened:
        tasks = [task for task in tasks if task.source is DateSource.HAPPENED or task.on <= end]
    order = list(TaskKind)
    return tuple(
        sorted(tasks, key=lambda task: (task.on, task.succession or 0, order.index(task.kind)))
    )


def last_useful_sowing(crop: CropDays, frost: Frost, how: Successions) -> date:
    """The last day on which all plots of a sowing still give the weeks of cutting wanted.

    With no weeks wanted, the first cut still comes before the day on which cutting ends.
    """
    slowest = crop.to_bloom + (crop.pinching_delays if crop.to_pinch is not None else 0)
    return frost.cutting_ends - timedelta(slowest + max(7 * how.weeks_of_cutting, 1))


def _sowings(
    crop: CropDays,
    frost: Frost,
    how: Successions,
    last_sowing: date,
    known: Mapping[int, Happened],
) -> Iterator[tuple[int, date, Happened]]:
    """The number, planned sowing date and known facts of each sowing; each follows the last."""
    planned = how.first_sowing
    if planned is None:
        planned = frost.plants_go_out - timedelta(crop.to_transplant or 0)
    for number in range(1, max(how.count, *known) + 1):
        of_this = known.get(number, _NOTHING)
        done = bool(of_this) and number > 1
        if number == 1 or done or (number <= how.count and planned <= last_sowing):
            yield number, planned, of_this
            planned = of_this.get(TaskKind.SOW, planned) + timedelta(how.every_days)


def _one_sowing(
    crop: CropDays, frost: Frost, number: int, planned: date, happened: Happened, end: date
) -> Iterator[Task]:
    """A sowing's tasks: each date follows from the one before it, as it was or is expected."""
    sown = _task(crop, TaskKind.SOW, planned, happened, number)
    in_place = crop.to_transplant is None
    yield _with_risk(sown, frost.risk_of_late_frost(sown.on)) if in_place else sown
    stands, days = sown, 0
    if crop.to_transplant is not None:
        days = crop.to_transplant
        stands = _following(crop, TaskKind.TRANSPLANT, sown, days, happened)
        yield _with_risk(stands, frost.risk_of_late_frost(stands.on))
    if crop.to_net is not None:
        yield _following(crop, TaskKind.NET, stands, crop.to_net - days, happened)
    pinch = None
    if crop.to_pinch is not None:
        pinch = _following(crop, TaskKind.PINCH, stands, crop.to_pinch - days, happened)
        yield pinch
    for kind, days_to in ((TaskKind.NET, crop.to_net), (TaskKind.PINCH, crop.to_pinch)):
        if days_to is None and kind in happened:  # not expected, but done
            yield _task(crop, kind, happened[kind], happened, number)
    known = happened
    for part, pinched in crop.parts:
        before, left = stands, crop.to_bloom - days
        if pinched and pinch is not None and crop.to_pinch is not None:
            before, left = pinch, crop.to_bloom + crop.pinching_delays - crop.to_pinch
        for cut in _cuts(crop, before, left, known, end):
            yield replace(_with_risk(cut, frost.risk_of_early_frost(cut.on)), part=part)
        known = _NOTHING  # the cuts that are recorded are those of the plots that bloom first


def _cuts(crop: CropDays, before: Task, days: int, happened: Happened, end: date) -> Iterator[Task]:
    """The first cut and those after it, as long as the season lasts."""
    cut = _following(crop, TaskKind.FIRST_CUT, before, days, happened, flush=1)
    yield cut
    known = happened
    for flush in range(2, crop.flushes + 1):
        if crop.regrowth is None:
            return
        cut = _following(crop, TaskKind.NEXT_FLUSH, cut, crop.regrowth, known, flush)
        if cut.on > end:
            return
        yield cut
        known = _NOTHING  # a recorded flush is the second; the others follow it


def _following(
    crop: CropDays,
    kind: TaskKind,
    before: Task,
    days: int,
    happened: Happened,
    flush: int | None = None,
) -> Task:
    return _task(crop, kind, before.on + timedelta(days), happened, before.succession, flush)


def _task(
    crop: CropDays,
    kind: TaskKind,
    expected: date,
    happened: Happened,
    succession: int | None = None,
    flush: int | None = None,
    risk: FrostRisk | None = None,
) -> Task:
    source = DateSource.HAPPENED if kind in happened else DateSource.EXPECTED
    return Task(
        kind,
        happened.get(kind, expected),
        source,
        succession,
        flush,
        risk,
        crop.guides.get(kind),
        SAFETY.get(kind, ()),
    )


def _with_risk(task: Task, risk: FrostRisk) -> Task:
    """The risk belongs to what is still to come; what happened has had its weather."""
    return task if task.source is DateSource.HAPPENED else replace(task, risk=risk)
