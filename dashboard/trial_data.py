"""What page Compare asks of the season besides its figures: views for pictures, and reports."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from datetime import date
from functools import partial
from pathlib import Path

from dashboard import data
from dashboard.access.visitor import READERS, require
from dashboard.data import _kept, store_path
from trials import season as front
from trials.model.units import PaperSize, UnitSystem
from trials.report.pictures.of_trial import TrialViews


@_kept
def views(trial: str, measure: str, leave_out_missed: bool) -> tuple[TrialViews, ...]:
    """What the pictures of one measure of a trial are drawn from, for each factor."""
    comparison = data.compare(trial, measure, leave_out_missed)
    return front.views_of(
        store_path(), trial, comparison, measure, leave_out_missed=leave_out_missed
    )


def reports(
    trial: str, units: UnitSystem, size: PaperSize
) -> tuple[Callable[[], bytes], Callable[[], bytes]]:
    """What makes a trial's report as PDF and as one HTML file, each when it is asked for.

    They run outside of any page, so who asks is known from here on only: ``watch`` passes on
    nothing of a page whose session has ended.
    """
    require(READERS)
    asked = (store_path(), trial, units)
    return partial(_report_pdf, *asked, size), partial(_report_html, *asked)


def _report_pdf(store: Path, trial: str, units: UnitSystem, size: PaperSize) -> bytes:
    document = front.trial_report(store, trial, units)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "report.pdf"
        front.report_pdf(document, path, farm="", on=date.today(), size=size)
        return path.read_bytes()


def _report_html(store: Path, trial: str, units: UnitSystem) -> bytes:
    document = front.trial_report(store, trial, units)
    return front.report_html(document, farm="", on=date.today()).encode()
