"""Comparisons: of one measure of a trial, by length grade, or of a table of somebody's own."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import date, datetime
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

from trials import stats
from trials.errors import UnknownName
from trials.model.trial import MEASURES, AppliedTo, Better, Margin, Measure, RecordsDigest, Trial
from trials.model.units import UnitSystem
from trials.records.rules.one_level import reads
from trials.records.table.columns import TableColumns
from trials.records.table.reading import read_table
from trials.season import correcting as mending
from trials.season import field, net
from trials.season import plot_values as plot_rows
from trials.season.plot_values import EXPOSURE, plot_conduct, plot_table
from trials.stats.checks.conduct import (
    conduct_cautions,
    re_entry_cautions,
    too_short_cautions,
)
from trials.stats.design.table import PlotTable, Question, Scale
from trials.stats.libraries import import_testing
from trials.stats.results import Comparison
from trials.store import Store

if TYPE_CHECKING:
    import pandas as pd

    from trials.model.re_entry import Spray
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


@dataclass(frozen=True, slots=True)
class TrialCompared:
    """A comparison of a stored trial, the digest of the records behind it, and the farm's units."""

    comparison: Comparison
    digest: RecordsDigest
    units: UnitSystem


@dataclass(frozen=True, slots=True)
class PlotRecords:
    """What the comparisons of a trial are made from, all of one state of its records.

    ``plots`` has one row per plot, ``lengths`` is ``Store.length_samples`` (None: not read) and
    ``early`` is ``Store.cuts_before_re_entry``. ``currency`` is what measures in money are in.
    """

    trial: Trial
    plots: pd.DataFrame
    lengths: pd.DataFrame | None
    early: tuple[tuple[str, date, Spray], ...]
    currency: str = net.MONEY


def plot_records(store: Path, trial: str) -> PlotRecords:
    """The records that the comparisons of a trial are made from, for any number of measures."""
    with Store.open(store).at_once() as kept:
        held = _planted(kept, trial)
        return PlotRecords(
            trial=held,
            plots=kept.plots(held.code),
            lengths=kept.length_samples(held.code),
            early=kept.cuts_before_re_entry(held.code),
            currency=net.own_currency(kept),
        )


def _records_of(kept: Store, held: Trial, measure: str | None) -> PlotRecords:
    """The same of a store ``at_once``, but only what one measure needs."""
    key = measure_named(measure or held.primary_measure).key
    lengths = kept.length_samples(held.code) if key == STEM_LENGTH else None
    plots, currency = kept.yields(held.code), net.MONEY
    if key not in plots:  # a measure in money
        plots, currency = kept.plots(held.code), net.own_currency(kept)
    return PlotRecords(held, plots, lengths, kept.cuts_before_re_entry(held.code), currency)


def _planted(kept: Store, trial: str) -> Trial:
    """The trial; refuses one that is not planted before anything else is read."""
    held = kept.trial(trial)
    field.require_planted(held)
    return held


def compare_trial(
    store: Path,
    trial: str,
    measure: str | None = None,
    asked: Asked | None = None,
    as_known_at: datetime | int | None = None,
) -> Comparison:
    """The comparison of one measure of one trial, by default of its primary measure.

    ``as_known_at`` takes the records as they were known at a time, or when an entry was made.
    """
    with mending.store_at(store, as_known_at).at_once() as kept:
        records = _records_of(kept, _planted(kept, trial), measure)
    return compare_records(records, measure, asked)


