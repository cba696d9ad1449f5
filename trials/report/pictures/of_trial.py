"""Every picture that a trial's records allow, of one measure and one factor, in reading order."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial

from trials.drawing.picture import Picture
from trials.model.trial import Trial
from trials.model.units import UnitSystem
from trials.report.comparison_tables import ranked_means, two_factor_terms
from trials.report.figures import figures_of, named_in
from trials.report.pictures.bed_map import Showing, bed_map_picture
from trials.report.pictures.best import best_picture
from trials.report.pictures.frame import WIDE_PX
from trials.report.pictures.grades import grades_picture
from trials.report.pictures.interaction import interaction_picture
from trials.report.pictures.means import means_picture
from trials.report.pictures.response import response_picture
from trials.report.pictures.seasons import seasons_picture
from trials.report.pictures.weeks import so_far_picture, weeks_picture
from trials.report.tested_words import level_words
from trials.stats.length_grades import GradeShare
from trials.stats.results import Comparison
from trials.stats.season_views import PlotSeen, SeasonMean, WeekStems

Draw = Callable[[int], Picture]


@dataclass(frozen=True, slots=True)
class TrialViews:
    """What the pictures of one measure and one factor of a trial are drawn from."""

    trial: Trial
    comparison: Comparison
    factor: str
    grades: tuple[GradeShare, ...]
    weeks: tuple[WeekStems, ...]
    plots: tuple[PlotSeen, ...]
    seasons: tuple[SeasonMean, ...]


@dataclass(frozen=True, slots=True)
class Drawable:
    """A picture by its short name, drawn when it is asked for at a width in pixels."""

    label: str
    draw: Draw


def answer_drawable(comparison: Comparison, factor: str, system: UnitSystem) -> Drawable | None:
    """The picture of the answer: the means; None where nothing has a figure."""
    if not any(mean.term == factor for mean in comparison.means):
        return None
    comparison = named_in(comparison, system)
    figures = figures_of(comparison, system)
    return Drawable("Means", partial(means_picture, comparison, factor, figures))


def drawables(views: TrialViews, system: UnitSystem) -> tuple[Drawable, ...]:
    """The other pictures, in the order in which they are read."""
    named = replace(views, comparison=named_in(views.comparison, system))
    return tuple(_drawables(named, system))


def _drawables(views: TrialViews, system: UnitSystem) -> Iterator[Drawable]:
    comparison, factor, trial = views.comparison, views.factor, views.trial
    figures = figures_of(comparison, system)
    order = [level_words(mean.levels) for mean in ranked_means(comparison, factor)]

    def where_any(label: str, draw: Callable[[int], Picture | None]) -> Iterator[Drawable]:
        if draw(WIDE_PX) is not None:
            yield Drawable(label, draw)  # type: ignore[arg-type]

    if any(item.term == factor and not item.within for item in comparison.with_best):
        yield from where_any(
            "Which could be best", partial(best_picture, comparison, factor, figures)
        )
    yield from where_any(
        f"Response to {factor}", partial(response_picture, comparison, factor, figures)
    )
    for term in two_factor_terms(comparison):
        if factor in term.split(":"):
            yield Drawable(
                " and ".join(term.split(":")),
                partial(interaction_picture, comparison, term, figures),
            )
    if views.grades and order:
        shortest = trial.minimum_length_cm
        drawn = partial(grades_picture, views.grades, shortest, system, factor, order)
        yield Drawable("Stem length", drawn)
        yield Drawable("Stem length, shares", partial(drawn, as_shares=True))
    if views.weeks and order:
        yield Drawable("Week by week", partial(weeks_picture, views.weeks, factor, order))
        yield Drawable("Added up by week", partial(so_far_picture, views.weeks, factor, order))
    if any(plot.value is not None for plot in views.plots):
        drawn_map = partial(bed_map_picture, views.plots, comparison.measure, figures)
        yield Drawable("Plots in the beds", partial(drawn_map, Showing.VALUE))
        if any(plot.apart for plot in views.plots):
            yield Drawable("Good and poor ground", partial(drawn_map, Showing.APART))
    yield from where_any(
        "Earlier seasons",
        partial(seasons_picture, views.seasons, comparison.measure, factor, figures),
    )
