"""The story of a season: one short function for each thing a grower does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from trials import records, stats
from trials.errors import TrialState, UnknownName
from trials.model import MEASURES, Better, Margin, Measure, Trial
from trials.records.any_table import TableColumns, read_table
from trials.stats.conduct import PlotConduct, conduct_cautions
from trials.stats.results import Comparison
from trials.stats.table import Labels, PlotTable, Question, Treatment
from trials.store import Store

if TYPE_CHECKING:
    import pandas as pd

    from trials.batch import Added
    from trials.model import Closing

EXPOSURE = {
    "stems_per_plant": "living",
    "stems_per_plant_set": "plants_set",
    "stems_per_metre": "net_length_m",
}


@dataclass(frozen=True, slots=True)
class Asked:
    """What the grower asks differently from what the trial's plan fixed; None keeps the plan."""

    alpha: float | None = None
    check: str | None = None
    better: Better | None = None
    margin: Margin | None = None
    leave_out_missed: bool = False


def load(store: Path, files: Sequence[Path], *, dry_run: bool = False) -> Added:
    """Bring records in from files or folders, all or nothing; make the store if there is none.

    Raises
    ------
    RecordsRefused
        Some cell cannot be right. Every fault is listed and nothing was stored.
    """
    if dry_run and not store.exists():
        return records.read(files, Store.nothing_known()).as_added
    kept = Store.open(store) if store.exists() else None
    batch = records.read(files, Store.nothing_known() if kept is None else kept.known())
    if dry_run:
        return batch.as_added
    return (kept or Store.create(store)).add(batch)


def trials(store: Path) -> tuple[Trial, ...]:
    """The trials of a store, newest season first."""
    return Store.open(store).trials()


def close(store: Path, trial: str, on: date, reason: str) -> Closing:
    """End a trial's season; from then on its records are fixed."""
    return Store.open(store).close(trial, on, reason)


def measure_named(key: str) -> Measure:
    """The measure of that key or label."""
    for measure in MEASURES:
        if key in (measure.key, measure.label):
            return measure
    raise UnknownName("measure", key, [measure.key for measure in MEASURES])


def compare(
    store: Path, trial: str, measure: str | None = None, asked: Asked | None = None
) -> Comparison:
    """The comparison of one measure of one trial, by default of its primary measure."""
    kept = Store.open(store)
    plan = kept.trial(trial)
    return compare_plots(plan, kept.plots(plan.code), measure, asked or Asked())


def compare_plots(
    trial: Trial, plots: pd.DataFrame, measure: str | None, asked: Asked
) -> Comparison:
    """The comparison of one measure from the trial's plots (one row a plot)."""
    chosen = measure_named(measure or trial.primary_measure)
    if asked.leave_out_missed:
        plots = plots[plots["missed_picks"] == 0].reset_index(drop=True)
    table = plot_table(trial, plots, chosen)
    question = Question(
        alpha=asked.alpha or trial.alpha,
        check=asked.check or trial.check,
        better=asked.better or chosen.better,
        margin=asked.margin or trial.margin,
        decimals=chosen.decimals,
    )
    comparison = stats.compare(table, question)
    cautions = conduct_cautions(_conduct(trial, plots))
    return replace(comparison, cautions=(*comparison.cautions, *cautions))


def compare_table(path: Path, columns: TableColumns, asked: Asked) -> Comparison:
    """The comparison of a measure of any CSV table, without a store."""
    question = Question(
        alpha=asked.alpha or 0.05,
        check=asked.check,
        better=asked.better or Better.HIGHER,
        margin=asked.margin,
    )
    table = read_table(path, columns)
    return stats.second_opinions(table, question, stats.compare(table, question))


def plot_table(trial: Trial, plots: pd.DataFrame, measure: Measure) -> PlotTable:
    """The table a comparison is made of, from a trial's plots.

    Whole plots are told apart by their block, whole-plot label and bed.
    """
    treatments = tuple(
        Treatment(Labels.of(factor.name, plots[factor.name].tolist()), factor.applied_to)
        for factor in trial.factors
        if len(factor.levels) > 1
    )
    exposure = EXPOSURE.get(measure.key)
    whole_plots = plots["whole_plot"]
    return PlotTable(
        measure=measure.label,
        unit=measure.unit,
        y=plots[measure.key].to_numpy(dtype=np.float64, na_value=np.nan),
        treatments=treatments,
        plot_names=tuple(plots["plot"]),
        block=None if plots["block"].isna().all() else Labels.of("block", plots["block"].tolist()),
        whole_plot_unit=None
        if whole_plots.isna().all()
        else Labels.of(
            "whole plot",
            [f"{block}/{whole}" for block, whole in zip(plots["block"], whole_plots, strict=True)],
        ),
        plants=None
        if exposure is None
        else plots[exposure].to_numpy(dtype=np.float64, na_value=np.nan),
    )


def _conduct(trial: Trial, plots: pd.DataFrame) -> tuple[PlotConduct, ...]:
    names = [factor.name for factor in trial.factors]

    def known(value: object) -> object:
        return None if value is None or value != value else value  # noqa: PLR0124 - NaN only

    return tuple(
        PlotConduct(
            plot=row["plot"],
            treatment=", ".join(str(row[name]) for name in names),
            transplanted_on=known(row["transplanted_on"]),  # type: ignore[arg-type]
            plants_set=known(row["plants_set"]),  # type: ignore[arg-type]
            living=known(row["living"]),  # type: ignore[arg-type]
            lost_reason=known(row["lost_reason"]),  # type: ignore[arg-type]
            missed_picks=int(row["missed_picks"]),
            last_cut=known(row["last_cut"]),  # type: ignore[arg-type]
        )
        for row in plots.to_dict("records")
    )


def require_closed(trial: Trial) -> None:
    """Refuse to decide from a trial whose season is not over."""
    if trial.closed_on is None:
        raise TrialState(
            f"Trial {trial.code} is still open, so its totals may grow. "
            f"Close it first: tallybed close {trial.code} --on DATE"
        )
