"""The winter plan as values: what can be grown, where, for whom, and what a plan of it earns."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
POOR_SHARE = 0.2  # a floor is for the mean of the worst fifth of the drawn seasons


@dataclass(frozen=True, slots=True, eq=False)
class Crop:
    """One variety, grown one way, in one sowing: all figures per metre of bed.

    ``stems`` (draws, grades, weeks) are the saleable stems of each drawn season, ``hours`` (weeks)
    the work but for picking, ``takes`` (weeks) where it takes up bed. ``cash`` is what is paid out
    before the first stem is sold, and part of ``cost``. ``density`` are the plants set, where the
    plants of its variety are limited.
    """

    crop: str
    variety: str
    treatment: str
    sowing: str
    colour: str
    stems: Floats
    cost: float
    cash: float
    hours: Floats
    takes: NDArray[np.bool_]
    stem_hours: float = 0.0
    density: float = 0.0

    @property
    def name(self) -> str:
        return " ".join(part for part in (self.variety, self.treatment, self.sowing) if part)


@dataclass(frozen=True, slots=True, eq=False)
class Outlet:
    """A market's wish by week: ``at_least`` and ``at_most`` stems (weeks).

    ``prices`` gives by crop what a stem of each grade brings in each week (grades, weeks), NaN
    where it is not bought; ``colours`` are those it takes, all where empty, and ``refused`` the
    varieties that it does not take. A stem that is missing from ``at_least`` costs
    ``missing_costs``.
    """

    market: str
    prices: Mapping[str, Floats]
    at_least: Floats
    at_most: Floats
    colours: frozenset[str] = frozenset()
    missing_costs: float = 0.0
    refused: frozenset[str] = frozenset()

    def price(self, crop: Crop, grade: int, week: int) -> float:
        """What a stem brings, NaN where it is not bought."""
        other = self.colours and crop.colour not in self.colours
        if crop.crop not in self.prices or other or crop.variety in self.refused:
            return float("nan")
        return float(self.prices[crop.crop][grade, week])


@dataclass(frozen=True, slots=True, eq=False)
class Bed:
    """``metres`` of bed, free in the weeks where ``free`` (weeks) says so."""

    name: str
    metres: float
    free: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Limits:
    """What the plan must keep to.

    ``floor`` is the least mean net of the worst fifth of the seasons, ``hours`` (weeks) the hours
    there are, ``largest_share`` the most of a crop's bed that one variety may take, ``wanted`` the
    least metres by variety, ``plants`` the most plants of a variety whose seed cannot be bought.
    None sets no limit.
    """

    least_metres: float = 2.0
    budget: float | None = None
    hours: Floats | None = None
    floor: float | None = None
    largest_share: float | None = None
    wanted: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    plants: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True, eq=False)
class Winter:
    """All that a winter plan is made of; weeks, grades and draws agree in every array."""

    crops: tuple[Crop, ...]
    outlets: tuple[Outlet, ...]
    beds: tuple[Bed, ...]
    limits: Limits = field(default_factory=Limits)


@dataclass(frozen=True, slots=True)
class PlanLine:
    """So many metres of one crop in one bed."""

    place: int  # of Winter.crops
    bed: str
    metres: float


@dataclass(frozen=True, slots=True, eq=False)
class WinterPlan:
    """The plan and what it earns.

    ``net`` (draws) is each drawn season's; ``gap`` the proven most by which another plan's expected
    net could be higher, as a share of it.
    """

    winter: Winter
    lines: tuple[PlanLine, ...]
    net: Floats
    gap: float

    @property
    def expected(self) -> float:
        return float(self.net.mean())

    @property
    def poor(self) -> float:
        """The mean of the worst fifth of the seasons."""
        return worst_fifth(self.net)

    @property
    def metres(self) -> Floats:
        return metres_by_crop(self.winter, self.lines)


def metres_by_crop(winter: Winter, lines: Sequence[PlanLine]) -> Floats:
    """The metres of each crop over all beds."""
    metres = np.zeros(len(winter.crops))
    for line in lines:
        metres[line.place] += line.metres
    return metres


def poor_seasons(draws: int) -> Floats:
    """The weight of each season from the worst on, so that they sum to 1 over the worst fifth."""
    weights = np.clip(POOR_SHARE * draws - np.arange(draws), 0.0, 1.0)
    return np.asarray(weights / (POOR_SHARE * draws), dtype=np.float64)


def worst_fifth(net: Floats) -> float:
    """The mean of the worst fifth (Rockafellar & Uryasev 2000, J. Risk 2:21)."""
    return float(poor_seasons(len(net)) @ np.sort(net))
