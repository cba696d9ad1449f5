"""A plan's calendar: the days its crop takes, from the plan's own dates and what happened."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from trials.layout.assumptions import of_crop
from trials.layout.calendar import (
    DAYS_TO_BLOOM,
    FLUSHES,
    NET_AFTER_TRANSPLANTING_DAYS,
    NURSERY_DAYS,
    PINCH_AFTER_TRANSPLANTING_DAYS,
    PINCHING_DELAYS_DAYS,
    REGROWTH_DAYS,
    SUCCESSION_DAYS,
    CropDays,
    Frost,
    Happened,
    Successions,
    Task,
    TaskKind,
    calendar,
)
from trials.layout.plan import TrialPlan

PINCH = "pinch"
NETTING = "netting"


@dataclass(frozen=True, slots=True)
class Timing:
    """A plan's wishes for its calendar; None takes what is usual, or what the plan implies.

    ``pinched`` and ``netted`` None follow from whether a factor of the plan is called ``pinch`` or
    ``netting``. Without frosts of its own the plan takes its site's.
    """

    days_to_bloom: int | None = None
    days_in_trays: int | None = None
    direct_sown: bool = False
    pinched: bool | None = None
    netted: bool | None = None
    flushes: int = FLUSHES
    days_between_flushes: int = REGROWTH_DAYS
    successions: int = 1
    days_between_sowings: int = SUCCESSION_DAYS
    weeks_of_cutting: int = 4
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
    return None if last is None or first is None else Frost(last, first)


def crop_days(plan: TrialPlan, timing: Timing) -> CropDays | None:
    """The crop's days from sowing; None where its days to bloom are not known.

    Refuses (ValueError) days that are not in order.
    """
    bloom = timing.days_to_bloom
    if bloom is None:
        usual = of_crop(DAYS_TO_BLOOM, plan.crop)
        if usual is None:
            return None
        bloom = usual[0]
    factors = {factor.name for factor in plan.factors}
    pinched = PINCH in factors if timing.pinched is None else timing.pinched
    netted = NETTING in factors if timing.netted is None else timing.netted
    trays = timing.days_in_trays
    if trays is None and plan.sow_on is not None and plan.transplant_on is not None:
        trays = (plan.transplant_on - plan.sow_on).days
    trays = NURSERY_DAYS if trays is None else trays
    out = None if timing.direct_sown else trays
    stands = NURSERY_DAYS if timing.direct_sown else trays
    return CropDays(
        bloom + (PINCHING_DELAYS_DAYS if pinched else 0),
        out,
        stands + PINCH_AFTER_TRANSPLANTING_DAYS if pinched else None,
        stands + NET_AFTER_TRANSPLANTING_DAYS if netted else None,
        timing.days_between_flushes,
        timing.flushes,
    )


def planned_calendar(
    plan: TrialPlan, timing: Timing, crop: CropDays, frost: Frost, happened: Happened
) -> tuple[Task, ...]:
    """The dates of the plan's season: from its own days, else from the frost, moved by what was.

    A day of planting out that the plan fixes is kept where sowing has no day of its own.
    """
    first = plan.sow_on
    if first is None and plan.transplant_on is not None:
        first = plan.transplant_on - timedelta(crop.to_transplant or 0)
    known = dict(happened)
    how = Successions(
        timing.successions,
        timing.days_between_sowings,
        timing.weeks_of_cutting,
        first_sowing=first,
    )
    return calendar(crop, frost, how, {kind: known[kind] for kind in TaskKind if kind in known})
