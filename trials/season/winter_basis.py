"""What the form of a winter plan begins with: what the store knows of crops, places and markets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from statistics import mode

from trials.model.trial import SoldAs, Trial, TrialStage
from trials.season.stock import next_season
from trials.store import Store

USUAL_SPRING, USUAL_FROST = date(2026, 5, 15), date(2026, 10, 10)  # where no season says


@dataclass(frozen=True, slots=True)
class Selling:
    """Weeks (ISO) in which a market has prices for a crop."""

    market: str
    crop: str
    from_week: int
    to_week: int


@dataclass(frozen=True, slots=True)
class WinterStart:
    """Where a plan for next season may begin.

    ``sowings`` are the crops with a closed trial, each with its newest planting day moved to the
    season; ``free_weeks`` the weeks from the last spring frost to the first autumn frost.
    ``houses`` are those that sell something, ``plugs`` the varieties that one has as plugs.
    """

    season: int
    sites: tuple[str, ...]
    sowings: tuple[tuple[str, date], ...]
    selling: tuple[Selling, ...]
    varieties: tuple[str, ...]
    free_weeks: tuple[int, int]
    houses: tuple[str, ...] = ()
    plugs: tuple[str, ...] = ()


def winter_start(store: Path) -> WinterStart:
    """What the store knows; empty where it has no closed trial or no prices."""
    kept = Store.open(store)
    trials = sorted(kept.trials(), key=lambda trial: (-trial.season, trial.code))
    closed = [trial for trial in trials if trial.stage is TrialStage.CLOSED]
    season = next_season(kept)
    items = [item for item in kept.seed_items() if item.available]
    newest = {trial.crop: trial for trial in reversed(closed)}
    weeks: dict[tuple[str, str], list[int]] = {}
    for price in kept.prices():
        weeks.setdefault((price.market, price.crop), []).extend((price.from_week, price.to_week))
    return WinterStart(
        season=season,
        sites=tuple(dict.fromkeys(trial.site for trial in trials)),
        sowings=tuple(
            (crop, date(season, 1, 1) + timedelta(day.timetuple().tm_yday - 1))
            for crop, trial in sorted(newest.items())
            if (day := _planted_on(kept, trial)) is not None
        ),
        selling=tuple(
            Selling(market, crop, min(own), max(own))
            for (market, crop), own in sorted(weeks.items())
            if crop in newest
        ),
        varieties=tuple(sorted({*kept.varieties()["variety"]})),
        free_weeks=_free_weeks(kept),
        houses=tuple(sorted({i.house for i in items if i.sold_as is not SoldAs.OWN_SEED})),
        plugs=tuple(sorted({i.variety for i in items if i.sold_as is SoldAs.PLUGS})),
    )


def _planted_on(kept: Store, trial: Trial) -> date | None:
    """The day on which most of its plots were planted."""
    days = [day for day in kept.plots(trial.code)["transplanted_on"] if isinstance(day, date)]
    return mode(days) if days else None


def _free_weeks(kept: Store) -> tuple[int, int]:
    seasons = kept.seasons()
    spring = _middle(list(seasons["last_spring_frost"]), USUAL_SPRING) + timedelta(7)
    autumn = _middle(list(seasons["first_autumn_frost"]), USUAL_FROST)
    return spring.isocalendar().week, autumn.isocalendar().week


def _middle(days: Sequence[object], usual: date) -> date:
    """The middle one of the days within their years."""
    of_year = sorted(
        day.replace(year=usual.year, day=min(day.day, 28)) for day in days if isinstance(day, date)
    )
    return of_year[len(of_year) // 2] if of_year else usual
