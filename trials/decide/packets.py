"""A seed order as values: what is needed, what is bought where, and what it costs to the cent."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from trials.model.trial import SeedHouse, SeedItem

NOTHING = Decimal("0.00")


@dataclass(frozen=True, slots=True)
class Need:
    """Seeds wanted of a variety.

    ``weight`` says what one seed short of it matters beside one seed short of another, where a
    budget cannot buy all. With ``plugs`` the seeds are plants to buy.
    """

    variety: str
    seeds: int
    weight: int = 1
    plugs: bool = False

    def __post_init__(self) -> None:
        if self.seeds < 0 or self.weight < 1:
            raise ValueError(f"{self.variety}: seeds are not negative and a weight is at least 1")


@dataclass(frozen=True, slots=True)
class OrderLine:
    """Whole packs of one item at the price that holds for so many.

    ``grams_per_pack`` is None where packs are sold by number. Of ``plugs`` a pack is a tray, and
    its seeds are plants.
    """

    house: str
    item: str
    variety: str
    packs: int
    seeds_per_pack: int
    price_each: Decimal
    grams_per_pack: float | None = None
    plugs: bool = False

    @property
    def seeds(self) -> int:
        return self.packs * self.seeds_per_pack

    @property
    def cost(self) -> Decimal:
        return self.packs * self.price_each


@dataclass(frozen=True, slots=True)
class Parcel:
    """What one house sends, and what it charges to send it."""

    house: str
    lines: tuple[OrderLine, ...]
    shipping: Decimal

    @property
    def goods(self) -> Decimal:
        return sum((line.cost for line in self.lines), NOTHING)

    @property
    def total(self) -> Decimal:
        return self.goods + self.shipping


class UnfilledReason(StrEnum):
    """Why a need is not met in full."""

    NOT_LISTED = "no price list used here has it"
    NOT_AVAILABLE = "it is listed, but not available"
    OTHER_CURRENCY = "only seed houses in another currency have it"
    OVER_BUDGET = "the budget is too small"


@dataclass(frozen=True, slots=True)
class Unfilled:
    """A need that the order leaves open, in part or whole."""

    variety: str
    seeds_wanted: int
    seeds_ordered: int
    reason: UnfilledReason
    plugs: bool = False

    @property
    def seeds_short(self) -> int:
        return self.seeds_wanted - self.seeds_ordered


@dataclass(frozen=True, slots=True)
class SeedOrder:
    """The cheapest order that meets the needs, or as much of them as the budget allows.

    ``unavailable`` are the items passed over because their house has none. ``cost_in_full`` is
    what the cheapest order for all that is on offer would cost, whatever the budget. ``left_out``
    are the houses whose prices are in another currency than the order's. ``most_above_cheapest``
    is what the order can cost at most above the cheapest there is: 0 where it is proven cheapest.
    """

    parcels: tuple[Parcel, ...]
    needs: tuple[Need, ...]
    unfilled: tuple[Unfilled, ...]
    unavailable: tuple[SeedItem, ...]
    currency: str | None
    budget: Decimal | None
    cost_in_full: Decimal
    left_out: tuple[SeedHouse, ...] = ()
    most_above_cheapest: Decimal = NOTHING

    @property
    def lines(self) -> tuple[OrderLine, ...]:
        return tuple(line for parcel in self.parcels for line in parcel.lines)

    @property
    def goods(self) -> Decimal:
        return sum((parcel.goods for parcel in self.parcels), NOTHING)

    @property
    def shipping(self) -> Decimal:
        return sum((parcel.shipping for parcel in self.parcels), NOTHING)

    @property
    def total(self) -> Decimal:
        return self.goods + self.shipping

    @property
    def cost_of_the_rest(self) -> Decimal:
        """How much more the order in full would cost."""
        return self.cost_in_full - self.total

    def seeds_of(self, variety: str) -> int:
        """Seeds ordered of a variety."""
        return sum(line.seeds for line in self.lines if line.variety == variety)


def seed_prices(items: Iterable[SeedItem]) -> dict[str, float]:
    """The lowest price of one seed by variety, among the items that are available."""
    lowest: dict[str, float] = {}
    for item in items:
        if item.available:
            each = item.price / item.seeds
            lowest[item.variety] = min(each, lowest.get(item.variety, each))
    return lowest
