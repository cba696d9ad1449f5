"""What is bought of a variety: seed, or plugs that are planted out as they come."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from trials.model.trial import SeedItem, SeedSaving, SoldAs


def bought_as_plugs(
    items: Iterable[SeedItem], named: Collection[str] = (), in_stock: Collection[str] = ()
) -> frozenset[str]:
    """The varieties to buy as plugs: those ``named``, and those of which no seed can be had.

    ``in_stock`` are the varieties with seed in stock, which is sown before plugs are bought.
    """
    there = [item for item in items if item.available]
    seed = {item.variety for item in there if item.sold_as is SoldAs.SEED} | set(in_stock)
    plugs = {item.variety for item in there if item.sold_as is SoldAs.PLUGS}
    return frozenset(plugs - seed) | frozenset(named)


def on_offer(items: Iterable[SeedItem], plugs: Collection[str]) -> tuple[SeedItem, ...]:
    """The items that may be ordered: plugs of ``plugs``, seed of the others, own seed of none."""
    wanted = {True: SoldAs.PLUGS, False: SoldAs.SEED}
    return tuple(item for item in items if item.sold_as is wanted[item.variety in plugs])


def seed_saving(items: Iterable[SeedItem]) -> dict[str, SeedSaving]:
    """What the price lists say of saving each variety's seed; of several the gravest."""
    said: dict[str, set[SeedSaving]] = {}
    for item in items:
        if item.seed_saving is not None:
            said.setdefault(item.variety, set()).add(item.seed_saving)
    gravest = (SeedSaving.PROTECTED, SeedSaving.HYBRID, SeedSaving.ALLOWED)
    return {name: next(one for one in gravest if one in words) for name, words in said.items()}


def not_sold(plugs: Sequence[str], items: Iterable[SeedItem]) -> tuple[str, ...]:
    """Those of ``plugs`` that no house sells as plugs."""
    sold = {item.variety for item in items if item.sold_as is SoldAs.PLUGS}
    return tuple(name for name in plugs if name not in sold)
