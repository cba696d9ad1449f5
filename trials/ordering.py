"""Ordering: from a choice and the beds to be sown to the cheapest seed order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from trials import decide, field
from trials.errors import TrialState, UnknownName
from trials.store import Store

STEMS_PER_PLANT = "stems_per_plant"


def order(
    store: Path,
    choice: decide.Choice,
    sowing: decide.Sowing,
    budget: float | None = None,
    stems: float | None = None,
    on_hand: Mapping[str, int] | None = None,
) -> decide.Ordering:
    """The cheapest seed order for the beds to be sown, over all seed houses of the store.

    With ``stems`` the beds are worked out of the stems wanted in all: at what each variety gives a
    plant when the season turns out poor, and as plants lived in the newest trial. ``on_hand`` are
    seeds on the shelf by lot: they are sown first, at their lot's germination. Where a variety
    cannot be had the next of the standings is named beside it, and not ordered.

    Raises
    ------
    TrialState
        Nothing is to be reordered; or what the stems would be worked out of is not known.
    """
    kept = Store.open(store)
    known = sorted(kept.varieties(choice.crop)["variety"])
    for name in sowing.varieties:
        if name not in known:
            raise UnknownName("variety", name, known)
    varieties = sowing.varieties or choice.reordered[: sowing.most]
    if not varieties:
        raise TrialState(
            f"No variety of {choice.crop} is to be reordered. Name the varieties you want."
        )
    density = sowing.plants_per_metre or field.plants_per_metre(kept, choice.trials)
    if stems is not None:
        at_least = _at_least(choice, varieties)
        sowing = decide.sowing_for_stems(
            stems, at_least, field.survival(kept, choice.trials), density, sowing
        )
    germination = {str(variety): rate for variety, rate in kept.germination().items()}
    again = [name for name in choice.tried_again if name not in varieties]
    wanted = (
        *decide.bed_needs(sowing, varieties, density, germination),
        *decide.trial_needs(sowing, again, germination),
    )
    needs = decide.less_on_hand(wanted, _on_the_shelf(kept, on_hand or {}))
    items, houses = kept.seed_items(choice.crop), kept.seed_houses()
    bought = decide.order(
        [decide.Need(need.variety, need.to_buy) for need in needs],
        items,
        houses,
        budget,
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
        decide.substitutes(bought, choice.standings),
    )


def _on_the_shelf(kept: Store, on_hand: Mapping[str, int]) -> list[decide.OnHand]:
    lots = kept.seed_lots().set_index("lot")
    for lot in on_hand:
        if lot not in lots.index:
            raise UnknownName("seed lot", lot, list(lots.index))
    return [
        decide.OnHand(lots["variety"][lot], seeds, float(lots["germination"][lot]))
        for lot, seeds in on_hand.items()
    ]


def _at_least(choice: decide.Choice, varieties: Sequence[str]) -> list[float]:
    """What each variety gives a plant in a poor season: the low end of its standing."""
    if choice.measure.key != STEMS_PER_PLANT:
        raise TrialState(
            f"These standings are by {choice.measure.label}. To order by stems, choose by stems "
            "per plant."
        )
    low = {standing.entry: standing.low for standing in choice.standings}
    for name in varieties:
        if name not in low:
            raise TrialState(
                f"No closed trial says how many stems {name} gives. Name the metres of bed."
            )
        if low[name] <= 0:
            raise TrialState(
                f"{name} may give no stem at all in a poor season. Leave it out, or name the "
                "metres of bed."
            )
    return [low[name] for name in varieties]
