"""What the seed houses offer towards the needs of an order, checked once and in whole cents."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from trials.decide.packets import Need
from trials.errors import OrderImpossible, UnknownName
from trials.model.trial import SeedHouse, SeedItem, SoldAs


@dataclass(frozen=True, slots=True)
class Tier:
    """Every pack costs ``cents`` once at least ``least`` and at most ``most`` are bought."""

    least: int
    most: int
    cents: int


@dataclass(frozen=True, slots=True)
class Offer:
    """A packet size of a variety at a house, with its prices by quantity."""

    house: str
    item: str
    variety: str
    seeds: int
    tiers: tuple[Tier, ...]
    grams: float | None = None
    plugs: bool = False


@dataclass(frozen=True, slots=True)
class HouseTerms:
    """A house's charges, in cents; ``free_from`` None where shipping is never free."""

    name: str
    shipping: int
    free_from: int | None
    minimum: int


@dataclass(frozen=True, slots=True)
class Catalogue:
    """The offers and houses that bear on the needs, sorted, in one currency.

    ``left_out`` are the houses that have the varieties, but at prices in another currency.
    """

    offers: tuple[Offer, ...]
    houses: tuple[HouseTerms, ...]
    unavailable: tuple[SeedItem, ...]
    currency: str | None
    left_out: tuple[SeedHouse, ...] = ()


def cents(amount: float, what: str) -> int:
    """An amount of money in whole cents; refused where it is not."""
    whole = round(amount * 100)
    # What arithmetic leaves in the last digits of a number (5.8500000000000005) is no fraction.
    if abs(amount * 100 - whole) > 1e-6 or whole < 0:
        raise OrderImpossible(f"{what} is {amount}: give it in whole cents, not below 0.")
    return whole


def catalogue(
    needs: Sequence[Need],
    items: Sequence[SeedItem],
    houses: Sequence[SeedHouse],
    currency: str | None = None,
) -> Catalogue:
    """What is on offer for ``needs``, at houses of one currency.

    Prices in different currencies cannot be added up. Where ``currency`` is not given, it is that
    in which most of the varieties can be had; of several, that of most houses, then the first in
    the alphabet.

    Refused: an item of a house that is not among ``houses``, one item with two sizes or varieties
    or twice the same price break, money in fractions of a cent, and a currency of no house.
    """
    wanted = {need.variety: need.seeds for need in needs}
    bearing = [item for item in items if item.variety in wanted]
    known = {house.name: house for house in houses}
    for item in bearing:
        if item.house not in known:
            raise UnknownName("seed house", item.house, known)
    available = sorted(
        (item for item in bearing if item.available),
        key=lambda item: (item.house, item.item, item.from_packs),
    )
    there = [known[name] for name in sorted({item.house for item in available})]
    currency = _currency(available, there, known, currency)
    used = [house for house in there if house.currency == currency]
    available = [item for item in available if known[item.house].currency == currency]
    terms = {house.name: _terms(house) for house in used}
    offers = tuple(
        _offer(list(rows), terms[house], wanted)
        for (house, _), rows in groupby(available, key=lambda item: (item.house, item.item))
    )
    return Catalogue(
        offers=offers,
        houses=tuple(terms.values()),
        unavailable=tuple(item for item in bearing if not item.available),
        currency=currency,
        left_out=tuple(house for house in there if house.currency != currency),
    )


def _currency(
    available: Sequence[SeedItem],
    there: Sequence[SeedHouse],
    known: Mapping[str, SeedHouse],
    asked: str | None,
) -> str | None:
    """The currency asked for, or the one in which most can be had; None where nothing can."""
    currencies = sorted({house.currency for house in there})
    if asked is not None and asked not in currencies:
        have = ", ".join(currencies) or "none"
        raise OrderImpossible(
            f"No seed house sells these varieties in {asked}. Name a currency they are sold in: "
            f"{have}."
        )

    def reach(currency: str) -> tuple[int, int]:
        varieties = {i.variety for i in available if known[i.house].currency == currency}
        return len(varieties), sum(house.currency == currency for house in there)

    return asked if asked is not None else max(currencies, key=reach, default=None)


def _terms(house: SeedHouse) -> HouseTerms:
    free = house.free_shipping_from
    return HouseTerms(
        name=house.name,
        shipping=cents(house.shipping, f"the shipping of {house.name}"),
        free_from=None if free is None else cents(free, f"free shipping at {house.name}"),
        minimum=cents(house.minimum_order, f"the minimum order of {house.name}"),
    )


def _offer(rows: list[SeedItem], house: HouseTerms, wanted: dict[str, int]) -> Offer:
    first = rows[0]
    name = f"{first.item} at {first.house}"
    if len({(row.variety, row.seeds) for row in rows}) > 1:
        raise OrderImpossible(f"{name} is listed with different varieties or packet sizes.")
    starts = [row.from_packs for row in rows]
    if len(set(starts)) < len(starts):
        raise OrderImpossible(f"{name} has two prices from the same number of packs.")
    prices = [cents(row.price, f"the price of {name}") for row in rows]
    last = _most_packs(first.seeds, wanted[first.variety], starts[-1], prices[-1], house)
    mosts = [*(start - 1 for start in starts[1:]), last]
    tiers = tuple(Tier(*tier) for tier in zip(starts, mosts, prices, strict=True))
    plugs = first.sold_as is SoldAs.PLUGS
    return Offer(first.house, first.item, first.variety, first.seeds, tiers, first.grams, plugs)


def _most_packs(seeds: int, wanted: int, last_break: int, price: int, house: HouseTerms) -> int:
    """More packs than this never pay.

    One pack fewer would still cover the whole need alone, keep the lowest price, and reach the
    house's minimum and its free shipping alone.
    """
    threshold = max(house.minimum, house.free_from or 0)
    to_threshold = -(-threshold // price) if price else 0
    return max(-(-wanted // seeds), last_break, to_threshold)
