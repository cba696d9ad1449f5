"""A trial's plots, one row each, as the values that a comparison takes."""

from __future__ import annotations

from collections import Counter
from dataclasses import fields
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from trials.model.saleable import LEAST_SALEABLE_SHARE
from trials.model.trial import Measure, Trial
from trials.stats.checks.conduct import PlotConduct
from trials.stats.design.table import Labels, PlotTable, Samples, Treatment
from trials.stats.length_grades import GradeShare, grade_shares
from trials.stats.results import TooShort
from trials.stats.season_views import PlotRecord, PlotSeen, WeekStems

if TYPE_CHECKING:
    import pandas as pd

# What a measure was divided by: the columns that turn it back into what was counted.
EXPOSURE = {
    "stems_per_plant": ("living",),
    "stems_per_plant_set": ("plants_set",),
    "stems_per_metre": ("net_length_m",),
    "saleable_length_share": ("marketable_stems", "short_stems"),
    "marketable_share": ("marketable_stems", "short_stems", "culled_stems"),
}


def plot_table(trial: Trial, plots: pd.DataFrame, measure: Measure) -> PlotTable:
    """The table a comparison is made of, from a trial's plots.

    Whole plots are told apart by their block and label, split plots by those and their own.
    """
    treatments = tuple(
        Treatment(Labels.of(factor.name, plots[factor.name].tolist()), factor.applied_to)
        for factor in trial.factors
        if len(factor.levels) > 1
    )
    exposure = EXPOSURE.get(measure.key)
    return PlotTable(
        measure=measure.label,
        unit=measure.unit,
        y=plots[measure.key].to_numpy(dtype=np.float64, na_value=np.nan),
        treatments=treatments,
        plot_names=tuple(plots["plot"]),
        plot=Labels.of("plot", plots["plot"].tolist()),
        block=_labels(plots, "block"),
        row=_labels(plots, "row"),
        column=_labels(plots, "column"),
        incomplete_block=_labels(plots, "incomplete_block"),
        whole_plot_unit=_pieces(plots, "block", "whole_plot"),
        split_plot_unit=_pieces(plots, "block", "whole_plot", "split_plot"),
        plants=None
        if exposure is None
        else plots[list(exposure)].to_numpy(dtype=np.float64, na_value=np.nan).sum(axis=1),
    )


def length_samples(plots: pd.DataFrame, measured: pd.DataFrame) -> Samples:
    """What each plot's stem length rests on, from ``Store.length_samples``."""
    of_plot = measured.set_index("plot").reindex(plots["plot"])
    freedom = float(of_plot["freedom"].sum())
    return Samples(
        counts=of_plot["stems"].fillna(0).to_numpy(dtype=np.intp),
        shares=of_plot["share"].to_numpy(dtype=np.float64, na_value=np.nan),
        row_variance=float(of_plot["squares"].sum()) / freedom if freedom else 0.0,
    )


def _labels(plots: pd.DataFrame, name: str) -> Labels | None:
    """A part of the ground that only some layouts have."""
    if name not in plots or plots[name].isna().all():
        return None
    return Labels.of(name.replace("_", " "), plots[name].tolist())


def _pieces(plots: pd.DataFrame, *names: str) -> Labels | None:
    """Pieces of ground by their label within the larger pieces around them, named before it."""
    smallest = names[-1]
    if smallest not in plots or plots[smallest].isna().all():
        return None
    spelled = zip(*(plots[name] for name in names), strict=True)
    return Labels.of(smallest.replace("_", " "), ["/".join(map(str, part)) for part in spelled])


def _known(value: object) -> object:
    """A cell of a frame; None where it holds nothing."""
    return None if value is None or value != value else value  # noqa: PLR0124 - NaN only


def plot_conduct(plots: pd.DataFrame) -> tuple[PlotConduct, ...]:
    """How each plot was kept, for the cautions about the conduct of a trial."""
    names = [each.name for each in fields(PlotConduct)]
    return tuple(
        PlotConduct(
            plot=row["plot"],
            transplanted_on=_known(row["transplanted_on"]),  # type: ignore[arg-type]
            plants_set=_known(row["plants_set"]),  # type: ignore[arg-type]
            living=_known(row["living"]),  # type: ignore[arg-type]
            lost_reason=_known(row["lost_reason"]),  # type: ignore[arg-type]
            missed_picks=int(row["missed_picks"]),
            unrecorded_picks=int(row["unrecorded_picks"]),
            last_cut=_known(row["last_cut"]),  # type: ignore[arg-type]
            plants_of=_known(row["plants_of"]),  # type: ignore[arg-type]
            stake_of=_known(row["stake_of"]),  # type: ignore[arg-type]
        )
        for row in plots[names].to_dict("records")
    )


def saleable_shares(plots: pd.DataFrame, factor: str) -> dict[str, float]:
    """The marketable part of each level's graded stems; levels without any are left out."""
    sums: dict[str, tuple[float, float]] = {}
    columns = (plots[name] for name in (factor, "marketable_stems", "short_stems"))
    for level, tall, short in zip(*columns, strict=True):
        if level is not None and tall == tall and short == short:  # noqa: PLR0124 - NaN only
            before, graded = sums.get(level, (0.0, 0.0))
            sums[level] = before + tall, graded + tall + short
    return {
        str(level): float(tall / graded)
        for level, (tall, graded) in sorted(sums.items())
        if graded > 0
    }


