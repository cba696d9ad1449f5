"""Comparisons: of one measure of a trial, by length grade, or of a table of somebody's own."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trials import field, mending, plot_rows, stats
from trials.errors import UnknownName
from trials.model import MEASURES, Better, Margin, Measure, Trial
from trials.plot_rows import plot_conduct, plot_table
from trials.records.any_table import TableColumns, read_table
from trials.stats.conduct import conduct_cautions
from trials.stats.results import Comparison
from trials.stats.table import Question, Scale
from trials.store import Store

if TYPE_CHECKING:
    import pandas as pd

    from trials.stats.length_grades import GradeShare


STEM_LENGTH = "stem_length_cm"


@dataclass(frozen=True, slots=True)
class Asked:
    """What the grower asks differently from what the trial's plan fixed; None keeps the plan.

    ``second_opinions`` are the randomisation test, the count model and leaving plots out: slower
    than the comparison itself.
    """

    alpha: float | None = None
    check: str | None = None
    better: Better | None = None
    margin: Margin | None = None
    scale: Scale = Scale.IDENTITY
    leave_out_missed: bool = False
    second_opinions: bool = True


def compare(
    store: Path,
    trial: str,
    measure: str | None = None,
    asked: Asked | None = None,
    as_known_at: datetime | int | None = None,
) -> Comparison:
    """The comparison of one measure of one trial, by default of its primary measure.

    ``as_known_at`` takes the records as they were known at a time, or when an entry was made.
    """
    kept = mending.store_at(store, as_known_at)
    held = kept.trial(trial)
    field.require_planted(held)
    key = measure_named(measure or held.primary_measure).key
    measured = kept.length_samples(held.code) if key == STEM_LENGTH else None
    return compare_plots(held, kept.plots(held.code), measure, asked or Asked(), measured)


def compare_plots(
    trial: Trial,
    plots: pd.DataFrame,
    measure: str | None,
    asked: Asked,
    measured: pd.DataFrame | None = None,
) -> Comparison:
    """The comparison of one measure from the trial's plots (one row a plot).

    ``measured`` is what stem lengths rest on, see ``Store.length_samples``.
    """
    chosen = measure_named(measure or trial.primary_measure)
    if asked.leave_out_missed:
        plots = plot_rows.picked_throughout(plots)
    question = Question(
        alpha=asked.alpha or trial.alpha,
        check=asked.check or trial.check,
        better=asked.better or chosen.better,
        margin=asked.margin or planned_margin(trial, chosen),
        scale=asked.scale,
    )
    table = plot_table(trial, plots, chosen)
    if measured is not None:
        table = replace(table, samples=plot_rows.length_samples(plots, measured))
    comparison = stats.compare(table, question)
    if asked.second_opinions:
        comparison = stats.second_opinions(table, question, comparison)
    cautions = conduct_cautions(plot_conduct(plots))
    return replace(comparison, cautions=(*comparison.cautions, *cautions))


def planned_margin(trial: Trial, measure: Measure) -> Margin | None:
    """The trial's margin; one in a unit holds for the primary measure only."""
    margin = trial.margin
    if margin is None or margin.percent or measure.key == trial.primary_measure:
        return margin
    return None


def compare_table(path: Path, columns: TableColumns, asked: Asked) -> Comparison:
    """The comparison of a measure of any CSV table, without a store."""
    question = Question(
        alpha=asked.alpha or 0.05,
        check=asked.check,
        better=asked.better or Better.HIGHER,
        margin=asked.margin,
        scale=asked.scale,
    )
    table = read_table(path, columns)
    return stats.second_opinions(table, question, stats.compare(table, question))


def length_grades(
    store: Path, trial: str, factor: str, *, leave_out_missed: bool = False
) -> tuple[GradeShare, ...]:
    """Each level's marketable stems per plant by length grade."""
    kept = Store.open(store)
    known = [known.name for known in kept.trial(trial).factors]
    if factor not in known:
        raise UnknownName("factor", factor, known)
    plots, counted = kept.plots(trial), kept.grades(trial)
    if leave_out_missed:
        plots = plot_rows.picked_throughout(plots)
    return plot_rows.length_grades(plots, counted, factor)


def measure_named(key: str) -> Measure:
    """The measure of that key or label."""
    for measure in MEASURES:
        if key in (measure.key, measure.label):
            return measure
    raise UnknownName("measure", key, [measure.key for measure in MEASURES])
