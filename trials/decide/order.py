"""The cheapest whole packets over several seed houses, as an integer programme solved exactly."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from decimal import Decimal

from trials.decide.catalogue import Catalogue, Offer, catalogue, cents
from trials.decide.packets import (
    NOTHING,
    Need,
    OrderLine,
    Parcel,
    SeedOrder,
    Unfilled,
    UnfilledReason,
)
from trials.decide.programme import Programme
from trials.errors import OrderImpossible
from trials.model.trial import SeedHouse, SeedItem


def order(
    needs: Sequence[Need],
    items: Sequence[SeedItem],
    houses: Sequence[SeedHouse],
    budget: float | None = None,
    *,
    currency: str | None = None,
    allow_unfilled: bool = False,
) -> SeedOrder:
    """The cheapest order that meets ``needs``, shipping included.

    Several rows of an item are its price breaks: all packs cost the price of the highest
    ``from_packs`` that is reached. A house used is paid its shipping, unless the goods from it
    reach its free shipping, and its goods reach its minimum order. Items not available are passed
    over and listed. Among orders of equal cost the one with fewer and alphabetically earlier
    items is taken, so that the same catalogue gives the same order however it is sorted.

    Where ``budget`` (shipping included) does not buy all, the seeds short, each times its need's
    weight, are as few as it allows, and then the cost as low as it can be; what was cut stands
    in ``unfilled`` and the cost of the whole in ``cost_in_full``.

    The order is in one ``currency``, by default that in which most of the varieties can be had;
    houses with prices in another are left out and listed.

    Refuses (`OrderImpossible`) varieties that nobody offers, unless ``allow_unfilled``; a currency
    of no house; fractions of a cent. An item of an unknown house is an `UnknownName`.
    """
    if len({need.variety for need in needs}) < len(needs):
        raise ValueError("a variety is needed once, with all its seeds together")
    needs = tuple(sorted(needs, key=lambda need: need.variety))
    offered = catalogue([need for need in needs if need.seeds], items, houses, currency)
    missing = _missing(needs, offered, items)
    if missing and not allow_unfilled:
        raise OrderImpossible(
            "No packet is available of "
            + "; ".join(f"{variety} ({reason})" for variety, reason in missing.items())
            + ". Leave them out, choose another variety, or order the rest without them."
        )
    limit = None if budget is None else cents(budget, "the budget")
    programme = Programme(offered, [n for n in needs if n.seeds and n.variety not in missing])
    found = programme.cheapest()
    parcels = _parcels(found.packs, offered)
    in_full = _total(parcels)
    if limit is not None and in_full > _money(limit):
        found = programme.within(limit)
        parcels = _parcels(found.packs, offered)
    return SeedOrder(
        parcels=parcels,
        needs=needs,
        unfilled=_unfilled(needs, parcels, missing),
        unavailable=offered.unavailable,
        currency=offered.currency,
        budget=None if limit is None else _money(limit),
        cost_in_full=in_full,
        left_out=offered.left_out,
        most_above_cheapest=_money(found.over_cents),
    )


def _missing(
    needs: Sequence[Need], offered: Catalogue, items: Sequence[SeedItem]
) -> dict[str, UnfilledReason]:
    """Why each variety that cannot be had at all cannot be had."""
    on_offer = {offer.variety for offer in offered.offers}
    elsewhere = {item.variety for item in items if item.available}
    listed = {item.variety for item in items}
    return {
        need.variety: UnfilledReason.OTHER_CURRENCY
        if need.variety in elsewhere
        else UnfilledReason.NOT_AVAILABLE
        if need.variety in listed
        else UnfilledReason.NOT_LISTED
        for need in needs
        if need.seeds and need.variety not in on_offer
    }


def _parcels(packs: Sequence[int], offered: Catalogue) -> tuple[Parcel, ...]:
    """What the packs come to at each house, priced from the catalogue rather than the solver."""
    parcels = []
    for house in offered.houses:
        lines = tuple(
            _line(offer, count)
            for offer, count in zip(offered.offers, packs, strict=True)
            if count and offer.house == house.name
        )
        if lines:
            goods = int(sum(line.cost for line in lines) * 100)
            free = house.free_from is not None and goods >= house.free_from
            parcels.append(Parcel(house.name, lines, _money(0 if free else house.shipping)))
    return tuple(parcels)


def _line(offer: Offer, packs: int) -> OrderLine:
    reached = [tier for tier in offer.tiers if tier.least <= packs]
    price = _money(reached[-1].cents)
    of_offer = (offer.house, offer.item, offer.variety)
    return OrderLine(*of_offer, packs, offer.seeds, price, offer.grams, offer.plugs)


def _unfilled(
    needs: Sequence[Need], parcels: Sequence[Parcel], missing: Mapping[str, UnfilledReason]
) -> tuple[Unfilled, ...]:
    bought = Counter[str]()
    for parcel in parcels:
        for line in parcel.lines:
            bought[line.variety] += line.seeds
    return tuple(
        Unfilled(
            need.variety,
            need.seeds,
            bought[need.variety],
            missing.get(need.variety, UnfilledReason.OVER_BUDGET),
            need.plugs,
        )
        for need in needs
        if bought[need.variety] < need.seeds
    )


def _total(parcels: Sequence[Parcel]) -> Decimal:
    return sum((parcel.total for parcel in parcels), NOTHING)


def _money(whole_cents: int) -> Decimal:
    return Decimal(whole_cents).scaleb(-2)
