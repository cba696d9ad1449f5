"""Ordering: from choices and the beds to be sown to the cheapest seed order."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType

from trials import decide
from trials.errors import Remedy, TrialState, UnknownName, Verb, quoted
from trials.model.trial import SeedHouse, SeedItem
from trials.season import field as ground
from trials.season import yields
from trials.season.stock import Tests, next_season, shelf
from trials.store import Store


@dataclass(frozen=True, slots=True)
class CropPlan:
    """What is to be sown of one crop; with ``stems`` its beds are worked out of them.

    Stems are those wanted in all: at what each variety gives a plant when the season turns out
    poor, and as plants lived in the newest trial.
    """

    choice: decide.Choice
    sowing: decide.Sowing
    stems: float | None = None


@dataclass(frozen=True, slots=True)
class Buying:
    """How seed is bought.

    Seed in stock is sown first, at its lot's germination: by the store's newest counts and tests,
    or by ``on_hand`` (seeds by lot) and ``tested`` (replicates by lot) in their place.
    ``currency`` is that of the houses to order from, by default the one in which most of the
    varieties can be had. Prices are those of each house's newest list, or of its newest up to the
    year ``prices``. Nothing is ordered from ``without_houses``. ``accept_short`` orders named
    varieties whose stems are too short to sell. Of ``plugs`` and of varieties without any seed
    young plants are bought, the number that is planted out.
    """

    budget: float | None = None
    on_hand: Mapping[str, int] = field(default_factory=dict)
    tested: Tests = field(default_factory=dict)
    currency: str | None = None
    prices: int | None = None
    without_houses: tuple[str, ...] = ()
    accept_short: bool = False
    plugs: tuple[str, ...] = ()


def order(
    store: Path,
    choice: decide.Choice,
    sowing: decide.Sowing,
    budget: float | None = None,
    stems: float | None = None,
    on_hand: Mapping[str, int] = MappingProxyType({}),
    tested: Tests = MappingProxyType({}),
    *,
    currency: str | None = None,
    prices: int | None = None,
    accept_short: bool = False,
) -> decide.Ordering:
    """The cheapest seed order for one crop's beds; see ``order_together`` and ``Buying``."""
    how = Buying(budget, on_hand, tested, currency, prices, accept_short=accept_short)
    return order_together(store, [CropPlan(choice, sowing, stems)], how).crops[0]


def order_together(
    store: Path, plans: Sequence[CropPlan], how: Buying | None = None
) -> decide.JointOrdering:
    """The cheapest seed order for the beds of several crops, over all seed houses of the store.

    Shipping, minimum orders and free shipping are met by all crops together, so one order costs at
    most what the crops cost one by one. Where a variety cannot be had the next of its crop's
    standings is named beside it, and not ordered.

    Raises
    ------
    UnknownName
        A variety is neither in the crop's trials nor on its list; or there is no such lot or seed
        house.
    TrialState
        Nothing is to be reordered; a named variety is too short to sell; nobody sells plugs of a
        variety of ``how.plugs``; or what the stems would be worked out of is not known.
    """
    how = how or Buying()
    kept = Store.open(store).remembering()
    season = max((plan.choice.next_season for plan in plans), default=next_season(kept))
    stock = shelf(kept, season, how.on_hand, how.tested)
    houses = houses_without(kept, how.without_houses)
    there = {house.name for house in houses}
    listed = [item for item in kept.seed_items(None, how.prices) if item.house in there]
    plugs = plugs_of(listed, how.plugs, stock)
    crops = [_wanted(kept, plan, stock, plugs, accept_short=how.accept_short) for plan in plans]
    known = frozenset[str]().union(*(crop.known for crop in crops))
    items = [item for item in decide.on_offer(listed, plugs) if item.variety in known]

    def bought(needs: Sequence[decide.VarietyNeed], budget: float | None) -> decide.SeedOrder:
        return decide.order(
            [decide.Need(need.variety, need.to_buy, plugs=need.plugs) for need in needs],
            items,
            houses,
            budget,
            currency=how.currency,
            allow_unfilled=True,
        )

    together = bought([need for crop in crops for need in crop.needs], how.budget)
    alone = [bought(crop.needs, None) for crop in crops] if len(crops) > 1 else []
    return decide.JointOrdering(
        tuple(_ordering(crop, together, items, houses, stock, plugs) for crop in crops),
        together,
        decide.cost_apart(together, alone),
    )


@dataclass(frozen=True, slots=True)
class _Wanted:
    """A crop's seeds, all varieties that it has, and those of the order too short to sell."""

    plan: CropPlan
    sowing: decide.Sowing
    density: float
    needs: tuple[decide.VarietyNeed, ...]
    known: frozenset[str]
    short: tuple[str, ...]


