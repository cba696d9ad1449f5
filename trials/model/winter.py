"""What a grower asks of a winter plan: beds with free weeks, sowings, markets and limits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from types import MappingProxyType

DRAWS = 200


@dataclass(frozen=True, slots=True)
class FreeBed:
    """Bed that is free from the first to the last of its weeks (ISO)."""

    name: str
    metres: float
    from_week: int
    to_week: int


@dataclass(frozen=True, slots=True)
class SowingWish:
    """The days on which a crop may be planted out, each a sowing of its own.

    ``plants_per_metre`` None takes the newest trial's. ``hours_per_metre`` is the work until the
    first cut; ``stems_per_hour`` how many stems a picker cuts, None where picking takes no hours.
    """

    crop: str
    plant_out: tuple[date, ...]
    plants_per_metre: float | None = None
    hours_per_metre: float = 0.0
    stems_per_hour: float | None = None


@dataclass(frozen=True, slots=True)
class MarketWish:
    """Stems a week that a market wants of crops and colours, from the first to the last week.

    A colour is wanted where it is a word of the variety's own; none named wants all. ``uses`` are
    words of the variety's habit, likewise. Stems that last fewer days in the vase than
    ``least_vase_life``, or whose vase life no test shows, are not taken. Stems missing from
    ``at_least`` cost ``missing_costs`` each; None means the highest price of the stems.
    """

    market: str
    crops: tuple[str, ...]
    from_week: int
    to_week: int
    at_most: float
    at_least: float = 0.0
    colours: tuple[str, ...] = ()
    missing_costs: float | None = None
    uses: tuple[str, ...] = ()
    least_vase_life: float | None = None


@dataclass(frozen=True, slots=True)
class WinterWishes:
    """All that a file of wishes says.

    ``poor_season_net`` is the least mean net of the worst fifth of the seasons; ``wanted`` the
    least metres by variety. ``plugs`` are varieties to buy as young plants; nothing is ordered from
    ``without_houses``.
    """

    season: int
    site: str
    beds: tuple[FreeBed, ...]
    sowings: tuple[SowingWish, ...]
    markets: tuple[MarketWish, ...]
    least_metres: float = 2.0
    budget: float | None = None
    hours_per_week: float | None = None
    poor_season_net: float | None = None
    largest_share: float | None = None
    leave_out: tuple[str, ...] = ()
    wanted: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    draws: int = DRAWS
    plugs: tuple[str, ...] = ()
    without_houses: tuple[str, ...] = ()
