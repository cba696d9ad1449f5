"""From a partition's records to the comparisons that are wanted of it.

The tables are those of ``trials.season.plot_values``, made from whole columns.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from trials.model.saleable import LEAST_SALEABLE_SHARE
from trials.model.trial import MEASURES, Measure, Trial
from trials.pool.family_rows import Asked
from trials.stats.design.table import Codes, Floats, Labels, PlotTable, Question, Treatment
from trials.store.partition import Grown


def asked_of(grown: Grown, measures: Sequence[str]) -> Iterator[Asked]:
    """Every recorded measure of every trial, asked as its plan asks.

    A measure of which a trial recorded nothing is not asked, unless the trial recorded nothing at
    all: then its first one is, so that it is refused with its reason.
    """
    # Money is no figure of a plot's records: prices stay with the farm.
    here = [measure for measure in MEASURES if measure.key in grown.plots]
    wanted = [measure for measure in here if not measures or measure.key in measures]
    columns = _Columns.of(grown, wanted)
    for trial in grown.trials:
        rows = columns.rows_of.get(trial.code)
        if rows is not None:
            yield from _of_trial(columns, trial, rows, wanted)


@dataclass(frozen=True, slots=True)
class _Columns:
    """A partition's plots as arrays, and which rows are whose."""

    rows_of: dict[str, Codes]
    plot: list[str]
    levels: dict[tuple[str, str], str]
    texts: dict[str, list[Any]]
    figures: dict[str, Floats]

    @classmethod
    def of(cls, grown: Grown, wanted: Sequence[Measure]) -> _Columns:
        plots = grown.plots
        trial = plots["trial"].to_numpy(dtype=object)
        codes, first = np.unique(trial, return_inverse=True)
        order = np.argsort(first, kind="stable")
        ends = np.cumsum(np.bincount(first, minlength=len(codes)))[:-1]
        told = grown.levels[["plot", "factor", "level"]].to_numpy(dtype=object).tolist()
        places = grown.places.set_index("plot").reindex(plots["plot"])
        texts = {name: plots[name].tolist() for name in ("block", "whole_plot")}
        texts |= {
            name: places[name].astype(object).where(places[name].notna(), None).tolist()
            for name in ("row", "column", "incomplete_block", "split_plot")
        }
        return cls(
            dict(zip(codes.tolist(), np.split(order, ends), strict=True)),
            plots["plot"].tolist(),
            {(plot, factor): level for plot, factor, level in told},
            texts,
            {
                name: plots[name].to_numpy(dtype=np.float64, na_value=np.nan)
                for name in ("marketable_stems", "short_stems", *(each.key for each in wanted))
            },
        )

    def labels(self, rows: Codes, name: str) -> Labels | None:
        """A part of the ground; None where the trial's layout has none."""
        values = self.texts[name]
        own = [values[row] for row in rows.tolist()]
        return None if all(v is None for v in own) else Labels.of(name.replace("_", " "), own)

    def pieces(self, rows: Codes, *names: str) -> Labels | None:
        """The same, named after the larger pieces around it."""
        if self.labels(rows, names[-1]) is None:
            return None
        parts = [self.texts[name] for name in names]
        own = ["/".join(str(part[row]) for part in parts) for row in rows.tolist()]
        return Labels.of(names[-1].replace("_", " "), own)


def _of_trial(
    columns: _Columns, trial: Trial, rows: Codes, wanted: Sequence[Measure]
) -> Iterator[Asked]:
    plots = [columns.plot[row] for row in rows.tolist()]
    treatments = tuple(
        Treatment(
            Labels.of(factor.name, [columns.levels.get((plot, factor.name)) for plot in plots]),
            factor.applied_to,
        )
        for factor in trial.factors
        if len(factor.levels) > 1
    )
    bare = PlotTable(
        measure="",
        unit="",
        y=np.zeros(len(rows)),
        treatments=treatments,
        plot_names=tuple(plots),
        plot=Labels("plot", tuple(plots), np.arange(len(plots))),
        block=columns.labels(rows, "block"),
        row=columns.labels(rows, "row"),
        column=columns.labels(rows, "column"),
        incomplete_block=columns.labels(rows, "incomplete_block"),
        whole_plot_unit=columns.pieces(rows, "block", "whole_plot"),
        split_plot_unit=columns.pieces(rows, "block", "whole_plot", "split_plot"),
    )
    short = _too_short(columns, treatments, rows)
    recorded = [each for each in wanted if np.isfinite(columns.figures[each.key][rows]).any()]
    for measure in recorded or wanted[:1]:
        question = Question(
            alpha=trial.alpha,
            check=trial.check,
            better=measure.better,
            margin=trial.margin_in(measure),
            not_in_running=short,
        )
        y = columns.figures[measure.key][rows]
        table = replace(bare, measure=measure.label, unit=measure.unit, y=y)
        yield Asked(trial.code, measure.key, table, question)


def _too_short(
    columns: _Columns, treatments: Sequence[Treatment], rows: Codes
) -> frozenset[tuple[str, str]]:
    """The levels of which too little is long enough to sell, as (factor, level)."""
    marketable = columns.figures["marketable_stems"][rows]
    graded = marketable + columns.figures["short_stems"][rows]
    known = np.isfinite(graded)
    found = []
    for treatment in treatments:
        codes, levels = treatment.labels.codes[known], treatment.labels.levels
        long = np.bincount(codes, marketable[known], len(levels))
        whole = np.bincount(codes, graded[known], len(levels))
        short = (whole > 0) & (long < LEAST_SALEABLE_SHARE * whole)
        found += [(treatment.name, levels[code]) for code in np.flatnonzero(short).tolist()]
    return frozenset(found)