def _wanted(
    kept: Store,
    plan: CropPlan,
    stock: Sequence[decide.OnHand],
    plugs: Collection[str],
    *,
    accept_short: bool,
) -> _Wanted:
    choice, sowing = plan.choice, plan.sowing
    known = _varieties(kept, choice)
    for name in sowing.varieties:
        if name not in known:
            raise UnknownName("variety", name, sorted(known))
    varieties = sowing.varieties or choice.reordered[: sowing.most]
    if not varieties:
        raise TrialState(
            f"No variety of {choice.crop} is to be reordered. Name the varieties you want."
        )
    short = tuple(name for name in varieties if name in choice.too_short)
    if short and not accept_short:
        raise TrialState(
            f"These varieties are too short to sell: {', '.join(short)}. Leave them out.",
            Remedy(
                "To order them all the same, accept short varieties",
                Verb.ORDER,
                quoted(plan.choice.crop, "--accept-short"),
            ),
        )
    density = sowing.plants_per_metre or ground.plants_per_metre(kept, choice.trials)
    if plan.stems is not None:
        at_least = _at_least(choice, varieties)
        alive = ground.survival(kept, choice.trials)
        shares = yields.shares_of_sowings(kept, choice.trials, sowing.successions)
        sowing = decide.sowing_for_stems(plan.stems, at_least, alive, density, sowing, shares)
    germination = {str(variety): rate for variety, rate in kept.germination().items()}
    again = [name for name in choice.grown_again if name not in varieties]
    needs = (
        *decide.bed_needs(sowing, varieties, density, germination, plugs),
        *decide.trial_needs(sowing, again, germination, plugs),
    )
    left = decide.less_on_hand(needs, stock)
    return _Wanted(plan, sowing, density, left, known, short)


def _ordering(
    crop: _Wanted,
    bought: decide.SeedOrder,
    items: Sequence[SeedItem],
    houses: Sequence[SeedHouse],
    stock: Sequence[decide.OnHand],
    plugs: Collection[str],
) -> decide.Ordering:
    """What of the order is one crop's."""
    choice = crop.plan.choice
    own = [item for item in items if item.variety in crop.known]
    gone = [item for item in bought.unavailable if item.variety in crop.known]
    missing = tuple(gap for gap in bought.unfilled if gap.variety in crop.known)
    return decide.Ordering(
        choice.crop,
        choice.next_season,
        crop.sowing,
        crop.density,
        crop.needs,
        bought,
        decide.passed_over(gone, own, houses),
        decide.substitutes(
            replace(bought, unfilled=missing), choice.standings, decide.seed_prices(own), plugs
        ),
        crop.short,
        tuple(sorted({(item.house, item.price_year or 0) for item in items})),
        decide.stock_of(crop.needs, stock),
    )


def plugs_of(
    items: Sequence[SeedItem], named: Sequence[str], stock: Sequence[decide.OnHand]
) -> frozenset[str]:
    """The varieties to buy as plugs: those named, and those of which no seed can be had.

    Raises
    ------
    TrialState
        No house sells plugs of one that is named.
    """
    for name in decide.not_sold(named, items):
        raise TrialState(
            f"No seed house that you order from sells plugs of {name}. Leave it out of the plugs, "
            "or load a price list with them (sold_as is plugs)."
        )
    return decide.bought_as_plugs(
        items, named, {lot.variety for lot in stock if lot.counts and lot.seeds}
    )


def houses_without(kept: Store, without: Sequence[str]) -> tuple[SeedHouse, ...]:
    """The seed houses to order from.

    Raises
    ------
    UnknownName
        One of ``without`` is no seed house of the store.
    """
    houses = kept.seed_houses()
    for name in without:
        if name not in {house.name for house in houses}:
            raise UnknownName("seed house", name, [house.name for house in houses])
    return tuple(house for house in houses if house.name not in without)


def by_crop(
    store: Path, choices: Sequence[decide.Choice], varieties: Sequence[str]
) -> dict[str, tuple[str, ...]]:
    """The named varieties by the crop whose list, or whose trials, have them.

    Raises
    ------
    UnknownName
        A variety is of none of the crops.
    """
    kept = Store.open(store)
    known = {choice.crop: _varieties(kept, choice) for choice in choices}
    every = frozenset[str]().union(*known.values())
    for name in varieties:
        if name not in every:
            raise UnknownName("variety", name, sorted(every))
    return {crop: tuple(name for name in varieties if name in own) for crop, own in known.items()}


def _varieties(kept: Store, choice: decide.Choice) -> frozenset[str]:
    entries = {standing.entry for standing in choice.standings}
    return frozenset({*kept.varieties(choice.crop)["variety"], *entries})


def price_lists(store: Path) -> tuple[tuple[int, str], ...]:
    """The years of the price lists in the store, each with a currency that it has."""
    return Store.open(store).price_lists()


def _at_least(choice: decide.Choice, varieties: Sequence[str]) -> list[float]:
    """What each variety gives a plant in a poor season: the low end of its prediction."""
    low = choice.stems_in_a_poor_season
    for name in varieties:
        if name not in low:
            raise TrialState(
                f"No closed trial shows how many stems {name} yields. Give the metres of bed."
            )
        if low[name] <= 0:
            raise TrialState(
                f"{name} may yield no stems in a poor season. Leave it out, or give the metres of "
                "bed."
            )
    return [low[name] for name in varieties]