def compare_with_digest(
    store: Path,
    trial: str,
    measure: str | None = None,
    asked: Asked | None = None,
    as_known_at: datetime | int | None = None,
) -> TrialCompared:
    """The same, with the digest of the very records that it was made from."""
    asked = asked or Asked()
    # The libraries are imported while the file is read. One thread alone imports them, as imports
    # in two can deadlock: reading waits for pandas and imports nothing else of theirs.
    with ThreadPoolExecutor(1) as importer:
        importer.submit(import_module, "pandas.api")  # every question to the store needs it
        with mending.store_at(store, as_known_at).at_once() as kept:
            held = _planted(kept, trial)
            if _takes_statsmodels(held, measure, asked):
                importer.submit(import_testing)
            records = _records_of(kept, held, measure)
            digest, units = kept.digest(trial), kept.units() or UnitSystem.METRIC
    return TrialCompared(compare_records(records, measure, asked), digest, units)


def _takes_statsmodels(held: Trial, measure: str | None, asked: Asked) -> bool:
    """Whether it tests: one error stratum, or a count or share whose model is asked for."""
    if all(factor.applied_to is AppliedTo.PLOT for factor in held.factors):
        return True
    return asked.second_opinions and measure_named(measure or held.primary_measure).key in EXPOSURE


def compare_records(
    records: PlotRecords, measure: str | None = None, asked: Asked | None = None
) -> Comparison:
    """The comparison of one measure of a trial from its records; see ``compare_trial``."""
    key = measure_named(measure or records.trial.primary_measure).key
    lengths = records.lengths if key == STEM_LENGTH else None
    found = compare_plots(
        records.trial, records.plots, key, asked or Asked(), lengths, records.currency
    )
    return replace(found, cautions=(*found.cautions, *re_entry_cautions(records.early)))


def compare_plots(
    trial: Trial,
    plots: pd.DataFrame,
    measure: str | None,
    asked: Asked,
    measured: pd.DataFrame | None = None,
    currency: str = net.MONEY,
) -> Comparison:
    """The comparison of one measure from the trial's plots (one row a plot).

    ``measured`` is what stem lengths rest on, see ``Store.length_samples``; a measure in money is
    in ``currency``.
    """
    chosen = net.paid_in(measure_named(measure or trial.primary_measure), currency)
    if asked.leave_out_missed:
        plots = plot_rows.picked_throughout(plots)
    short = plot_rows.too_short(trial, plots)
    question = Question(
        alpha=asked.alpha or trial.alpha,
        check=asked.check or trial.check,
        better=asked.better or chosen.better,
        margin=asked.margin or trial.margin_in(chosen),
        scale=asked.scale,
        not_in_running=frozenset((each.factor, each.level) for each in short),
    )
    table = plot_table(trial, plots, chosen)
    if measured is not None:
        table = replace(table, samples=plot_rows.length_samples(plots, measured))
    comparison = stats.compare(table, question)
    if asked.second_opinions:
        comparison = stats.second_opinions(table, question, comparison)
    cautions = (
        *comparison.cautions,
        *too_short_cautions(short),
        *conduct_cautions(plot_conduct(plots)),
    )
    return replace(comparison, cautions=cautions, too_short=short)


def compare_table(source: Path | pd.DataFrame, columns: TableColumns, asked: Asked) -> Comparison:
    """The comparison of a measure of any table, without a store; see ``read_table``."""
    read = read_table(source, columns)
    question = Question(
        alpha=asked.alpha or 0.05,
        check=_level_meant(asked.check, read.plots),
        better=asked.better or Better.HIGHER,
        margin=asked.margin,
        scale=asked.scale,
    )
    found = stats.compare(read.plots, question)
    if asked.second_opinions:
        found = stats.second_opinions(read.plots, question, found)
    return replace(found, cautions=(*read.cautions, *found.cautions))


def _level_meant(check: str | None, table: PlotTable) -> str | None:
    """The level that a check names, however it is spelled."""
    if check is None:
        return None
    levels = [level for treatment in table.treatments for level in treatment.labels.levels]
    if check in levels:
        return check
    return next((level for level in levels if reads(level) == reads(check)), check)


def length_grades(
    store: Path, trial: str, factor: str, *, leave_out_missed: bool = False
) -> tuple[GradeShare, ...]:
    """Each level's graded stems per plant by length grade."""
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
