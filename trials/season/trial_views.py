"""What a trial's pictures are drawn from: plots in their beds, stems by week, other seasons."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from trials.errors import TallybedError, UnknownName
from trials.season import plot_values as plot_rows
from trials.season.comparing import Asked, compare_plots, measure_named
from trials.stats.season_views import PlotSeen, SeasonMean, WeekStems
from trials.store import Store

if TYPE_CHECKING:
    from trials.stats.results import Comparison


def plots_seen(
    store: Path, trial: str, measure: str, *, leave_out_missed: bool = False
) -> tuple[PlotSeen, ...]:
    """Each plot of a trial where it lies, with its figure of a measure."""
    kept = Store.open(store)
    held, plots = kept.trial(trial), kept.plots(trial)
    if leave_out_missed:
        plots = plot_rows.picked_throughout(plots)
    return plot_rows.plots_seen(held, plots, measure_named(measure))


def stems_by_week(
    store: Path, trial: str, factor: str, *, leave_out_missed: bool = False
) -> tuple[WeekStems, ...]:
    """The saleable stems per plant of each level of a factor, week by week."""
    kept = Store.open(store)
    known = [known.name for known in kept.trial(trial).factors]
    if factor not in known:
        raise UnknownName("factor", factor, known)
    plots = kept.plots(trial)
    if leave_out_missed:
        plots = plot_rows.picked_throughout(plots)
    return plot_rows.stems_by_week(plots, kept.stems_by_day(trial), factor)


def earlier_seasons(store: Path, trial: str, measure: str, factor: str) -> tuple[SeasonMean, ...]:
    """The means of the factor's levels in this trial and in earlier trials of the same crop.

    Each trial's own means, with its own error; levels that no other trial had are left out. A
    trial that cannot be compared on this measure says nothing.
    """
    kept = Store.open(store)
    this = kept.trial(trial)
    found: list[SeasonMean] = []
    for other in kept.trials():
        alike = other.crop == this.crop and factor in (each.name for each in other.factors)
        if not alike or other.season > this.season:
            continue
        if other.season == this.season and other.code != this.code:
            continue
        try:
            compared = compare_plots(
                other, kept.plots(other.code), measure, Asked(second_opinions=False)
            )
        except TallybedError:
            if other.code == this.code:
                raise
            continue
        found += _means(compared, factor, other.season, other.code)
    here = {each.level for each in found if each.trial == trial}
    before = {each.level for each in found if each.trial != trial}
    return tuple(each for each in found if each.level in here & before)


def _means(compared: Comparison, factor: str, season: int, trial: str) -> list[SeasonMean]:
    return [
        SeasonMean(season, trial, mean.levels[0][1], mean.mean, mean.low, mean.high)
        for mean in compared.means
        if mean.term == factor
    ]
