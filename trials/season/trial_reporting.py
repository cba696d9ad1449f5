"""A trial's report to take away: all its records say, gathered, worded and written to files."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from trials.errors import FileRefused, TallybedError
from trials.model.trial import MEASURES
from trials.model.units import PaperSize, UnitSystem
from trials.report.html_file import html_file
from trials.report.trial_report import TrialFacts
from trials.report.trial_report import trial_report as report_of
from trials.season import correcting, plot_values
from trials.season.comparing import Asked, PlotRecords, compare_records, plot_records
from trials.season.photographing import photos_in_small
from trials.season.trial_views import picture_records, views_from
from trials.store import Store

if TYPE_CHECKING:
    from trials.drawing.document import Document
    from trials.stats.results import Comparison


def trial_facts(store: Path, trial: str) -> TrialFacts:
    """All that a trial's report is written from."""
    kept = Store.open(store)
    read = plot_records(store, trial)
    held = read.trial
    views = views_from(read, picture_records(store, trial), compare_records(read))
    return TrialFacts(
        trial=held,
        views=views,
        others=_other_measures(read),
        completeness=kept.completeness(trial),
        closing=kept.closing(trial),
        records=plot_values.plot_records(held, read.plots),
        digest=correcting.records_digest(store, trial),
        photos=photos_in_small(store, trial),
    )


def _other_measures(read: PlotRecords) -> tuple[Comparison, ...]:
    """The comparisons of the measures that the records have, beside the main one."""
    found = []
    for measure in MEASURES:
        if measure.key == read.trial.primary_measure:
            continue
        try:
            found.append(compare_records(read, measure.key, Asked(second_opinions=False)))
        except TallybedError:  # not recorded in this trial
            continue
    return tuple(found)


def trial_report(store: Path, trial: str, units: UnitSystem) -> Document:
    """The report of a trial as far as its records go."""
    return report_of(trial_facts(store, trial), units)


def report_html(document: Document, *, farm: str, on: date) -> str:
    """A report as one HTML file that stands alone."""
    written = f"Written on {on.isoformat()}"
    return html_file(document, f"{farm} · {written}" if farm else written)


def report_pdf(
    document: Document, path: Path, *, farm: str, on: date, size: PaperSize = PaperSize.A4
) -> None:
    """Write a report as a PDF."""
    from trials.paper.report_sheet import write_report

    write_report(document, path, farm=farm, on=on, size=size)


def write_report_html(document: Document, path: Path, *, farm: str, on: date) -> None:
    """Write a report as one HTML file that stands alone."""
    try:
        path.write_text(report_html(document, farm=farm, on=on), encoding="utf-8")
    except OSError as problem:
        raise FileRefused(f"{path}: {problem.strerror}. Choose another place.") from None
