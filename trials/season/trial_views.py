"""What a trial's pictures are drawn from: grades, plots in their beds, weeks, other seasons."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from trials.errors import TallybedError
from trials.report.pictures.of_trial import TrialViews
from trials.season import plot_values as plot_rows
from trials.season.comparing import (
    Asked,
    PlotRecords,
    compare_plots,
    measure_named,
    plot_records,
)
from trials.stats.season_views import SeasonMean
from trials.store import Store

if TYPE_CHECKING:
    import pandas as pd

    from trials.model.trial import Trial
    from trials.stats.results import Comparison


@dataclass(frozen=True, slots=True)
class PictureRecords:
    """What a trial's pictures show besides its comparison, read from the store once.

    ``grades`` and ``by_day`` are ``Store.grades`` and ``Store.stems_by_day``; ``earlier`` has the
    trials of earlier seasons of the crop that share a factor with this one, and their plots.
    """

    grades: pd.DataFrame
    by_day: pd.DataFrame
    earlier: tuple[tuple[Trial, pd.DataFrame], ...]


def picture_records(store: Path, trial: str) -> PictureRecords:
    """The records that the pictures of a trial are drawn from, for any number of measures."""
    kept = Store.open(store)
    held = kept.trial(trial)
    earlier = tuple((other, kept.plots(other.code)) for other in _earlier(kept, held))
    return PictureRecords(kept.grades(held.code), kept.stems_by_day(held.code), earlier)


def views_of(
    store: Path,
    trial: str,
    comparison: Comparison,
    measure: str | None = None,
    *,
    leave_out_missed: bool = False,
) -> tuple[TrialViews, ...]:
    """What the pictures of one measure are drawn from, for each factor that was compared.

    The factor with most levels comes first; ``comparison`` is of that measure, by default the
    trial's primary one.
    """
    read, behind = plot_records(store, trial), picture_records(store, trial)
    return views_from(read, behind, comparison, measure, leave_out_missed=leave_out_missed)


def views_from(
    read: PlotRecords,
    behind: PictureRecords,
    comparison: Comparison,
    measure: str | None = None,
    *,
    leave_out_missed: bool = False,
) -> tuple[TrialViews, ...]:
    """The same from records that were read before; see ``views_of``."""
    held, plots = read.trial, read.plots
    chosen = measure_named(measure or held.primary_measure)
    if leave_out_missed:
        plots = plot_rows.picked_throughout(plots)
    earlier = _compared(behind.earlier, chosen.key)
    seen = plot_rows.plots_seen(held, plots, chosen)
    factors = sorted(comparison.layout.factors, key=lambda factor: -len(factor.levels))
    return tuple(
        TrialViews(
            trial=held,
            comparison=comparison,
            factor=factor.name,
            grades=plot_rows.length_grades(plots, behind.grades, factor.name),
            weeks=plot_rows.stems_by_week(plots, behind.by_day, factor.name),
            plots=seen,
            seasons=_next_to_earlier(held, comparison, earlier, factor.name),
        )
        for factor in factors
    )


def _earlier(kept: Store, this: Trial) -> list[Trial]:
    """The trials of earlier seasons of the crop that share a factor with this one."""
    names = {factor.name for factor in this.factors}
    return [
        other
        for other in kept.trials()
        if other.crop == this.crop
        and other.season < this.season
        and names & {factor.name for factor in other.factors}
    ]


def _compared(
    earlier: tuple[tuple[Trial, pd.DataFrame], ...], measure: str
) -> list[tuple[Trial, Comparison]]:
    """The comparisons of earlier trials, each with its own error.

    A trial that cannot be compared on this measure says nothing.
    """
    found = []
    for other, plots in earlier:
        with suppress(TallybedError):
            quick = Asked(second_opinions=False)
            found.append((other, compare_plots(other, plots, measure, quick)))
    return found


def _next_to_earlier(
    this: Trial, comparison: Comparison, earlier: list[tuple[Trial, Comparison]], factor: str
) -> tuple[SeasonMean, ...]:
    """The means of the levels that were grown both now and before."""
    now = _means(this, comparison, factor)
    before = [mean for other, compared in earlier for mean in _means(other, compared, factor)]
    both = {mean.level for mean in now} & {mean.level for mean in before}
    return tuple(mean for mean in (*before, *now) if mean.level in both)


def _means(trial: Trial, compared: Comparison, factor: str) -> list[SeasonMean]:
    return [
        SeasonMean(trial.season, trial.code, mean.levels[0][1], mean.mean, mean.low, mean.high)
        for mean in compared.means
        if mean.term == factor
    ]