def too_short(trial: Trial, plots: pd.DataFrame) -> tuple[TooShort, ...]:
    """The levels that are too short to sell."""
    return tuple(
        TooShort(factor.name, level, share)
        for factor in trial.factors
        if len(factor.levels) > 1
        for level, share in saleable_shares(plots, factor.name).items()
        if share < LEAST_SALEABLE_SHARE
    )


def picked_throughout(plots: pd.DataFrame) -> pd.DataFrame:
    """The plots without a missed pick or a picking day left blank: their totals are whole."""
    whole = (plots["missed_picks"] == 0) & (plots["unrecorded_picks"] == 0)
    return plots[whole].reset_index(drop=True)


def length_grades(plots: pd.DataFrame, grades: pd.DataFrame, factor: str) -> tuple[GradeShare, ...]:
    """Each level's graded stems per plant by length grade."""
    by_grade = grades.pivot(index="plot", columns="grade_cm", values="stems")
    by_grade = by_grade.sort_index(axis="columns").reindex(plots["plot"])
    return grade_shares(
        Labels.of(factor, plots[factor].tolist()),
        tuple(float(grade) for grade in by_grade.columns),
        by_grade.to_numpy(dtype=np.float64, na_value=np.nan),
        plots["living"].to_numpy(dtype=np.float64, na_value=np.nan),
    )


def stems_by_week(plots: pd.DataFrame, by_day: pd.DataFrame, factor: str) -> tuple[WeekStems, ...]:
    """Each level's saleable stems per plant in each week from the first to the last with any.

    ``by_day`` is ``Store.stems_by_day``; plots without living plants or totals are left out, as
    they are from stems per plant.
    """
    counted = plots[(plots["living"] > 0) & plots["marketable_stems"].notna()]
    living = counted.set_index("plot")["living"]
    days = by_day[by_day["plot"].isin(living.index) & (by_day["stems"] > 0)]
    if days.empty:
        return ()
    mondays = [day - timedelta(days=day.weekday()) for day in map(_day, days["cut_on"])]
    of_level = dict(zip(counted["plot"], counted[factor], strict=True))
    plots_of = Counter(of_level.values())
    sums: dict[tuple[str, date], float] = {}
    for plot, monday, stems in zip(days["plot"], mondays, days["stems"], strict=True):
        at = (of_level[plot], monday)
        sums[at] = sums.get(at, 0.0) + stems / living[plot]
    weeks = (max(mondays) - min(mondays)).days // 7 + 1
    every = [min(mondays) + timedelta(weeks=week) for week in range(weeks)]
    return tuple(
        WeekStems(str(level), monday, sums.get((level, monday), 0.0) / number)
        for level, number in plots_of.items()
        for monday in every
    )


def _day(value: date) -> date:
    """A day as the frame holds it, with or without a clock."""
    return date(value.year, value.month, value.day)


def plots_seen(trial: Trial, plots: pd.DataFrame, measure: Measure) -> tuple[PlotSeen, ...]:
    """Each plot where it lies, with its figure and how far that is from its treatment's mean."""
    factors = [factor.name for factor in trial.factors]
    values = plots[measure.key].astype("float64")
    blocks = _labels(plots, "block")
    treatments = list(zip(*(plots[name].tolist() for name in factors), strict=True))
    known: dict[tuple[str, ...], list[float]] = {}
    for treatment, value in zip(treatments, values, strict=True):
        if np.isfinite(value):
            known.setdefault(treatment, []).append(float(value))
    seen = []
    for row, treatment, value in zip(plots.to_dict("records"), treatments, values, strict=True):
        alike = known.get(treatment, [])
        has = bool(np.isfinite(value))
        seen.append(
            PlotSeen(
                plot=row["plot"],
                bed=str(row["bed"]),
                position=int(row["position"]),
                block=None if blocks is None else str(row["block"]),
                treatment=tuple(str(level) for level in treatment),
                value=float(value) if has else None,
                apart=float(value) - float(np.mean(alike)) if has and len(alike) > 1 else None,
            )
        )
    return tuple(seen)


def plot_records(trial: Trial, plots: pd.DataFrame) -> tuple[PlotRecord, ...]:
    """What was recorded of each plot, added up over the season."""

    def whole(value: object) -> int | None:
        return None if _known(value) is None else round(float(value))  # type: ignore[arg-type]

    blocks = _labels(plots, "block")
    return tuple(
        PlotRecord(
            plot=row["plot"],
            bed=str(row["bed"]),
            position=int(row["position"]),
            block=None if blocks is None else str(row["block"]),
            treatment=tuple(str(row[factor.name]) for factor in trial.factors),
            plants_set=whole(row["plants_set"]),
            living=whole(row["living"]),
            saleable_stems=whole(row["marketable_stems"]),
            short_stems=whole(row["short_stems"]),
            culled_stems=whole(row["culled_stems"]),
            stems_per_plant=_known(row["stems_per_plant"]),  # type: ignore[arg-type]
            stem_length_cm=_known(row["stem_length_cm"]),  # type: ignore[arg-type]
            first_cut=None if _known(row["first_cut"]) is None else _day(row["first_cut"]),
            missed_harvests=int(row["missed_picks"]),
            lost=_known(row["lost_reason"]),  # type: ignore[arg-type]
        )
        for row in plots.to_dict("records")
    )
