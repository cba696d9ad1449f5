"""What may be grown next season: every sowing of every variety and treatment of the trials."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from trials import decide
from trials.errors import TrialState, UnknownName
from trials.model.winter import SowingWish, WinterWishes
from trials.season.choosing import STEMS_PER_PLANT, ranked, usable_trials
from trials.season.yields import plot_curves
from trials.store import Store

Floats = NDArray[np.float64]
NOT_SOLD = "no seed house has it, and none is in stock"


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """One sowing of one curve; with ``plugs`` its plants are bought."""

    wish: SowingWish
    out: date
    curve: decide.Curve
    colour: str
    density: float
    last_cut: date
    plugs: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Field:
    """All candidates over the ``grades`` (cm) of all crops.

    ``left_out`` says by variety why it is none, ``choices`` (by crop) what all rests on.
    """

    candidates: tuple[Candidate, ...]
    grades: tuple[int, ...]
    left_out: Mapping[str, str]
    choices: Mapping[str, decide.Choice]


def frosts_of(kept: Store, wishes: WinterWishes) -> list[date]:
    """The first autumn frosts of the site's seasons, moved to the season that is planned."""
    seasons = kept.seasons()
    here = seasons[seasons["site"] == wishes.site]
    if here.empty:
        raise UnknownName("site", wishes.site, sorted(set(seasons["site"])))
    days = [day for day in here["first_autumn_frost"] if isinstance(day, date)]
    if not days:
        raise TrialState(
            f"No season of {wishes.site} has a first autumn frost, so when cutting ends is not "
            "known. Load the seasons with their frosts."
        )
    return [day.replace(year=wishes.season) for day in days]


def require_known(kept: Store, wishes: WinterWishes) -> None:
    """Refuse sowings that no trial can answer and varieties that nobody knows.

    Raises
    ------
    UnknownName
        A crop has no trial, or none of the crops has a variety that is named.
    ComparisonRefused, TrialState
        A crop's trials cannot be used, or it is planted out in another year.
    """
    known: set[str] = set()
    for wish in wishes.sowings:
        usable_trials(kept, wish.crop)
        known |= set(kept.varieties(wish.crop)["variety"])
        for out in wish.plant_out:
            if out.year != wishes.season:
                raise TrialState(f"{wish.crop} is planted out on {out}, not in {wishes.season}.")
    for name in (*wishes.leave_out, *wishes.wanted):
        if name not in known:
            raise UnknownName("variety", name, sorted(known))


def candidates(
    kept: Store,
    wishes: WinterWishes,
    frosts: Sequence[date],
    to_be_had: Collection[str],
    plugs: Collection[str],
) -> Field:
    """Every sowing of every variety and treatment that can be had and sold.

    ``to_be_had`` are the varieties that can be bought or are in stock, ``plugs`` those bought as
    plugs. The wishes are known to the store, see ``require_known``.
    """
    grown: list[tuple[Candidate, tuple[int, ...]]] = []
    left_out: dict[str, str] = dict.fromkeys(wishes.leave_out, "left out by the file")
    choices = {
        crop: ranked(kept, crop, STEMS_PER_PLANT, decide.Rules())[0]
        for crop in dict.fromkeys(wish.crop for wish in wishes.sowings)
    }
    for wish in wishes.sowings:
        choice = choices[wish.crop]
        plots, grades = plot_curves(kept, choice.trials, choice.minimum_length_cm)
        table = kept.varieties(wish.crop)
        colours = dict(zip(table["variety"], table["colour"], strict=True))
        left_out |= dict.fromkeys(choice.too_short, "too short to sell")
        gone = [row.entry for row in choice.outlook.entries if row.entry not in to_be_had]
        left_out |= dict.fromkeys((name for name in gone if name not in left_out), NOT_SOLD)
        levels = {
            variety: level
            for variety, level in _levels(choice, wishes.draws).items()
            if variety not in left_out
        }
        for out in wish.plant_out:
            for curve in decide.curves(plots, levels, out.timetuple().tm_yday):
                first = out + timedelta(round(curve.days))
                weeks = 1 + int(np.flatnonzero(curve.mean.sum(axis=1))[-1])
                last = min(first + timedelta(7 * weeks - 1), max(frosts))
                if first < max(frosts):
                    colour = colours[curve.variety] or ""
                    density = wish.plants_per_metre or curve.per_metre
                    bought = curve.variety in plugs
                    each = Candidate(wish, out, curve, colour, density, last, bought)
                    grown.append((each, grades))
    every = sorted({grade for _, grades in grown for grade in grades})
    on_grades = tuple(_on_grades(each, grades, every) for each, grades in grown)
    _require_wanted(wishes, {each.curve.variety for each in on_grades}, left_out)
    return Field(on_grades, tuple(every), left_out, choices)


def _require_wanted(
    wishes: WinterWishes, grown: Collection[str], left_out: Mapping[str, str]
) -> None:
    for name in wishes.wanted:
        if name not in grown:
            why = left_out.get(name, "no closed trial shows what it yields before frost")
            raise TrialState(
                f"{name} is wanted, but it cannot be planned: {why}. Take it out of the varieties "
                "wanted."
            )


def _levels(choice: decide.Choice, draws: int) -> dict[str, Floats]:
    """Next season's stems per plant by variety, joint draws spread evenly over those made."""
    every = choice.outlook.next_season
    taken = every[np.linspace(0, len(every) - 1, draws).round().astype(int)]
    return {row.entry: taken[:, i] for i, row in enumerate(choice.outlook.entries)}


def _on_grades(each: Candidate, own: Sequence[int], every: Sequence[int]) -> Candidate:
    stems = np.zeros((*each.curve.stems.shape[:2], len(every)))
    stems[:, :, [every.index(grade) for grade in own]] = each.curve.stems
    return replace(each, curve=replace(each.curve, stems=stems))
