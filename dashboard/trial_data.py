"""What page Compare asks of the season besides its figures: views for pictures, and reports."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterable
from datetime import date
from functools import partial
from pathlib import Path

import streamlit as st

from dashboard import answers, data
from dashboard.access.visitor import READERS, require
from dashboard.kept import Kept, state, store_path
from trials import season as front
from trials.model.trial import Trial
from trials.model.units import PaperSize, UnitSystem
from trials.report.pictures.of_trial import TrialViews

AHEAD = "calculated_ahead"  # in the visit: the last list


@Kept
def picture_records(trial: str) -> front.PictureRecords:
    """What all pictures of a trial are drawn from; not to be changed, as visitors share it."""
    return front.picture_records(store_path(), trial)


@Kept
def views(trial: str, measure: str, leave_out_missed: bool) -> tuple[TrialViews, ...]:
    """What the pictures of one measure of a trial are drawn from, for each factor."""
    comparison = data.compare(trial, measure, leave_out_missed)
    read, behind = data.plot_records(trial), picture_records(trial)
    return front.views_from(read, behind, comparison, measure, leave_out_missed=leave_out_missed)


def calculate_ahead(wanted: Iterable[tuple[Trial, str]], leave_out_missed: bool = False) -> None:
    """Calculate what page Compare shows of these trials and measures while nobody waits for it.

    First what draws the answers, then the pictures, then the slower tests; once for each visit
    and state of the records.
    """
    asked = [(trial.code, measure, leave_out_missed) for trial, measure in wanted]
    mark = (store_path(), state(), asked)
    if st.session_state.get(AHEAD) != mark:
        st.session_state[AHEAD] = mark
        questions = (data.compare, views, data.compare_checked)
        answers.calculate_ahead([each.ahead(*one) for each in questions for one in asked])


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
