"""What records of a trial usually are, declared once; what lies beyond is held for a yes.

A rule is no law: a sunflower may have a stem of two metres, and a plot may have gained a plant. So
a record beyond its rule is neither taken in silence nor refused: nothing is stored until somebody
says why it is true, and the reason is kept with it. What cannot be at all is declared in
``sheets`` and ``crossing``.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from trials.model.rows import Sheet
from trials.records.faults import Faults, Wrong, shown
from trials.records.rules.forms import Range
from trials.records.rules.picking import outside_season, plots_of, trial_of
from trials.records.rules.reference_data import World, number_of
from trials.records.rules.validation import Judged

Figures = NDArray[np.float64]
Reckon = Callable[[Judged, World], Figures]
Say = Callable[[Judged, World, int, float], Wrong]


@dataclass(frozen=True, slots=True)
class Rule:
    """One thing that records usually keep to.

    Attributes
    ----------
    sheet, column
        The cells it is about.
    what, why
        What is reckoned of each record, and why its limits are where they are, in plain words.
    usual
        The limits; a figure outside them is held.
    reckon
        The figure of each record, NaN where it cannot be known.
    say
        The words for one record and its figure.
    """

    sheet: Sheet
    column: str
    what: str
    usual: Range
    why: str
    reckon: Reckon
    say: Say


def hold_unlikely(judged: Judged, world: World, faults: Faults) -> None:
    """Hold the records that lie beyond a rule of their sheet."""
    for rule in RULES:
        if rule.sheet is not judged.sheet or not len(judged):
            continue
        figures = rule.reckon(judged, world)
        low, high = rule.usual.low, rule.usual.high
        judged.fault(
            faults,
            (figures < low) | (figures > high),  # NaN is neither
            rule.column,
            lambda record, rule=rule, figures=figures: rule.say(  # type: ignore[misc]
                judged, world, record, float(figures[record])
            ),
            unlikely=True,
        )


def _all_alike(figure: float, judged: Judged) -> Figures:
    """The same figure for each record: of those within the limits the figure does not matter."""
    return np.broadcast_to(np.float64(figure), len(judged))


def _cells(column: str) -> Reckon:
    return lambda judged, world: judged.columns[column].each(float)


def _days_since_transplanting(column: str) -> Reckon:
    def reckon(judged: Judged, world: World) -> Figures:
        plots, days = plots_of(judged, world), judged.columns[column]
        latest = max((p.transplanted_on or date.min for p in plots.known), default=date.min)
        if min(days.values, default=date.max) >= latest:
            return _all_alike(0, judged)
        return days.each(number_of) - plots.each(lambda plot: number_of(plot.transplanted_on))

    return reckon


def _days_outside_season(column: str) -> Reckon:
    def reckon(judged: Judged, world: World) -> Figures:
        plots, days = plots_of(judged, world), judged.columns[column]
        trials = [plot.trial for plot in plots.known if plot.trial is not None]
        first = max((trial.starts_on or date.min for trial in trials), default=date.min)
        last = min((trial.ends_on or date.max for trial in trials), default=date.max)
        if all(first <= day <= last for day in days.values):
            return _all_alike(0, judged)
        day = days.each(number_of)
        start = plots.each(lambda p: None if p.trial is None else number_of(p.trial.starts_on))
        end = plots.each(lambda p: None if p.trial is None else number_of(p.trial.ends_on))
        return day - np.clip(day, start, end)

    return reckon


def _living_of_each_set(judged: Judged, world: World) -> Figures:
    living = judged.columns["living"].each(float)
    return living / plots_of(judged, world).each(lambda plot: plot.plants_set)


def _stems_of_each_plant(judged: Judged, world: World) -> Figures:
    """Stems of the plot's whole season for each plant set, at the largest new row of the plot."""
    plots, of_plot = judged.columns["plot"], plots_of(judged, world)
    counted = judged.columns["stems"]
    stems = np.array([*counted.values, 0], dtype=float)[counted.codes]  # the last is of no count
    at = plots.codes % len(of_plot.facts)  # rows without a plot have the last place
    totals = np.bincount(at, weights=stems, minlength=len(of_plot.facts)).astype(float)
    if len(held := world.held[Sheet.CUTS]):
        before = held.groupby("plot")["stems"].sum()
        totals[:-1] += [float(before.get(plot, 0)) for plot in plots.values]
    of_plants = np.array([plot.plants_set if plot else None for plot in of_plot.facts], float)
    if not (totals / of_plants > _MANY_STEMS).any():
        return _all_alike(math.nan, judged)
    most = np.zeros(len(totals))
    np.maximum.at(most, at, stems)
    largest = np.flatnonzero(stems == most[at])
    told = np.full(len(totals), -1)
    told[at[largest]] = largest  # of several, the last
    told = told[:-1][told[:-1] >= 0]
    figures = np.full(len(judged), np.nan)
    figures[told] = (totals / of_plants)[at[told]]
    return figures


