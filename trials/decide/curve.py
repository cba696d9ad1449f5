"""What a sowing gives: stems by week since its first cut, by variety, treatment and grade.

The shape of a curve comes from the plots' own cut dates, the level of the next season from the
draws of the choice. A sowing that is cut for fewer weeks gives what the curve has in those weeks.

Formula: stems in draw d and week w = level of d × mean over resampled plots of their stems in w /
    mean over treatments of the resampled plots' stems of all weeks, times what plots planted near
    the day gave in their season / what all plots of that season gave.
Limits: The shape is that of the trials' planting dates and weather; a planting far from them
    borrows it, which is said as an assumption.
Source: Davison & Hinkley 1997, Bootstrap Methods and their Application, section 3.8.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
NEAR_DAYS = 21  # plantings this near in the year count as alike: judgement


@dataclass(frozen=True, slots=True, eq=False)
class PlotCurve:
    """One plot's marketable stems per living plant by week since its first cut (weeks, grades).

    ``days`` are those from planting to the first cut, ``planted`` the planting's day of the year;
    None where they were not recorded. ``per_metre`` are the plants set per metre of bed, ``alive``
    the share of them that lived. ``cuts`` counts the days on which it was picked.
    """

    plot: str
    trial: str
    season: int
    variety: str
    treatment: str
    stems: Floats
    days: float | None
    planted: int | None
    cuts: int = 0
    per_metre: float = 0.0
    alive: float = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """Stems per plant of one variety grown one way, for next season (draws, weeks, grades).

    ``days`` are the mean days from planting to the first cut, ``per_metre`` and ``alive`` the means
    of the plots. ``assumed`` says that no planting of
    the records lies near the date, so that an earlier or later one stands in for it.
    """

    variety: str
    treatment: str
    stems: Floats
    days: float
    plots: tuple[str, ...]
    trials: tuple[str, ...]
    cuts: int
    per_metre: float
    alive: float
    assumed: bool = False

    @property
    def mean(self) -> Floats:
        """The expected stems per plant by week and grade (weeks, grades)."""
        return np.asarray(self.stems.mean(axis=0), dtype=np.float64)


def curves(
    plots: Sequence[PlotCurve],
    levels: Mapping[str, Floats],
    planted: int | None = None,
    seed: int = 1,
) -> tuple[Curve, ...]:
    """The curve of each variety and treatment that has plots and a drawn level.

    Parameters
    ----------
    plots : every plot of the crop's trials; their arrays have the same weeks and grades
    levels : by variety, next season's stems per plant in each draw (draws), over all treatments
    planted : the day of the year of the planting; plantings within `NEAR_DAYS` of it are used
        where the variety has any

    Notes
    -----
    Each draw takes one of the variety's seasons and resamples its plots with replacement
    (bootstrap of clusters: Davison & Hinkley 1997, Bootstrap Methods and their Application,
    section 3.8). A treatment's level is its share of the mean over the treatments, drawn alike.
    """
    draw = np.random.default_rng(seed)
    found = []
    for variety in sorted(levels):
        own = [plot for plot in plots if plot.variety == variety]
        # Plots without the treatment's word say nothing of how the treated ones yield.
        own = [plot for plot in own if plot.treatment] or own
        near = [plot for plot in own if _near(plot, planted)]
        found += _of_variety(near or own, own, levels[variety], draw, assumed=not near)
    return tuple(found)


def _near(plot: PlotCurve, planted: int | None) -> bool:
    if planted is None:
        return True
    return plot.planted is not None and abs(plot.planted - planted) <= NEAR_DAYS


def _of_variety(
    plots: Sequence[PlotCurve],
    every: Sequence[PlotCurve],
    level: Floats,
    draw: np.random.Generator,
    *,
    assumed: bool,
) -> list[Curve]:
    """The curves of ``plots``; ``every`` plot of the variety says what their day costs."""
    seasons = sorted({plot.season for plot in plots})
    by: dict[str, dict[int, list[PlotCurve]]] = {}
    for plot in plots:
        by.setdefault(plot.treatment, {}).setdefault(plot.season, []).append(plot)
    season_of = draw.integers(0, len(seasons), len(level)) if seasons else np.empty(0, int)
    drawn = {
        treatment: _resampled(of_season, seasons, season_of, draw)
        for treatment, of_season in by.items()
    }
    if not drawn:
        return []
    of_day = {season: _of_planting_day(plots, every, season) for season in seasons}
    planted = np.array([of_day[seasons[number]] for number in season_of])
    totals = np.stack([stems.sum(axis=(1, 2)) for stems in drawn.values()])
    middle = np.nanmean(totals, axis=0)
    found = []
    for treatment, stems in drawn.items():
        used = [plot for plot in plots if plot.treatment == treatment]
        days = [plot.days for plot in used if plot.days is not None]
        if not days or not np.any(middle > 0):
            continue
        share = np.divide(
            stems, middle[:, None, None], out=np.zeros_like(stems), where=middle[:, None, None] > 0
        )
        found.append(
            Curve(
                variety=used[0].variety,
                treatment=treatment,
                stems=(np.maximum(level, 0.0) * planted)[:, None, None] * share,
                days=float(np.mean(days)),
                plots=tuple(plot.plot for plot in used),
                trials=tuple(sorted({plot.trial for plot in used})),
                cuts=sum(plot.cuts for plot in used),
                per_metre=float(np.mean([plot.per_metre for plot in used])),
                alive=float(np.mean([plot.alive for plot in used])),
                assumed=assumed,
            )
        )
    return found


def _of_planting_day(plots: Sequence[PlotCurve], every: Sequence[PlotCurve], season: int) -> float:
    """What the plots gave in a season next to all of their treatments: a late day gives less."""
    here = [plot for plot in plots if plot.season == season]
    ratios = []
    for treatment in {plot.treatment for plot in here}:
        own = [plot.stems.sum() for plot in here if plot.treatment == treatment]
        alike = [
            plot.stems.sum()
            for plot in every
            if (plot.season, plot.treatment) == (season, treatment)
        ]
        if sum(alike) > 0:
            ratios.append(float(np.mean(own) / np.mean(alike)))
    return float(np.mean(ratios)) if ratios else 1.0


def _resampled(
    of_season: Mapping[int, Sequence[PlotCurve]],
    seasons: Sequence[int],
    season_of: NDArray[np.intp],
    draw: np.random.Generator,
) -> Floats:
    """The mean curve of resampled plots of each draw's season; of another where it has none."""
    drawn = []
    for number in season_of:
        season = seasons[number] if seasons[number] in of_season else max(of_season)
        here = of_season[season]
        picked = draw.integers(0, len(here), len(here))
        drawn.append(np.mean([here[i].stems for i in picked], axis=0))
    return np.stack(drawn)


