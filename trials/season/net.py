"""What plots earn and cost: the measures in money, and what is lacking to know them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from trials import decide
from trials.model.money import CostKind
from trials.model.trial import Measure, Trial

if TYPE_CHECKING:
    import pandas as pd

    from trials.store import Store

MONEY = "money"  # in the units of measures, where a farm's currency is not known
GROSS, NET, SEED = "gross_per_metre", "net_per_metre", "seed_per_metre"
PREMIUM = "premium_per_metre"  # the part of the gross above the price of the shortest grade
ALWAYS = (CostKind.BED, CostKind.PLANTING, CostKind.PICKING)
OF_TREATMENT = {
    "pinched": (CostKind.PINCHING,),
    "netted": (CostKind.NETTING_MATERIAL, CostKind.NETTING_LABOUR),
}


def in_currency(measure: Measure, kept: Store) -> Measure:
    """A measure in money with the farm's currency in its unit."""
    return paid_in(measure, own_currency(kept))


def paid_in(measure: Measure, currency: str) -> Measure:
    """A measure in money with a currency in its unit; any other as it is."""
    return replace(measure, unit=measure.unit.replace(MONEY, currency))


def own_currency(kept: Store) -> str:
    """The farm's own currency: as it says, else the one in which all its seed houses sell."""
    for currency in kept.currencies():
        if currency.own:
            return currency.name
    houses = {house.currency for house in kept.seed_houses()}
    return houses.pop() if len(houses) == 1 else MONEY


def lacking(
    kept: Store, trials: Sequence[Trial], plots: Mapping[str, pd.DataFrame]
) -> tuple[str, ...]:
    """What the records lack to give the plots of a crop's trials a net, each with its remedy."""
    said = []
    crop = trials[0].crop
    if not kept.prices(crop):
        said.append(f"No stem of {crop} has a price: add prices to prices.csv.")
    held = {cost.kind for cost in kept.costs(crop)}
    given = {str(level) for t in trials for factor in t.factors for level in factor.levels}
    given |= {str(kind) for trial in trials for kind in kept.events(trial.code)["kind"]}
    wanted = [*ALWAYS, *(k for what, kinds in OF_TREATMENT.items() if what in given for k in kinds)]
    missing = [kind.value for kind in wanted if kind not in held]
    if missing:
        said.append(f"These have no cost: {', '.join(missing)}. Add them to costs.csv.")
    picked = {code: frame[frame["marketable_stems"].notna()] for code, frame in plots.items()}
    gaps = [code for code, frame in picked.items() if frame[GROSS].isna().any()]
    if gaps and kept.prices(crop):
        said.append(
            f"Some stems of {', '.join(gaps)} have no price in the week or grade they were cut: "
            "give prices for every saleable grade and every week of cutting."
        )
    unpriced = {
        str(name)
        for frame in picked.values()
        if "variety" in frame
        for name in frame["variety"][frame[SEED].isna()]
    }
    if unpriced:
        said.append(
            f"The seed of {', '.join(sorted(unpriced))} is on no price list in a currency with a "
            "rate: add it to seed_items.csv and currencies.csv, or add plugs to costs.csv."
        )
    return tuple(said)


def before_seed(plots: pd.DataFrame) -> pd.DataFrame:
    """The plots with what seed cost added back to the net, as seed has a price and no error."""
    return plots.assign(**{NET: plots[NET] + plots[SEED]})


def with_prices(plots: pd.DataFrame, price: float, more_per_metre: float) -> pd.DataFrame:
    """The plots if each stem brought ``price`` times as much and a metre cost so much more."""
    gross = plots[GROSS]
    return plots.assign(
        **{GROSS: price * gross, NET: plots[NET] + (price - 1.0) * gross - more_per_metre}
    )


def seed_costs(newest: Sequence[pd.DataFrame]) -> dict[str, float]:
    """What each variety's seed costs a metre, below 0, in the newest of the trials it was in."""
    found: dict[str, float] = {}
    for plots in newest:
        of_plots = plots[["variety", SEED]].dropna().groupby("variety")[SEED].mean()
        found |= {str(variety): -float(cost) for variety, cost in of_plots.items()}
    return found


def trial_cost(kept: Store, crop: str, plots: pd.DataFrame) -> decide.TrialCost:
    """What another trial like the newest costs for each entry."""
    held = {cost.kind: cost.amount for cost in kept.costs(crop)}
    per_entry = plots.groupby("variety").size()
    return decide.TrialCost(
        plots=float(per_entry.median()),
        plot_metres=float(plots["net_length_m"].median()),
        tallying=held.get(CostKind.TALLYING, 0.0),
        packets={} if CostKind.PLUG in held else kept.packet_prices(),
    )
