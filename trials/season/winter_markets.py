"""What the markets of a winter plan take: prices by grade and week, and the varieties refused."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trials import decide
from trials.decide.planted import NotTaken
from trials.decide.winter import Crop, Outlet
from trials.errors import TrialState, UnknownName
from trials.model.money import MarketPrice
from trials.model.winter import MarketWish
from trials.season.weeks import WEEKS, weeks_between
from trials.store import Store

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Traits:
    """What is known of the varieties that may be grown: habits, and vase life where tested."""

    habits: Mapping[str, str]
    vase_life: Mapping[str, decide.VaseLife]


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """One market's wish as the store knows it: its newest prices by crop, colours and uses."""

    wish: MarketWish
    prices: Mapping[str, Sequence[MarketPrice]]
    colours: frozenset[str]
    uses: frozenset[str]


def asked_by(kept: Store, wish: MarketWish) -> Asked:
    """What the store knows of a market's wish.

    Raises
    ------
    TrialState
        The market has no prices for one of the crops.
    UnknownName
        No variety has a colour or use that it asks for.
    """
    prices = {}
    for crop in wish.crops:
        prices[crop] = [price for price in kept.prices(crop) if price.market == wish.market]
        if not prices[crop]:
            raise TrialState(
                f"{wish.market} has no prices for {crop}. Load its price list, or take the crop "
                "out of its part [[market]]."
            )
    colours = _alike("colour", wish.colours, _told(kept, wish, "colour"))
    uses = _alike("use", wish.uses, _told(kept, wish, "habit"))
    return Asked(wish, prices, colours, uses)


def outlet(
    asked: Asked, grades: Sequence[int], crops: Sequence[Crop], traits: Traits
) -> tuple[Outlet, NotTaken]:
    """What the market takes of these crops, and the varieties it does not take."""
    wish, uses = asked.wish, asked.uses
    prices = {crop: _by_grade(listed, grades) for crop, listed in asked.prices.items()}
    in_season = weeks_between(wish.from_week, wish.to_week)
    highest = max(float(np.nanmax(table)) for table in prices.values())
    missing = highest if wish.missing_costs is None else wish.missing_costs
    here = [crop for crop in crops if crop.crop in wish.crops]
    not_taken = _not_taken(wish, here, asked.colours, traits)
    other_use = {c.variety for c in here if uses and traits.habits.get(c.variety, "") not in uses}
    short_lived = {variety for variety, _ in not_taken.too_short_lived}
    found = Outlet(
        wish.market,
        prices,
        np.where(in_season, wish.at_least, 0.0),
        np.where(in_season, wish.at_most, 0.0),
        asked.colours,
        missing,
        frozenset(other_use | short_lived | set(not_taken.untested)),
    )
    return found, not_taken


def _by_grade(listed: Sequence[MarketPrice], grades: Sequence[int]) -> Floats:
    """The price of a stem (grades, weeks): that of the longest grade it reaches, NaN below all."""
    table = np.full((len(grades), WEEKS), np.nan)
    for price in sorted(listed, key=lambda price: price.grade_cm):
        for place, grade in enumerate(grades):
            if grade >= price.grade_cm:
                table[place, price.from_week - 1 : price.to_week] = price.stem_price
    return table


def _alike(what: str, wanted: Sequence[str], known: Collection[str]) -> frozenset[str]:
    """The known texts that have every word of one of those wanted."""
    every = sorted(known)
    found: set[str] = set()
    for text in wanted:
        words = set(text.casefold().split())
        alike = [own for own in every if words <= set(own.casefold().replace(",", " ").split())]
        if not alike:
            raise UnknownName(what, text, every)
        found |= set(alike)
    return frozenset(found)


def _told(kept: Store, wish: MarketWish, column: str) -> set[str]:
    """What is said of all varieties of the crops, whether they can be had or not."""
    return {text for crop in wish.crops for text in kept.varieties(crop)[column] if text}


def _not_taken(
    wish: MarketWish, here: Sequence[Crop], colours: Collection[str], traits: Traits
) -> NotTaken:
    """The varieties that do not last as long as asked, and those of which nothing is known."""
    least, name = wish.least_vase_life, f"{wish.market} ({', '.join(wish.crops)})"
    if least is None:
        return NotTaken(name, None, (), ())
    varieties = sorted({crop.variety for crop in here if not colours or crop.colour in colours})
    known = traits.vase_life
    return NotTaken(
        name,
        least,
        tuple((v, known[v].days) for v in varieties if v in known and known[v].days < least),
        tuple(v for v in varieties if v not in known),
    )
