"""What a trial's pictures are drawn from: grades, plots in their beds, weeks, other seasons."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from trials.errors import TallybedError
from trials.report.pictures.of_trial import TrialViews
from trials.season import plot_values as plot_rows
from trials.season.comparing import Asked, compare_plots, measure_named
from trials.stats.season_views import SeasonMean
from trials.store import Store

if TYPE_CHECKING:
    from trials.model.trial import Trial
    from trials.stats.results import Comparison


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
    kept = Store.open(store)
    held, plots = kept.trial(trial), kept.plots(trial)
    chosen = measure_named(measure or held.primary_measure)
    if leave_out_missed:
        plots = plot_rows.picked_throughout(plots)
    counted, by_day = kept.grades(trial), kept.stems_by_day(trial)
    earlier = _earlier(kept, held, chosen.key)
    seen = plot_rows.plots_seen(held, plots, chosen)
    factors = sorted(comparison.layout.factors, key=lambda factor: -len(factor.levels))
    return tuple(
        TrialViews(
            trial=held,
            comparison=comparison,
            factor=factor.name,
            grades=plot_rows.length_grades(plots, counted, factor.name),
            weeks=plot_rows.stems_by_week(plots, by_day, factor.name),
            plots=seen,
            seasons=_next_to_earlier(held, comparison, earlier, factor.name),
        )
        for factor in factors
    )


def _earlier(kept: Store, this: Trial, measure: str) -> list[tuple[Trial, Comparison]]:
    """The comparisons of earlier seasons' trials of the crop that share a factor with this one.

    Each with its own error; a trial that cannot be compared on this measure says nothing.
    """
    names = {factor.name for factor in this.factors}
    found = []
    for other in kept.trials():
        alike = other.crop == this.crop and names & {factor.name for factor in other.factors}
        if not alike or other.season >= this.season:
            continue
        asked = Asked(second_opinions=False)
        try:
            compared = compare_plots(other, kept.plots(other.code), measure, asked)
        except TallybedError:
            continue
        found.append((other, compared))
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
