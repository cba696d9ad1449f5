"""From the metres of a winter plan to what is planted: plants, seeds or plugs, and the days."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date, timedelta

import numpy as np

from trials import decide
from trials.decide.planted import Days, Planting
from trials.decide.seeds import Raising, seeds_for_plants
from trials.decide.winter import Crop
from trials.layout.crops import CropFigures, figures_of
from trials.model.crop_facts import Fact
from trials.season.winter_candidates import Candidate

PINCHED, NETTED = "pinched", "netted"
DAYS_TO_HARDEN = 3  # between the plugs' arrival and planting out: common practice, from memory


def planting(
    each: Candidate,
    crop: Crop,
    bed: str,
    metres: float,
    rates: Mapping[str, float],
    own: Mapping[str, CropFigures],
) -> Planting:
    """One line of the plan; ``rates`` are the germination of each variety's newest seed."""
    figures = figures_of(each.wish.crop, own)
    plants = int(np.ceil(round(metres * each.density, 6)))
    first = each.out + timedelta(round(each.curve.days))
    rate = rates.get(crop.variety)
    return Planting(
        crop=crop.crop,
        variety=crop.variety,
        treatment=crop.treatment,
        colour=crop.colour,
        bed=bed,
        metres=metres,
        plants=plants,
        seeds=plants if each.plugs else seeds_for_plants(plants, raising(rate)),
        stems=float(crop.stems.mean(axis=0).sum()),
        days=_days(each, figures, first),
        curve=each.curve,
        plugs=each.plugs,
    )


def raising(rate: float | None) -> Raising:
    """What becomes of seed that germinates at ``rate``; the usual rate where none is known."""
    usual = decide.Sowing(0.0)
    germination = decide.ASSUMED_GERMINATION if rate is None else rate
    return Raising(1.0, germination, usual.usable, usual.overage)


def _days(each: Candidate, figures: CropFigures, first: date) -> Days:
    """The days of the crop's own figures, from the day on which it is planted out."""

    def after(fact: Fact, treatment: str) -> date | None:
        wanted = treatment in each.curve.treatment.split() and fact in figures
        return each.out + timedelta(round(figures[fact].low)) if wanted else None

    trays = None if each.plugs else figures.get(Fact.DAYS_IN_TRAYS)
    return Days(
        sow=None if trays is None else each.out - timedelta(round(trays.low)),
        plant_out=each.out,
        first_cut=first,
        last_cut=each.last_cut,
        pinch=after(Fact.DAYS_TO_PINCH, PINCHED),
        net=after(Fact.DAYS_TO_NET, NETTED),
        plugs_arrive=each.out - timedelta(DAYS_TO_HARDEN) if each.plugs else None,
    )


def needs(
    plantings: Sequence[Planting], rates: Mapping[str, float]
) -> tuple[decide.VarietyNeed, ...]:
    """The seeds, or plugs, of each variety over all its plantings."""
    plants, seeds = Counter[str](), Counter[str]()
    metres: dict[str, float] = {}
    plugs = {planting.variety for planting in plantings if planting.plugs}
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
            plugs=variety in plugs,
        )
        for variety in sorted(plants)
    )
