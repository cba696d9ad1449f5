"""The winter plan: from the trials' curves and the markets' wishes to sowings and a seed order."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from trials import decide
from trials.decide.planted import Days, Planting, WinterChoice
from trials.decide.seeds import Raising, seeds_for_plants
from trials.decide.sold import sold
from trials.decide.winter import Bed, Crop, Limits, Outlet, Winter
from trials.decide.winter_programme import winter_plan
from trials.errors import TrialState, UnknownName
from trials.layout.crops import CropFigures, figures_of
from trials.model.crop_facts import Fact
from trials.model.money import CostKind, MarketPrice
from trials.model.winter import MarketWish, WinterWishes
from trials.records.plan.winter_file import wishes_of
from trials.season.ordering import houses_without
from trials.season.proposing import own_figures
from trials.season.stock import Tests, shelf
from trials.season.winter_candidates import Candidate, candidates, frosts_of
from trials.store import Store

Floats = NDArray[np.float64]
WEEKS = 53
PINCHED, NETTED = "pinched", "netted"
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
    and those left out are no candidates. Seed in stock counts as in ``season.order``.
    ``without_houses`` orders nothing from these seed houses.

    Raises
    ------
    UnknownName
        A crop, variety, site, lot or seed house is not in the store.
    TrialState
        A market's stems have no price, no season of the site has a frost, or nothing fits.
    """
    kept = Store.open(store)
    frosts = frosts_of(kept, wishes)
    stock = shelf(kept, on_hand, tested)
    houses = houses_without(kept, without_houses)
    there = {house.name for house in houses}
    items = [item for item in kept.seed_items() if item.house in there]
    prices = decide.seed_prices(items)
    to_be_had = {*prices, *(lot.variety for lot in stock if lot.seeds)}
    grown, grades, left_out = candidates(store, kept, wishes, frosts, to_be_had)
    if not grown:
        why = "; ".join(f"{variety}: {reason}" for variety, reason in left_out)
        raise TrialState(
            f"No variety of these sowings is a candidate{f' ({why})' if why else ''}. Close a "
            "trial of the crop, leave fewer varieties out, or load a seed house's price list."
        )
    costs = {wish.crop: _costs(kept, wish.crop) for wish in wishes.sowings}
    crops = tuple(
        _crop(each, grades, wishes, frosts, costs[each.wish.crop], prices) for each in grown
    )
    model = Winter(
        crops,
        tuple(_outlet(kept, wish, grades, crops) for wish in wishes.markets),
        tuple(Bed(b.name, b.metres, _weeks(b.from_week, b.to_week)) for b in wishes.beds),
        Limits(
            least_metres=wishes.least_metres,
            budget=wishes.budget,
            hours=None if wishes.hours_per_week is None else np.full(WEEKS, wishes.hours_per_week),
            floor=wishes.poor_season_net,
            largest_share=wishes.largest_share,
            wanted=wishes.wanted,
        ),
    )
    plan = winter_plan(model)
    rates = {str(variety): rate for variety, rate in kept.germination().items()}
    own_days = own_figures(kept)
    plantings = tuple(
        _planting(grown[line.place], crops[line.place], line.bed, line.metres, rates, own_days)
        for line in plan.lines
    )
    needs = decide.less_on_hand(_needs(plantings, rates), stock)
    order = decide.order(
        [decide.Need(need.variety, need.to_buy) for need in needs],
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
        needs,
        order,
        tuple(left_out),
        own,
        decide.stock_of(needs, stock),
        sold(plan),
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
        if day.year == wishes.season and _week(day) < WEEKS:
            cut = np.clip((frost - day.toordinal()) / 7, 0.0, 1.0)
            per_metre = each.density * curve.alive * cut
            stems[:, :, _week(day)] += per_metre[:, None] * curve.stems[:, week]
    seed = _SEEDS_PER_PLANT * prices.get(curve.variety, 0.0)
    paid = each.density * (seed + costs.get(CostKind.RAISING, 0.0))
    picked = float(stems.mean(axis=0).sum()) * costs.get(CostKind.PICKING, 0.0)
    hours = np.zeros(WEEKS)
    hours[_week(each.out)] = each.wish.hours_per_metre
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
        takes=_weeks(_week(each.out) + 1, _week(each.last_cut) + 1),
        stem_hours=0.0 if each.wish.stems_per_hour is None else 1 / each.wish.stems_per_hour,
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


def _outlet(kept: Store, wish: MarketWish, grades: Sequence[int], crops: Sequence[Crop]) -> Outlet:
    """The market's wish with the prices of its newest list."""
    prices = {}
    for crop in wish.crops:
        listed = [price for price in kept.prices(crop) if price.market == wish.market]
        if not listed:
            raise TrialState(
                f"{wish.market} has no prices for {crop}. Load its price list, or take the crop "
                "out of its part [[market]]."
            )
        prices[crop] = _by_grade(listed, grades)
    in_season = _weeks(wish.from_week, wish.to_week)
    highest = max(float(np.nanmax(table)) for table in prices.values())
    missing = highest if wish.missing_costs is None else wish.missing_costs
    return Outlet(
        wish.market,
        prices,
        np.where(in_season, wish.at_least, 0.0),
        np.where(in_season, wish.at_most, 0.0),
        _colours(wish, crops),
        missing,
    )


def _by_grade(listed: Sequence[MarketPrice], grades: Sequence[int]) -> Floats:
    """The price of a stem (grades, weeks): that of the longest grade it reaches, NaN below all."""
    table = np.full((len(grades), WEEKS), np.nan)
    for price in sorted(listed, key=lambda price: price.grade_cm):
        for place, grade in enumerate(grades):
            if grade >= price.grade_cm:
                table[place, price.from_week - 1 : price.to_week] = price.stem_price
    return table


def _colours(wish: MarketWish, crops: Sequence[Crop]) -> frozenset[str]:
    every = sorted({crop.colour for crop in crops if crop.crop in wish.crops})
    found: set[str] = set()
    for colour in wish.colours:
        named = colour.casefold().split()
        alike = [own for own in every if set(named) <= set(own.casefold().replace(",", "").split())]
        if not alike:
            raise UnknownName("colour", colour, every)
        found |= set(alike)
    return frozenset(found)


def _planting(
    each: Candidate,
    crop: Crop,
    bed: str,
    metres: float,
    rates: Mapping[str, float],
    own: Mapping[str, CropFigures],
) -> Planting:
    figures = figures_of(each.wish.crop, own)
    plants = int(np.ceil(round(metres * each.density, 6)))
    first = each.out + timedelta(round(each.curve.days))
    return Planting(
        crop=crop.crop,
        variety=crop.variety,
        treatment=crop.treatment,
        colour=crop.colour,
        bed=bed,
        metres=metres,
        plants=plants,
        seeds=seeds_for_plants(plants, _raising(rates.get(crop.variety))),
        stems=float(crop.stems.mean(axis=0).sum()),
        days=_days(each, figures, first),
        curve=each.curve,
    )


def _days(each: Candidate, figures: CropFigures, first: date) -> Days:
    """The days of the crop's own figures, from the day on which it is planted out."""

    def after(fact: Fact, treatment: str) -> date | None:
        wanted = treatment in each.curve.treatment.split() and fact in figures
        return each.out + timedelta(round(figures[fact].low)) if wanted else None

    trays = figures.get(Fact.DAYS_IN_TRAYS)
    return Days(
        sow=None if trays is None else each.out - timedelta(round(trays.low)),
        plant_out=each.out,
        first_cut=first,
        last_cut=each.last_cut,
        pinch=after(Fact.DAYS_TO_PINCH, PINCHED),
        net=after(Fact.DAYS_TO_NET, NETTED),
    )


def _raising(rate: float | None) -> Raising:
    usual = decide.Sowing(0.0)
    germination = decide.ASSUMED_GERMINATION if rate is None else rate
    return Raising(1.0, germination, usual.usable, usual.overage)


def _needs(
    plantings: Sequence[Planting], rates: Mapping[str, float]
) -> tuple[decide.VarietyNeed, ...]:
    """The seeds of each variety over all its plantings."""
    plants, seeds = Counter[str](), Counter[str]()
    metres: dict[str, float] = {}
    for planting in plantings:
        plants[planting.variety] += planting.plants
        seeds[planting.variety] += planting.seeds
        metres[planting.variety] = metres.get(planting.variety, 0.0) + planting.metres
    return tuple(
        decide.VarietyNeed(
            variety=variety,
            bed_metres=metres[variety],
            plants_set=plants[variety],
            seeds=seeds[variety],
            germination=rates.get(variety, decide.ASSUMED_GERMINATION),
            germination_assumed=variety not in rates,
            to_buy=seeds[variety],
        )
        for variety in sorted(plants)
    )


def _week(day: date) -> int:
    """The place of a day's ISO week."""
    return day.isocalendar().week - 1


def _weeks(first: int, last: int) -> NDArray[np.bool_]:
    weeks = np.zeros(WEEKS, dtype=bool)
    weeks[first - 1 : last] = True
    return weeks
