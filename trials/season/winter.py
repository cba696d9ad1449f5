"""The winter plan: from the trials' curves and the markets' wishes to sowings and a seed order."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from trials import decide
from trials.decide.planted import WinterChoice
from trials.decide.sold import sold
from trials.decide.winter import Bed, Crop, Limits, Winter
from trials.decide.winter_programme import winter_plan
from trials.errors import TrialState
from trials.model.money import CostKind
from trials.model.winter import WinterWishes
from trials.records.plan.winter_file import wishes_of
from trials.season.ordering import houses_without, plugs_of
from trials.season.proposing import own_figures
from trials.season.stock import Tests, shelf
from trials.season.storage_loss import crops_of
from trials.season.vase_life import vase_lives
from trials.season.weeks import WEEKS, week_of, weeks_between
from trials.season.winter_candidates import (
    NOT_SOLD,
    Candidate,
    Field,
    candidates,
    frosts_of,
    require_known,
)
from trials.season.winter_markets import Traits, asked_by, outlet
from trials.season.winter_plantings import NETTED, PINCHED, needs, planting, raising
from trials.store import Store

Floats = NDArray[np.float64]
# For the cost of a candidate's seed; the order counts each lot's own germination.
_SEEDS_PER_PLANT = 1.1 / (decide.ASSUMED_GERMINATION * 0.9)


def winter(
    store: Path,
    wishes: WinterWishes,
    on_hand: Mapping[str, int] = MappingProxyType({}),
    tested: Tests = MappingProxyType({}),
    *,
    without_houses: Sequence[str] = (),
) -> WinterChoice:
    """The plan of the highest expected net for ``wishes``, and the one order of seed for it.

    Every crop's closed trials give the curves and the drawn seasons. Varieties too short to sell
    and those left out are no candidates. Seed in stock counts as in ``season.order``, and a variety
    that cannot be bought has no more plants than its stock gives. A crop with a cost of a plug is
    bought as plugs. ``without_houses`` orders nothing from these seed houses, beside those of the
    wishes.

    Raises
    ------
    UnknownName
        A crop, variety, colour, use, site, lot or seed house is not in the store.
    TrialState
        A market's stems have no price, no season of the site has a frost, a variety wanted cannot
        be had, or nothing fits.
    """
    kept = Store.open(store).remembering()
    frosts = frosts_of(kept, wishes)
    require_known(kept, wishes)
    asked = [asked_by(kept, wish) for wish in wishes.markets]
    stock = shelf(kept, wishes.season, on_hand, tested)
    houses = houses_without(kept, [*wishes.without_houses, *without_houses])
    there = {house.name for house in houses}
    listed = [item for item in kept.seed_items() if item.house in there]
    costs = {wish.crop: _costs(kept, wish.crop) for wish in wishes.sowings}
    # A crop whose plants are bought in place of seed: where no price list has them, at their cost.
    priced = {
        variety: costs[crop][CostKind.PLUG]
        for variety, crop in crops_of(kept).items()
        if CostKind.PLUG in costs.get(crop, {})
    }
    named = [name for name in wishes.plugs if name not in priced]
    plugs = plugs_of(listed, named, stock) | {*priced}
    items = decide.on_offer(listed, plugs)
    prices = priced | decide.seed_prices(items)
    in_stock = {lot.variety for lot in stock if lot.seeds and lot.counts}
    field = candidates(kept, wishes, frosts, {*prices, *in_stock}, plugs)
    grown = field.candidates
    if not grown:
        why = "; ".join(f"{variety}: {reason}" for variety, reason in field.left_out.items())
        raise TrialState(
            f"No variety of these sowings is a candidate{f' ({why})' if why else ''}. Close a "
            "trial of the crop, leave fewer varieties out, or load a seed house's price list."
        )
    paid = {lot.variety: lot.cleaning for lot in stock if lot.counts} | prices
    crops = tuple(
        _crop(each, field.grades, wishes, frosts, costs[each.wish.crop], paid) for each in grown
    )
    traits = _traits(kept, field)
    markets = [outlet(each, field.grades, crops, traits) for each in asked]
    rates = {str(variety): rate for variety, rate in kept.germination().items()}
    model = Winter(
        crops,
        tuple(found for found, _ in markets),
        tuple(Bed(b.name, b.metres, weeks_between(b.from_week, b.to_week)) for b in wishes.beds),
        Limits(
            least_metres=wishes.least_metres,
            budget=wishes.budget,
            hours=None if wishes.hours_per_week is None else np.full(WEEKS, wishes.hours_per_week),
            floor=wishes.poor_season_net,
            largest_share=wishes.largest_share,
            wanted=wishes.wanted,
            plants=_plants_of_stock(in_stock - {*prices}, stock, grown, len(wishes.beds)),
        ),
    )
    plan = winter_plan(model)
    own_days = own_figures(kept)
    plantings = tuple(
        planting(grown[line.place], crops[line.place], line.bed, line.metres, rates, own_days)
        for line in plan.lines
    )
    needed = decide.less_on_hand(needs(plantings, rates), stock)
    order = decide.order(
        [decide.Need(need.variety, need.to_buy, plugs=need.plugs) for need in needed],
        items,
        houses,
        allow_unfilled=True,
    )
    own = next((currency.name for currency in kept.currencies() if currency.own), "")
    return WinterChoice(
        wishes.season,
        model,
        plan,
        plantings,
        needed,
        order,
        tuple(field.left_out.items()),
        own,
        decide.stock_of(needed, stock),
        sold(plan),
        tuple(not_taken for _, not_taken in markets if not_taken.least is not None),
        decide.passed_over(order.unavailable, items, houses),
        _substitutes(field, {each.variety for each in plantings}, paid),
    )


def winter_of(store: Path, text: str, where: str) -> WinterChoice:
    """The plan for the wishes in a file's text; ``where`` is what a refusal calls the file."""
    return winter(store, wishes_of(text, where))


