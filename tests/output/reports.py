"""The report of a trial and its pictures."""

from __future__ import annotations

import re
from pathlib import Path

from tests.output.registry import DAY, METRIC, US, drawn, output
from trials import season
from trials.model.units import UnitSystem
from trials.report.pictures.frame import NARROW_PX
from trials.report.pictures.of_trial import answer_drawable, drawables
from trials.season.trial_reporting import report_html, trial_report
from trials.season.trial_views import views_of


def report(store: Path, code: str, system: UnitSystem) -> str:
    html = report_html(trial_report(store, code, system), farm="Heronlap", on=DAY)
    return re.sub(r"base64,[\w+/=]+", "base64", html).replace("><", ">\n<")


@output
def report_of_a_split_plot(store: Path) -> str:
    return report(store, "cosmos-2026", METRIC)


@output
def report_of_whole_plots_in_us_units(store: Path) -> str:
    return report(store, "plume-2026", US)


@output
def report_of_spacings(store: Path) -> str:
    return report(store, "cosmos-bed-2026", METRIC)


@output
def pictures_on_a_phone(store: Path) -> str:
    return "\n".join(_pictures_of(store, code) for code in ("cosmos-2024", "cosmos-bed-2026"))


def _pictures_of(store: Path, code: str) -> str:
    found = season.compare_trial(store, code, asked=season.Asked(second_opinions=False))
    pictures = []
    for views in views_of(store, code, found):
        answer = answer_drawable(views.comparison, views.factor, US)
        every = (*([answer] if answer else []), *drawables(views, METRIC))
        pictures.append(drawn(each.draw(NARROW_PX) for each in every))
    return "\n".join(pictures)
