"""What a farm sells a stem for and what growing costs it, in the farm's own currency."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum


class CostKind(StrEnum):
    """What growing costs; `COST_UNITS` says per what."""

    BED = "bed"
    PLUG = "plug"
    RAISING = "raising"
    PLANTING = "planting"
    PINCHING = "pinching"
    NETTING_MATERIAL = "netting material"
    NETTING_LABOUR = "netting labour"
    PICKING = "picking"
    TALLYING = "tallying"


COST_UNITS: Mapping[CostKind, str] = {
    CostKind.BED: "metre of bed",
    CostKind.PLUG: "plant set, bought in place of seed",
    CostKind.RAISING: "plant set that is raised from seed, besides the seed",
    CostKind.PLANTING: "plant set",
    CostKind.PINCHING: "plant set",
    CostKind.NETTING_MATERIAL: "metre of bed",
    CostKind.NETTING_LABOUR: "metre of bed",
    CostKind.PICKING: "stem cut, sold or not",
    CostKind.TALLYING: "plot of a trial",
}


@dataclass(frozen=True, slots=True)
class Currency:
    """A currency, and what one unit of it is worth in the farm's own (whose rate is 1)."""

    name: str
    own: bool
    rate: float


@dataclass(frozen=True, slots=True)
class MarketPrice:
    """What a market pays for one stem in the weeks (ISO) from the first to the last given.

    It holds for stems of ``grade_cm`` and more, up to the next grade that the market prices.
    """

    year: int
    market: str
    crop: str
    grade_cm: int
    from_week: int
    to_week: int
    stem_price: float


@dataclass(frozen=True, slots=True)
class Cost:
    """What something costs in growing a crop, in the unit of its kind; ``crop`` may be every."""

    year: int
    crop: str
    kind: CostKind
    amount: float


@dataclass(frozen=True, slots=True)
class TrialGain:
    """What deciding after a planned trial is expected to earn beyond deciding now.

    ``share`` is of the measure's mean, ``earns`` and ``costs`` are money over all the beds grown
    after it; None where prices, or what tallying costs, are not known. ``best_kept`` is the chance
    that the best entry is in the first quarter of the trial.
    """

    share: float
    best_kept: float
    earns: float | None = None
    costs: float | None = None

    @property
    def pays(self) -> float | None:
        """What it earns less what it costs."""
        return None if self.earns is None or self.costs is None else self.earns - self.costs
