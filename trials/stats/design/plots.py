"""From the rows of a table to one row a plot: sub-samples averaged, copied rows refused."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from trials.errors import ComparisonRefused
from trials.stats.design.experimental_units import Ground, ground_of, grouped
from trials.stats.design.linear_model import Grouping
from trials.stats.design.sub_samples import samples_of
from trials.stats.design.table import Codes, Floats, Labels, PlotTable, RowsAre, Samples, Treatment
from trials.stats.results import Caution

# Fewer distinct rows than this may repeat one another by chance.
FEWEST_COPIED_ROWS = 4


@dataclass(frozen=True, slots=True, eq=False)
class Plots:
    """A table with one row a plot (``y`` NaN where nothing was recorded), and its ground.

    ``samples`` are the rows behind each value; None where no plot had several.
    """

    table: PlotTable
    ground: Ground
    cautions: tuple[Caution, ...] = ()
    samples: Samples | None = None


def plots_of(table: PlotTable) -> Plots:
    """Reduce a table to one row a plot.

    Rows that share ``plot`` (within their block, whole plot, season and site) are sub-samples of
    it and are averaged, weighted by ``plants`` where recorded; rows without a figure are left out
    of the mean. Where no column names the plots, rows that the layout's columns cannot tell apart
    are one plot's samples if every place holds several of them, and plots of their own
    otherwise; with no layout column at all each row is a plot. ``rows_are`` decides instead where
    it is given: rows that are plants belong to one plot for each place and treatment. Where every
    treatment was given to a larger unit, that unit is the plot.

    Raises
    ------
    ComparisonRefused
        There is nothing to compare, the table holds every row several times, one plot carries
        two levels of a treatment, or rows that are plots share a plot.
    """
    _require_something(table)
    cautions: list[Caution] = []
    if table.plot is not None:
        plot = grouped("plot", *_place(table), table.plot.codes)
        _require_one_treatment(table, table.plot, plot)
        _require_plots(table, plot)
        table, samples = _reduced(table, plot)
    else:
        _refuse_copies(table)
        table, samples, note = _by_place(table)
        cautions += [] if note is None else [note]
    ground = ground_of(table)
    if not ground.plot_factors and ground.units:
        unit = ground.units[-1].name
        finest = grouped(unit, *_around(ground), *(u.grouping.codes for u in ground.units))
        if finest.count < table.y.size:
            cautions = [_averaged_units(table, finest)]
            table, samples = _reduced(table, finest)
            ground = replace(ground_of(table), plot_unit=unit)
    return Plots(table, ground, tuple(cautions), table.samples if samples is None else samples)


def _require_something(table: PlotTable) -> None:
    if not np.isfinite(table.y).any():
        raise ComparisonRefused(
            f"No row has a figure for {table.measure}. Record it, or choose another measure."
        )
    if not any(np.ptp(treatment.labels.codes) for treatment in table.treatments):
        names = " and ".join(treatment.name for treatment in table.treatments) or "the treatment"
        raise ComparisonRefused(
            f"There is only one level of {names}, so there is nothing to compare. "
            "Name a treatment column with two levels or more."
        )


def _layout_labels(table: PlotTable) -> list[Labels]:
    named = (
        table.block,
        table.row,
        table.column,
        table.incomplete_block,
        table.whole_plot_unit,
        table.split_plot_unit,
    )
    return [labels for labels in named if labels is not None]


def _place(table: PlotTable) -> list[Codes]:
    over = [labels for labels in (table.season, table.site) if labels is not None]
    return [labels.codes for labels in (*over, *_layout_labels(table))]


def _around(ground: Ground) -> list[Codes]:
    return [group.codes for group in (ground.trial, ground.block) if group is not None]


def _require_one_treatment(table: PlotTable, name: Labels, plot: Grouping) -> None:
    for treatment in table.treatments:
        codes = treatment.labels.codes
        first = _first_rows(plot)
        odd = np.flatnonzero(codes != codes[first][plot.codes])
        if odd.size:
            row = int(odd[0])
            a, b = (treatment.labels.levels[codes[i]] for i in (first[plot.codes[row]], row))
            raise ComparisonRefused(
                f"Plot {name.levels[name.codes[row]]!r} has both {a} and {b} of "
                f"{treatment.name}. A plot has one level of each treatment. Correct the labels."
            )


def _require_plots(table: PlotTable, plot: Grouping) -> None:
    if table.rows_are == RowsAre.PLOTS and plot.count < table.y.size and table.plot is not None:
        raise ComparisonRefused(
            f"The rows cannot be plots: {table.y.size} rows have only {plot.count} plots in "
            f"{table.plot.name}. Name the column of plots, or say that rows are plots, not both."
        )


def _first_rows(plot: Grouping) -> Codes:
    return np.unique(plot.codes, return_index=True)[1]


def _refuse_copies(table: PlotTable) -> None:
    """Refuse a table that holds each of its rows the same number of times over."""
    recorded = np.flatnonzero(np.isfinite(table.y))
    places = [codes[recorded] for codes in _place(table)]
    treatments = [treatment.labels.codes[recorded] for treatment in table.treatments]
    values = np.unique(table.y[recorded], return_inverse=True)[1]
    if values.max() == 0:
        return
    copies = np.bincount(grouped("row", *places, *treatments, values).codes)
    times = int(np.gcd.reduce(copies))
    if times > 1 and copies.size >= FEWEST_COPIED_ROWS:
        raise ComparisonRefused(
            f"Every row occurs {times} times in the table, with the same labels and the same "
            "figure. Copies are not replicates: remove them. If they are different plots, "
            "add a column that names the plots."
        )


def place_of(table: PlotTable) -> Grouping:
    """The rows (n,) by their place in the named layout and by their treatments."""
    treatments = [treatment.labels.codes for treatment in table.treatments]
    return grouped("plot", *_place(table), *treatments)


def has_layout(table: PlotTable) -> bool:
    """Whether a column names a layout inside a season and site: blocks, rows, whole plots."""
    return bool(_layout_labels(table))


def samples_by_place(table: PlotTable, place: Grouping) -> bool:
    """Whether rows of one place are taken as samples of one plot, where nobody said."""
    on_a_grid = table.row is not None and table.column is not None
    return has_layout(table) and bool(np.bincount(place.codes).min() > 1 or on_a_grid)


def _by_place(table: PlotTable) -> tuple[PlotTable, Samples | None, Caution | None]:
    """Average rows of one place; without a layout column every row is a plot."""
    if table.rows_are == RowsAre.PLOTS:
        return table, None, None
    place = place_of(table)
    plants = table.rows_are == RowsAre.PLANTS
    if not plants and not has_layout(table):
        return (
            table,
            None,
            Caution(
                "rows-as-plots",
                "No column names the plots, so every row was taken as a separate plot. If some "
                "are stems or plants of one plot, add a column of plots and compare again.",
            ),
        )
    held = np.bincount(place.codes)
    if held.max() == 1:
        return table, None, None
    if plants:
        return *_reduced(table, place), Caution(
            "averaged",
            f"The {table.y.size} rows are plants of {place.count} plots, one for each treatment "
            "in each place that the columns name. They were averaged: plants of one plot share "
            "its soil and its care, so they are not replicates.",
        )
    if samples_by_place(table, place):
        return *_reduced(table, place), Caution(
            "averaged",
            f"The {table.y.size} rows name only {place.count} places, so rows of one place were "
            "averaged as samples of one plot. If each row is a plot of its own, say that rows are "
            "plots.",
        )
    shared = np.flatnonzero(held[place.codes] > 1)
    return (
        table,
        None,
        Caution(
            "rows-as-plots",
            "Some treatments have several rows in one block; each was taken as a separate plot. "
            "If they are samples or rows copied by mistake, name the plots in a column.",
            tuple(table.plot_names[i] for i in shared),
        ),
    )


def _reduced(table: PlotTable, plot: Grouping) -> tuple[PlotTable, Samples | None]:
    """One row for each class of ``plot``: means of figures, sums of plants; what was averaged."""
    if plot.count == table.y.size:
        return table, None
    first = _first_rows(plot)
    recorded = np.isfinite(table.y)
    plants = table.plants
    weights = recorded.astype(float)
    if plants is not None and np.isfinite(plants[recorded]).all():
        weights = np.where(recorded, plants, 0.0)
    totals = None if plants is None else _sums(plot, np.where(recorded, plants, np.nan))

    def some(labels: Labels | None) -> Labels | None:
        return None if labels is None else replace(labels, codes=labels.codes[first])

    one_a_plot = PlotTable(
        measure=table.measure,
        unit=table.unit,
        y=_means(plot, table.y, weights),
        treatments=tuple(
            Treatment(replace(t.labels, codes=t.labels.codes[first]), t.applied_to)
            for t in table.treatments
        ),
        plot_names=_names(table, plot, first),
        block=some(table.block),
        row=some(table.row),
        column=some(table.column),
        incomplete_block=some(table.incomplete_block),
        whole_plot_unit=some(table.whole_plot_unit),
        split_plot_unit=some(table.split_plot_unit),
        season=some(table.season),
        site=some(table.site),
        plants=totals,
        covariates=tuple(
            (name, _means(plot, values, recorded.astype(float)))
            for name, values in table.covariates
        ),
    )
    return one_a_plot, samples_of(plot, table.y, weights)


def _averaged_units(table: PlotTable, unit: Grouping) -> Caution:
    names = " and ".join(treatment.name for treatment in table.treatments)
    return Caution(
        "averaged",
        f"Each {unit.source} got one level of {names} as a whole, so its rows were averaged: "
        f"{table.y.size} rows are {unit.count} {unit.source}s.",
    )


def _sums(plot: Grouping, values: Floats) -> Floats:
    known = np.isfinite(values)
    sums = np.bincount(plot.codes, np.where(known, values, 0.0), plot.count)
    none = np.bincount(plot.codes, known, plot.count) == 0
    return np.where(none, np.nan, sums)


def _means(plot: Grouping, values: Floats, weights: Floats) -> Floats:
    total = np.bincount(plot.codes, weights, plot.count)
    sums = np.bincount(plot.codes, np.where(weights > 0, values, 0.0) * weights, plot.count)
    return np.where(total > 0, sums / np.where(total > 0, total, 1.0), np.nan)


def _names(table: PlotTable, plot: Grouping, first: Codes) -> tuple[str, ...]:
    """A plot keeps the name its rows share; otherwise it is named by its labels."""
    names = np.array(table.plot_names, dtype=object)
    shared = np.ones(plot.count, dtype=bool)
    np.logical_and.at(shared, plot.codes, names == names[first][plot.codes])
    labels = [*_layout_labels(table), *(treatment.labels for treatment in table.treatments)]
    return tuple(
        str(names[row])
        if shared[k]
        else ", ".join(f"{each.name} {each.levels[each.codes[row]]}" for each in labels)
        for k, row in enumerate(first)
    )