def _costs(kept: Store, crop: str) -> dict[CostKind, float]:
    return {cost.kind: cost.amount for cost in kept.costs(crop)}


def _crop(
    each: Candidate,
    grades: Sequence[int],
    wishes: WinterWishes,
    frosts: Sequence[date],
    costs: Mapping[CostKind, float],
    prices: Mapping[str, float],
) -> Crop:
    """The candidate per metre of bed and week of the year, cut until the frost of each draw."""
    curve, draws = each.curve, len(each.curve.stems)
    stems = np.zeros((draws, len(grades), WEEKS))
    first = each.out + timedelta(round(curve.days))
    frost = np.array([frosts[draw % len(frosts)].toordinal() for draw in range(draws)])
    for week in range(curve.stems.shape[1]):
        day = first + timedelta(7 * week)
        if day.year == wishes.season and week_of(day) < WEEKS:
            cut = np.clip((frost - day.toordinal()) / 7, 0.0, 1.0)
            per_metre = each.density * curve.alive * cut
            stems[:, :, week_of(day)] += per_metre[:, None] * curve.stems[:, week]
    price = prices.get(curve.variety, 0.0)
    # Plugs are raised by whoever sells them.
    seed = price if each.plugs else _SEEDS_PER_PLANT * price + costs.get(CostKind.RAISING, 0.0)
    paid = each.density * seed
    picked = float(stems.mean(axis=0).sum()) * costs.get(CostKind.PICKING, 0.0)
    hours = np.zeros(WEEKS)
    hours[week_of(each.out)] = each.wish.hours_per_metre
    return Crop(
        crop=each.wish.crop,
        variety=curve.variety,
        treatment=curve.treatment,
        sowing=f"planted {each.out.isoformat()}",
        colour=each.colour,
        stems=stems,
        cost=paid + picked + _growing(costs, each),
        cash=paid,
        hours=hours,
        takes=weeks_between(week_of(each.out) + 1, week_of(each.last_cut) + 1),
        stem_hours=0.0 if each.wish.stems_per_hour is None else 1 / each.wish.stems_per_hour,
        density=each.density,
    )


def _growing(costs: Mapping[CostKind, float], each: Candidate) -> float:
    """What bed, planting and treatment cost per metre."""
    words = each.curve.treatment.split()
    per_plant = costs.get(CostKind.PLANTING, 0.0)
    if PINCHED in words:
        per_plant += costs.get(CostKind.PINCHING, 0.0)
    per_metre = costs.get(CostKind.BED, 0.0)
    if NETTED in words:
        per_metre += costs.get(CostKind.NETTING_MATERIAL, 0.0)
        per_metre += costs.get(CostKind.NETTING_LABOUR, 0.0)
    return per_metre + each.density * per_plant


def _traits(kept: Store, field: Field) -> Traits:
    habits: dict[str, str] = {}
    lives: dict[str, decide.VaseLife] = {}
    for crop, choice in field.choices.items():
        table = kept.varieties(crop)
        habits |= {
            name: habit or "" for name, habit in zip(table["variety"], table["habit"], strict=True)
        }
        lives |= {one.variety: one for one in vase_lives(kept, choice.trials)}
    return Traits(habits, lives)


def _plants_of_stock(
    only_in_stock: Collection[str],
    stock: Sequence[decide.OnHand],
    grown: Sequence[Candidate],
    beds: int,
) -> dict[str, float]:
    """The plants that the stock of varieties gives which nobody sells.

    Plants and seeds of every planting are rounded up, so one plant less for each that may be.
    """
    most = {}
    for variety in sorted(only_in_stock):
        lots = [lot for lot in stock if lot.variety == variety and lot.counts and lot.germination]
        plants = sum(lot.seeds / _seeds_per_plant(lot.germination) for lot in lots)
        plantings = beds * sum(each.curve.variety == variety for each in grown)
        most[variety] = max(plants - plantings, 0.0)
    return most


def _seeds_per_plant(germination: float) -> float:
    raised = raising(germination)
    return (1 + raised.overage) / (germination * raised.usable)


def _substitutes(
    field: Field, planted: Collection[str], prices: Mapping[str, float]
) -> tuple[decide.Substitute, ...]:
    """What the plan grows in place of each variety to reorder that cannot be had."""
    found: list[decide.Substitute] = []
    for choice in field.choices.values():
        gone = [name for name in choice.reordered if field.left_out.get(name) == NOT_SOLD]
        grown = {name: prices.get(name, 0.0) for name in planted}
        found += decide.next_in_standings(gone, (), choice.standings, grown)
    return tuple(found)
