"""The work of a planting by date: what is expected from frost and crop, moved by what happened."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from enum import StrEnum
from types import MappingProxyType

# Common practice, for want of the farm's own figures.
NURSERY_DAYS = 28
REGROWTH_DAYS = 14
FLUSHES = 4
SUCCESSION_DAYS = 24  # every three to four weeks
LATE_JULY = (7, 25)
DAYS_TO_BLOOM: Mapping[str, tuple[int, int]] = MappingProxyType(
    {
        "zinnia": (60, 60),
        "branching sunflower": (60, 75),
        "celosia": (90, 90),
        "snapdragon": (120, 120),
        "lisianthus": (140, 150),
    }
)
# Trade judgement: the height decides, and these days only say when to look.
PINCH_AFTER_TRANSPLANTING_DAYS = 14
NET_AFTER_TRANSPLANTING_DAYS = 14
PINCHING_DELAYS_DAYS = 7


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


class Safety(StrEnum):
    """Where the work can hurt."""

    EYE_CAPS = "eye caps on posts and wire ends"
    SHARP_BLADES = "sharp blades"
    HEAT = "heat"
    LIFTING = "lifting"


class GuideKind(StrEnum):
    """What a guide figure is about."""

    WARMTH_C = "warmth for germination, °C"
    PLANT_HEIGHT_CM = "height of the plants, cm"
    NET_HEIGHT_CM = "height of the net above the soil, cm"


@dataclass(frozen=True, slots=True)
class Guide:
    """A figure that decides more than the date does."""

    kind: GuideKind
    low: float
    high: float


# Common practice: near 70 F to germinate; pinch at 8 to 10 in; net about 18 in above the soil.
GUIDES: Mapping[TaskKind, Guide] = MappingProxyType(
    {
        TaskKind.SOW: Guide(GuideKind.WARMTH_C, 21.0, 21.0),
        TaskKind.PINCH: Guide(GuideKind.PLANT_HEIGHT_CM, 20.0, 25.0),
        TaskKind.NET: Guide(GuideKind.NET_HEIGHT_CM, 45.0, 45.0),
    }
)
SAFETY: Mapping[TaskKind, tuple[Safety, ...]] = MappingProxyType(
    {
        TaskKind.TRANSPLANT: (Safety.LIFTING,),
        TaskKind.PINCH: (Safety.SHARP_BLADES,),
        TaskKind.NET: (Safety.EYE_CAPS,),
        TaskKind.FIRST_CUT: (Safety.SHARP_BLADES, Safety.HEAT, Safety.LIFTING),
        TaskKind.NEXT_FLUSH: (Safety.SHARP_BLADES, Safety.HEAT, Safety.LIFTING),
        TaskKind.LAST_CUT: (Safety.SHARP_BLADES, Safety.LIFTING),
    }
)


@dataclass(frozen=True, slots=True)
class Frost:
    """A site's average dates of the last frost in spring and the first after it."""

    last_spring: date
    first_autumn: date

    def __post_init__(self) -> None:
        if self.last_spring >= self.first_autumn:
            raise ValueError(
                f"the first frost of autumn ({self.first_autumn}) comes after the last of spring "
                f"({self.last_spring})"
            )

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

    ``to_bloom`` is to the first cut as the crop is grown: pinched, if it is pinched.
    """

    to_bloom: int
    to_transplant: int | None = NURSERY_DAYS
    to_pinch: int | None = None
    to_net: int | None = None
    regrowth: int = REGROWTH_DAYS
    flushes: int = FLUSHES

    def __post_init__(self) -> None:
        earlier = [days for days in (self.to_transplant, self.to_pinch) if days is not None]
        if sorted(earlier) != earlier or not max([0, *earlier]) < self.to_bloom:
            raise ValueError("a crop is sown, transplanted, pinched and in bloom in that order")
        if self.to_net is not None and self.to_net < (self.to_transplant or 0):
            raise ValueError("a crop is netted where it stands, after transplanting")
        if self.regrowth < 1 or self.flushes < 1:
            raise ValueError("a crop is cut at least once, and takes days to grow again")

    @classmethod
    def usual(
        cls,
        days_to_bloom: int,
        *,
        transplanted: bool = True,
        pinched: bool = False,
        netted: bool = False,
    ) -> CropDays:
        """A crop by common practice, from its days to bloom unpinched."""
        stands = NURSERY_DAYS if transplanted else None
        pinch = NURSERY_DAYS + PINCH_AFTER_TRANSPLANTING_DAYS if pinched else None
        net = NURSERY_DAYS + NET_AFTER_TRANSPLANTING_DAYS if netted else None
        delay = PINCHING_DELAYS_DAYS if pinched else 0
        return cls(days_to_bloom + delay, stands, pinch, net)


@dataclass(frozen=True, slots=True)
class Successions:
    """How a crop is sown again.

    ``first_sowing`` None sows so that the first plants go out ``days_after_frost`` the average
    last frost. ``until`` None sows to late July where that lies within the season. No succession
    is planned after the last useful sowing, which leaves ``weeks_of_cutting`` before frost.
    """

    count: int = 1
    every_days: int = SUCCESSION_DAYS
    weeks_of_cutting: int = 4
    days_after_frost: int = 0
    first_sowing: date | None = None
    until: date | None = None

    def __post_init__(self) -> None:
        if self.count < 1 or self.every_days < 1 or self.weeks_of_cutting < 0:
            raise ValueError("a crop is sown at least once, with days between its successions")


@dataclass(frozen=True, slots=True)
class Task:
    """One date of the calendar.

    ``succession`` counts from 1; None for what concerns all of them. ``flush`` counts the cuts
    from 1. ``risk`` stands where frost could undo the work, and where the date is frost's own.
    """

    kind: TaskKind
    on: date
    source: DateSource
    succession: int | None = None
    flush: int | None = None
    risk: FrostRisk | None = None
    guide: Guide | None = None
    safety: tuple[Safety, ...] = field(default=())


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
    end = happened.get(TaskKind.LAST_CUT, frost.first_autumn)
    last_sowing = frost.first_autumn - timedelta(crop.to_bloom + 7 * how.weeks_of_cutting)
    tasks = [
        _task(TaskKind.LAST_SOWING, last_sowing, _NOTHING, risk=FrostRisk.EVEN),
        _task(
            TaskKind.LAST_CUT,
            frost.first_autumn,
            happened,
            risk=None if TaskKind.LAST_CUT in happened else FrostRisk.EVEN,
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


def _sowings(
    crop: CropDays,
    frost: Frost,
    how: Successions,
    last_sowing: date,
    known: Mapping[int, Happened],
) -> Iterator[tuple[int, date, Happened]]:
    """The number, planned sowing date and known facts of each sowing; each follows the last."""
    july = date(frost.last_spring.year, *LATE_JULY)
    until = last_sowing
    if how.until is not None:
        until = min(until, how.until)
    elif frost.last_spring < july < frost.first_autumn:
        until = min(until, july)
    planned = how.first_sowing
    if planned is None:
        out = frost.last_spring + timedelta(how.days_after_frost)
        planned = out - timedelta(crop.to_transplant or 0)
    for number in range(1, max(how.count, *known) + 1):
        of_this = known.get(number, _NOTHING)
        done = bool(of_this) and number > 1
        if number == 1 or done or (number <= how.count and planned <= until):
            yield number, planned, of_this
            planned = of_this.get(TaskKind.SOW, planned) + timedelta(how.every_days)


def _one_sowing(
    crop: CropDays, frost: Frost, number: int, planned: date, happened: Happened, end: date
) -> Iterator[Task]:
    """A sowing's tasks: each date follows from the one before it, as it was or is expected."""
    sown = _task(TaskKind.SOW, planned, happened, number)
    in_place = crop.to_transplant is None
    yield _with_risk(sown, frost.risk_of_late_frost(sown.on)) if in_place else sown
    before, days = sown, 0
    if crop.to_transplant is not None:
        before = _following(TaskKind.TRANSPLANT, before, crop.to_transplant - days, happened)
        days = crop.to_transplant
        yield _with_risk(before, frost.risk_of_late_frost(before.on))
    if crop.to_net is not None:
        yield _following(TaskKind.NET, before, crop.to_net - days, happened)
    if crop.to_pinch is not None:
        before = _following(TaskKind.PINCH, before, crop.to_pinch - days, happened)
        days = crop.to_pinch
        yield before
    cut = _following(TaskKind.FIRST_CUT, before, crop.to_bloom - days, happened, flush=1)
    yield _with_risk(cut, frost.risk_of_early_frost(cut.on))
    known = happened
    for flush in range(2, crop.flushes + 1):
        cut = _following(TaskKind.NEXT_FLUSH, cut, crop.regrowth, known, flush)
        if cut.on > end:
            return
        yield _with_risk(cut, frost.risk_of_early_frost(cut.on))
        known = _NOTHING  # a recorded flush is the second; the others follow it


def _following(
    kind: TaskKind, before: Task, days: int, happened: Happened, flush: int | None = None
) -> Task:
    return _task(kind, before.on + timedelta(days), happened, before.succession, flush)


def _task(
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
        GUIDES.get(kind),
        SAFETY.get(kind, ()),
    )


def _with_risk(task: Task, risk: FrostRisk) -> Task:
    """The risk belongs to what is still to come; what happened has had its weather."""
    return task if task.source is DateSource.HAPPENED else replace(task, risk=risk)