def _plants_to_the_square_metre(judged: Judged, world: World) -> Figures:
    return judged.columns["plants_set"].each(float) / judged.columns["net_area_m2"].each(float)


def _an_unusual_length(judged: Judged, world: World, record: int, figure: float) -> Wrong:
    return Wrong(
        f"A length of {figure:g} cm is unusual.",
        "Check that it was measured in cm, and check the decimal point.",
    )


def _before_transplanting(column: str) -> Say:
    def say(judged: Judged, world: World, record: int, figure: float) -> Wrong:
        planted_on = plots_of(judged, world).of(judged, record).transplanted_on
        return Wrong(
            f"{judged.cell(record, column)} comes before the plot was transplanted.",
            f"Plot {shown(judged.cell(record, 'plot'))} was transplanted on {planted_on}: "
            "correct the day or the plot.",
        )

    return say


def _outside_season(column: str) -> Say:
    def say(judged: Judged, world: World, record: int, figure: float) -> Wrong:
        trial = trial_of(plots_of(judged, world).of(judged, record))
        return outside_season(judged, record, column, trial)

    return say


def _more_living_than_set(judged: Judged, world: World, record: int, figure: float) -> Wrong:
    return Wrong(
        f"{judged.cell(record, 'living')} plants are living, but only "
        f"{plots_of(judged, world).of(judged, record).plants_set} were set.",
        "Count the plot's own plants without guard plants, or correct plants_set.",
    )


def _very_many_stems(judged: Judged, world: World, record: int, figure: float) -> Wrong:
    plot = judged.cell(record, "plot")
    plants = plots_of(judged, world).of(judged, record).plants_set or 0
    return Wrong(
        f"{figure * plants:,.0f} stems so far from {plants:,} plants in plot {shown(plot)}?",
        "Check the number. It may have been typed twice, or in bunches; plants_set may be wrong.",
    )


def _very_close(judged: Judged, world: World, record: int, figure: float) -> Wrong:
    return Wrong(
        f"{figure:,.3g} plants per square metre is unusual.",
        "Check plants_set, and that the area is the plot's own, in square metres.",
    )


_ANY = math.inf
_MANY_STEMS = 60
RULES: tuple[Rule, ...] = (
    Rule(
        Sheet.STEM_SAMPLES,
        "length_cm",
        "length of a measured stem (cm)",
        Range(5, 150),
        "cut stems are sold from 20 to 120 cm; only tall sunflowers go beyond",
        _cells("length_cm"),
        _an_unusual_length,
    ),
    Rule(
        Sheet.CUTS,
        "grade_cm",
        "shortest length of a grade (cm)",
        Range(0, 120),
        "length grades end at 100 or 120 cm; what is longer is often inches taken for cm twice",
        _cells("grade_cm"),
        _an_unusual_length,
    ),
    Rule(
        Sheet.CUTS,
        "stems",
        "stems of the season for each plant set",
        Range(0, _MANY_STEMS),
        "the most generous zinnia gives about 25 stems per plant; 60 is a typing error",
        _stems_of_each_plant,
        _very_many_stems,
    ),
    Rule(
        Sheet.STAND_COUNTS,
        "living",
        "plants living for each plant set",
        Range(0, 1),
        "no more can live than were set, unless seedlings came up or guards were counted",
        _living_of_each_set,
        _more_living_than_set,
    ),
    Rule(
        Sheet.PLOTS,
        "net_area_m2",
        "plants set on a square metre",
        Range(0.2, 300),
        "beds carry 5 to 130 plants to the square metre; far beyond, the area is in other units",
        _plants_to_the_square_metre,
        _very_close,
    ),
    *(
        Rule(
            sheet,
            column,
            "days from transplanting",
            Range(0, _ANY),
            "nothing is cut or counted before it was planted out",
            _days_since_transplanting(column),
            _before_transplanting(column),
        )
        for sheet, column in (
            (Sheet.STAND_COUNTS, "counted_on"),
            (Sheet.CUTS, "cut_on"),
            (Sheet.STEM_SAMPLES, "cut_on"),
            (Sheet.SCORES, "scored_on"),
        )
    ),
    *(
        Rule(
            sheet,
            column,
            "days before (below 0) or after the season of the trial",
            Range(0, 0),
            "a day outside the season is most often a slip in the year or the month",
            _days_outside_season(column),
            _outside_season(column),
        )
        for sheet, column in (
            (Sheet.PLOTS, "transplanted_on"),
            (Sheet.STAND_COUNTS, "counted_on"),
            (Sheet.CUTS, "cut_on"),
            (Sheet.STEM_SAMPLES, "cut_on"),
            (Sheet.SCORES, "scored_on"),
        )
    ),
)
