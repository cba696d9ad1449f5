"""Ordering: from a choice and the beds to be sown to the cheapest seed order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from trials import decide
from trials.errors import TrialState, UnknownName
from trials.season import field, yields
from trials.store import Store

_TOO_SHORT = (
    "These varieties are too short to sell: {names}. Leave them out. To order them all the same, "
    "choose to accept short varieties."
)


def order(
    store: Path,
    choice: decide.Choice,
    sowing: decide.Sowing,
    budget: float | None = None,
    stems: float | None = None,
    on_hand: Mapping[str, int] | None = None,
    *,
    currency: str | None = None,
    prices: int | None = None,
    accept_short: bool = False,
) -> decide.Ordering:
    """The cheapest seed order for the beds to be sown, over all seed houses of the store.

    With ``stems`` the beds are worked out of the stems wanted in all: at what each variety gives a
    plant when the season turns out poor, and as plants lived in the newest trial. ``on_hand`` are
    seeds on the shelf by lot: they are sown first, at their lot's germination. Where a variety
    cannot be had the next of the standings is named beside it, and not ordered. ``currency`` is
    that of the houses to order from, by default the one in which most of the varieties can be had.
    Prices are those of each house's newest list, or of its newest up to the year ``prices``.
    ``accept_short`` orders named varieties whose stems are too short to sell.

    Raises
    ------
    UnknownName
        A variety is neither in the crop's trials nor on its list; or there is no such lot.
    TrialState
        Nothing is to be reordered; a named variety is too short to sell; or what the stems would
        be worked out of is not known.
    """
    kept = Store.open(store)
    entries = {standing.entry for standing in choice.standings}
    known = sorted({*kept.varieties(choice.crop)["variety"], *entries})
    for name in sowing.varieties:
        if name not in known:
            raise UnknownName("variety", name, known)
    varieties = sowing.varieties or choice.reordered[: sowing.most]
    if not varieties:
        raise TrialState(
            f"No variety of {choice.crop} is to be reordered. Name the varieties you want."
        )
    short = tuple(name for name in varieties if name in choice.too_short)
    if short and not accept_short:
        raise TrialState(_TOO_SHORT.format(names=", ".join(short)))
    density = sowing.plants_per_metre or field.plants_per_metre(kept, choice.trials)
    if stems is not None:
        at_least = _at_least(choice, varieties)
        alive = field.survival(kept, choice.trials)
        shares = yields.shares_of_sowings(kept, choice.trials, sowing.successions)
        sowing = decide.sowing_for_stems(stems, at_least, alive, density, sowing, shares)
    germination = {str(variety): rate for variety, rate in kept.germination().items()}
    again = [name for name in choice.grown_again if name not in varieties]
    wanted = (
        *decide.bed_needs(sowing, varieties, density, germination),
        *decide.trial_needs(sowing, again, germination),
    )
    needs = decide.less_on_hand(wanted, on_the_shelf(kept, on_hand or {}, {}))
    items = [item for item in kept.seed_items(None, prices) if item.variety in known]
    houses = kept.seed_houses()
    bought = decide.order(
        [decide.Need(need.variety, need.to_buy) for need in needs],
        items,
        houses,
        budget,
        currency=currency,
        allow_unfilled=True,
    )
    return decide.Ordering(
        choice.crop,
        choice.next_season,
        sowing,
        density,
        needs,
        bought,
        decide.passed_over(bought.unavailable, items, houses),
        decide.substitutes(bought, choice.standings, decide.seed_prices(items)),
        short,
        tuple(sorted({(item.house, item.price_year or 0) for item in items})),
    )


def price_lists(store: Path) -> tuple[tuple[int, str], ...]:
    """The years of the price lists in the store, each with a currency that it has."""
    return Store.open(store).price_lists()


Tests = Mapping[str, Sequence[tuple[int, int]]]


def germination_tests(tested: Tests) -> dict[str, decide.Germination]:
    """What each lot's replicates (germinated, seeds) say."""
    return {
        lot: decide.germination([decide.Replicate(of, n) for n, of in counts])
        for lot, counts in tested.items()
    }


def on_the_shelf(
    kept: Store, on_hand: Mapping[str, int], tests: Mapping[str, decide.Germination]
) -> list[decide.OnHand]:
    """The seed on the shelf by lot, each at its tested germination or else at its lot's own."""
    lots = kept.seed_lots().set_index("lot")
    for lot in (*on_hand, *tests):
        if lot not in lots.index:
            raise UnknownName("seed lot", lot, list(lots.index))
    own = {lot: float(lots["germination"][lot]) for lot in on_hand}
    rates = {lot: tests[lot].rate if lot in tests else own[lot] for lot in on_hand}
    return [
        decide.OnHand(lots["variety"][lot], seeds, rates[lot]) for lot, seeds in on_hand.items()
    ]


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
