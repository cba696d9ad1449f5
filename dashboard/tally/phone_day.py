"""The plots of a day as the page for the phone gets them: all that it needs without signal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from dashboard.tally.offered import grades_of, reasons_of
from dashboard.tally.spray_words import closed_words, sprayed_lately_words
from trials.model.plot_day import GradesAndReasons, PlotOfWalk
from trials.model.re_entry import Spray
from trials.model.saleable import shortest_grade
from trials.model.units import UnitSystem
from trials.model.work_safety import AT_THE_PLOTS, cautions
from trials.report.length_grades import length_words


@dataclass(frozen=True, slots=True)
class Asking:
    """Who asks for a day's plots, of which farm, when, and how it is shown.

    ``farm`` tells one store from another on the same address; ``blind`` leaves out what grows.
    ``sees_more`` are those who may open other pages than these.
    """

    person: str
    sees_more: bool
    farm: str
    day: date
    now: datetime
    units: UnitSystem
    blind: bool


def day_document(
    asking: Asking, walk: Sequence[PlotOfWalk], counts_by: Mapping[str, GradesAndReasons]
) -> dict[str, object]:
    """The plots in walking order, and what each trial counts by; times in ms since 1970 (UTC)."""
    shortest = {plot.trial: plot.minimum_length_cm for plot in walk}
    return {
        "person": asking.person,
        "seesMore": asking.sees_more,
        "farm": asking.farm,
        "day": asking.day.isoformat(),
        "today": asking.now.astimezone().date().isoformat(),
        "now": _ms(asking.now),
        "trials": {
            trial: _trial(counts_by[trial], length, asking.units)
            for trial, length in shortest.items()
        },
        "plots": [_plot(plot, asking) for plot in walk],
        "cautions": list(cautions(*AT_THE_PLOTS)),
    }


def _trial(counts_by: GradesAndReasons, shortest_cm: float, units: UnitSystem) -> dict[str, object]:
    short, saleable = grades_of(counts_by, shortest_cm, units)
    return {
        "saleable": [[grade, length_words(grade, units)] for grade in saleable],
        "short": [[grade, length_words(grade, units)] for grade in short],
        "shortest": length_words(shortest_grade(shortest_cm), units),
        "reasons": list(reasons_of(counts_by)),
    }


def _plot(plot: PlotOfWalk, asking: Asking) -> dict[str, object]:
    return {
        "trial": plot.trial,
        "plot": plot.plot,
        "bed": plot.bed,
        "position": plot.position,
        "grows": "" if asking.blind else plot.treatment or "",
        "lost": plot.lost_reason,
        "outcome": None if plot.outcome is None else plot.outcome.value,
        "stems": plot.stems,
        "culls": plot.culls,
        "sprays": [_spray(spray) for spray in plot.sprays if spray.until > asking.now],
        "sprayed": sprayed_lately_words(plot.sprayed_on, asking.day),
    }


def _spray(spray: Spray) -> dict[str, object]:
    return {
        "begins": _ms(spray.begins),
        "until": _ms(spray.until),
        "untilWords": spray.until_words,
        "words": closed_words(spray),
    }


def _ms(moment: datetime) -> int:
    return round(moment.timestamp() * 1000)