def share_within(plots: Sequence[PlotCurve], weeks: float) -> float:
    """The share of a whole season's stems that comes in the first ``weeks`` of cutting.

    The mean over the plots, each counted alike; a part of a week gives its part.
    """
    shares = []
    for plot in plots:
        by_week = plot.stems.sum(axis=1)
        if by_week.sum() > 0:
            full = int(weeks)
            got = by_week[:full].sum() + (weeks - full) * by_week[full : full + 1].sum()
            shares.append(float(got / by_week.sum()))
    return float(np.mean(shares)) if shares else 0.0


@dataclass(frozen=True, slots=True)
class SowingShare:
    """What a sowing gives of a first one's stems, by ``plots`` planted so late; 0: assumed."""

    share: float
    plots: int = 0


def share_of_later(plots: Sequence[PlotCurve], number: int, days: float) -> SowingShare | None:
    """What plots planted ``number`` times ``days`` after the first gave next to those of the first.

    Plots of one season, variety and treatment are compared; each such pair of plantings counts
    alike. None where the records have none.
    """
    ratios, used = [], 0
    by: dict[tuple[int, str, str], list[PlotCurve]] = {}
    first: dict[int, int] = {}
    for plot in plots:
        if plot.planted is not None:
            by.setdefault((plot.season, plot.variety, plot.treatment), []).append(plot)
            first[plot.season] = min(plot.planted, first.get(plot.season, plot.planted))
    for (season, *_), alike in by.items():
        of_sowing: dict[int, list[float]] = {}
        for plot in alike:
            late = 0 if plot.planted is None else plot.planted - first[season]
            of_sowing.setdefault(round(late / days), []).append(float(plot.stems.sum()))
        here, there = of_sowing.get(0, []), of_sowing.get(number, [])
        if here and there and sum(here) > 0:
            ratios.append(float(np.mean(there) / np.mean(here)))
            used += len(there)
    return SowingShare(float(np.mean(ratios)), used) if ratios else None
