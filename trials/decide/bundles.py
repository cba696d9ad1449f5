"""The packs of one variety at one house that can be worth buying together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trials.decide.catalogue import Offer


@dataclass(frozen=True, slots=True)
class Bundle:
    """``packs`` of each of a house's offers of a variety, what they cost and cover of the need."""

    seeds: int
    cents: int
    packs: tuple[int, ...]


def bundles(offers: Sequence[Offer], wanted: int) -> tuple[Bundle, ...]:
    """The bundles that no cheaper bundle of the same offers covers as well, fewest seeds first.

    Seeds beyond ``wanted`` count for nothing. Found one offer after another, as a part of a bundle
    that is worth buying is itself the cheapest way to its seeds (dynamic programming).
    """
    found = [Bundle(0, 0, ())]
    for offer in offers:
        enough = -(-wanted // offer.seeds)
        choices = [(0, 0)] + [
            (packs, packs * tier.cents)
            for tier in offer.tiers
            for packs in range(tier.least, min(tier.most, max(enough, tier.least)) + 1)
        ]
        cheapest: dict[int, Bundle] = {}
        for start in found:
            for packs, cents in choices:
                seeds = min(wanted, start.seeds + packs * offer.seeds)
                known = cheapest.get(seeds)
                if known is None or start.cents + cents < known.cents:
                    cheapest[seeds] = Bundle(seeds, start.cents + cents, (*start.packs, packs))
        found = _undominated(cheapest)
    return tuple(bundle for bundle in found if bundle.seeds)


def _undominated(cheapest: dict[int, Bundle]) -> list[Bundle]:
    kept: list[Bundle] = []
    for seeds in sorted(cheapest, reverse=True):
        if not kept or cheapest[seeds].cents < kept[-1].cents:
            kept.append(cheapest[seeds])
    return kept[::-1]
