"""What to turn to where seed cannot be had: another packet of the variety, or another variety.

Nothing here is ordered: the grower is told, and names what to order.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from trials.decide.packets import SeedOrder, UnfilledReason
from trials.decide.rules import Advice
from trials.decide.standings import Standing
from trials.model.trial import SeedHouse, SeedItem, SoldAs


@dataclass(frozen=True, slots=True)
class Packet:
    """An item at the price of its smallest number of packs, in its house's currency."""

    house: str
    item: str
    variety: str
    seeds: int
    price: float
    currency: str
    sold_as: SoldAs = SoldAs.SEED

    @property
    def price_of_100(self) -> float:
        return 100 * self.price / self.seeds


@dataclass(frozen=True, slots=True)
class PassedOver:
    """A packet that its house no longer has, and the cheapest seed of that variety elsewhere.

    ``instead`` is None where no packet of the variety is to be had.
    """

    gone: Packet
    instead: Packet | None


@dataclass(frozen=True, slots=True)
class Substitute:
    """The variety to turn to for one that cannot be had.

    ``tied`` says that both are among those tied with the best; ``seed_price`` is that of one seed,
    or of one plant where it can be had as ``plugs`` only.
    ``instead`` and ``seed_price`` are None where no candidate is left that can be had.
    """

    missing: str
    instead: str | None
    tied: bool
    seed_price: float | None
    plugs: bool = False


def passed_over(
    unavailable: Iterable[SeedItem], items: Iterable[SeedItem], houses: Sequence[SeedHouse]
) -> tuple[PassedOver, ...]:
    """Each item that is not available, beside what the same variety costs elsewhere.

    The cheapest seed is looked for in the same currency first.
    """
    currency = {house.name: house.currency for house in houses}
    there = _packets((item for item in items if item.available), currency)

    def cheapest(gone: Packet) -> Packet | None:
        alike = [
            packet
            for packet in there
            if (packet.variety, packet.sold_as) == (gone.variety, gone.sold_as)
        ]
        return min(
            alike,
            key=lambda it: (it.currency != gone.currency, it.price_of_100, it.house, it.item),
            default=None,
        )

    return tuple(PassedOver(gone, cheapest(gone)) for gone in _packets(unavailable, currency))


def _packets(items: Iterable[SeedItem], currency: dict[str, str]) -> list[Packet]:
    """One packet for the price breaks of each item."""
    first: dict[tuple[str, str], SeedItem] = {}
    for item in sorted(items, key=lambda it: (it.variety, it.house, it.item, it.from_packs)):
        first.setdefault((item.house, item.item), item)
    return [
        Packet(it.house, it.item, it.variety, it.seeds, it.price, currency[it.house], it.sold_as)
        for it in first.values()
    ]


def substitutes(
    order: SeedOrder,
    standings: Sequence[Standing],
    seed_prices: Mapping[str, float],
    plugs: Collection[str] = (),
) -> tuple[Substitute, ...]:
    """The next in the standings for each variety of the order whose seed cannot be had at all.

    ``seed_prices`` are those of one seed, of the varieties that can be had; of ``plugs`` those of
    one plant. One that is dropped, cannot be had or is in the order already stands in for nothing,
    and each stands in once.
    """
    gaps = [gap for gap in order.unfilled if gap.reason is not UnfilledReason.OVER_BUDGET]
    taken = {need.variety for need in order.needs}
    return next_in_standings([gap.variety for gap in gaps], taken, standings, seed_prices, plugs)


def next_in_standings(
    gone: Iterable[str],
    taken: Collection[str],
    standings: Sequence[Standing],
    seed_prices: Mapping[str, float],
    plugs: Collection[str] = (),
) -> tuple[Substitute, ...]:
    """The next in the standings for each variety that is ``gone``, none of those ``taken``."""
    of = {standing.entry: standing for standing in standings}
    taken = set(taken)
    found = []
    for variety in gone:
        free = [
            standing
            for standing in standings
            if standing.entry not in taken
            and standing.verdict is not Advice.DROP
            and standing.entry in seed_prices
        ]
        if not free:
            found.append(Substitute(variety, None, False, None))
            continue
        instead, missing = free[0], of.get(variety)
        taken.add(instead.entry)
        tied = missing is not None and missing.tied_with_best and instead.tied_with_best
        price = seed_prices[instead.entry]
        found.append(Substitute(variety, instead.entry, tied, price, instead.entry in plugs))
    return tuple(found)
