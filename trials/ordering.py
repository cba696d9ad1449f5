"""Ordering: from a choice and the beds to be sown to the cheapest seed order."""

from __future__ import annotations

from pathlib import Path

from trials import decide, field
from trials.errors import TrialState, UnknownName
from trials.store import Store


def order(
    store: Path,
    choice: decide.Choice,
    sowing: decide.Sowing,
    budget: float | None = None,
) -> decide.Ordering:
    """The cheapest seed order for the beds to be sown, over all seed houses of the store.

    Where a variety cannot be had the next of the standings is named beside it, and not ordered.
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
    germination = {str(variety): rate for variety, rate in kept.germination().items()}
    again = [name for name in choice.tried_again if name not in varieties]
    needs = (
        *decide.bed_needs(sowing, varieties, density, germination),
        *decide.trial_needs(sowing, again, germination),
    )
    items, houses = kept.seed_items(choice.crop), kept.seed_houses()
    bought = decide.order(
        [decide.Need(need.variety, need.seeds) for need in needs],
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
