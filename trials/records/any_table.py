"""Reads any spreadsheet saved as CSV into the table a comparison is made of."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

import numpy as np

from trials.errors import Fault, FileRefused, TableRefused
from trials.model import AppliedTo
from trials.stats.table import Floats, Labels, PlotTable, Treatment

SEPARATORS = (",", ";", "\t")
NOT_RECORDED = frozenset({"", "NA"})


@dataclass(frozen=True, slots=True)
class TableColumns:
    """Which column of the table plays which part; a part the layout does not have is None or ()."""

    measure: str
    treatments: tuple[str, ...]
    block: str | None = None
    row: str | None = None
    column: str | None = None
    incomplete_block: str | None = None
    whole_plot: tuple[str, ...] = ()
    whole_plot_unit: str | None = None
    split_plot: tuple[str, ...] = ()
    strips: tuple[str, ...] = ()
    plot: str | None = None
    plants: str | None = None
    covariates: tuple[str, ...] = ()
    season: str | None = None
    site: str | None = None

    @property
    def every_treatment(self) -> tuple[str, ...]:
        """All treatment columns once, in the order in which they were first named."""
        named = (*self.treatments, *self.whole_plot, *self.split_plot, *self.strips)
        return tuple(dict.fromkeys(named))

    def applied_to(self, treatment: str) -> AppliedTo:
        """The piece of ground a treatment column was given to."""
        for columns, unit in (
            (self.whole_plot, AppliedTo.WHOLE_PLOT),
            (self.split_plot, AppliedTo.SPLIT_PLOT),
            (self.strips, AppliedTo.STRIP),
        ):
            if treatment in columns:
                return unit
        return AppliedTo.PLOT


@dataclass(frozen=True, slots=True)
class _Cells:
    """The cells of a file as text: heading, body rows, and the decimal mark of its numbers."""

    file: str
    heading: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    decimal: str

    def column(self, name: str) -> list[str]:
        place = self.heading.index(name)
        return [row[place].strip() for row in self.rows]


def read_table(path: Path, columns: TableColumns, unit: str = "") -> PlotTable:
    """Read a CSV file as a table of plots.

    Parameters
    ----------
    path
        UTF-8 text with one heading row, separated by commas, semicolons or tabs. Where the
        separator is a semicolon or a tab, numbers may have a decimal comma.
    columns
        Which column plays which part.
    unit
        The unit of the measure; the measure is divided by ``columns.plants`` where that is given.

    Raises
    ------
    FileRefused
        The file cannot be read, or is not UTF-8 text.
    TableRefused
        A named column is missing, a label is empty, or a cell that must be a number is not.
    """
    cells = _cells(path)
    _require_columns(cells, columns)
    faults: list[Fault] = []
    y = _numbers(cells, columns.measure, faults, may_be_empty=True)
    plants = None
    if columns.plants is not None:
        plants = _numbers(cells, columns.plants, faults, may_be_empty=True)
        faults += _not_positive(cells, columns.plants, plants)
    covariates = tuple(
        (name, _numbers(cells, name, faults, may_be_empty=False)) for name in columns.covariates
    )
    labelled = {name: _labels(cells, name, faults) for name in _label_columns(columns)}
    if faults:
        raise TableRefused(faults)
    measure = columns.measure
    if plants is not None:
        y, measure = y / plants, f"{columns.measure} per {columns.plants}"

    def part(name: str | None) -> Labels | None:
        return None if name is None else labelled[name]

    plot = part(columns.plot)
    names = (
        tuple(f"row {number}" for number in range(2, len(cells.rows) + 2))
        if plot is None
        else tuple(plot.levels[code] for code in plot.codes)
    )
    return PlotTable(
        measure=measure,
        unit=unit,
        y=y,
        treatments=tuple(
            Treatment(labelled[name], columns.applied_to(name)) for name in columns.every_treatment
        ),
        plot_names=names,
        block=part(columns.block),
        row=part(columns.row),
        column=part(columns.column),
        incomplete_block=part(columns.incomplete_block),
        whole_plot_unit=part(columns.whole_plot_unit),
        plot=plot,
        season=part(columns.season),
        site=part(columns.site),
        plants=plants,
        covariates=covariates,
    )


def _cells(path: Path) -> _Cells:
    try:
        raw = path.read_bytes()
    except OSError as problem:
        reason = problem.strerror or "it cannot be read"
        raise FileRefused(f"{path}: {reason}. Check the name and the folder.") from None
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        row = raw[: problem.start].count(b"\n") + 1
        raise FileRefused(
            f"{path}, row {row}: not UTF-8 text. Save the sheet as 'CSV UTF-8' and try again."
        ) from None
    first = text.split("\n", 1)[0]
    separator = max(SEPARATORS, key=first.count)
    try:
        lines = list(csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True))
    except csv.Error as problem:
        raise FileRefused(
            f"{path}: the quotation marks do not pair up ({problem}). "
            "Save the sheet as CSV again from the spreadsheet."
        ) from None
    if not lines or not any(cell.strip() for cell in lines[0]):
        raise FileRefused(f"{path}: the file is empty. It needs a heading row and rows of plots.")
    heading = tuple(cell.strip() for cell in lines[0])
    body: list[tuple[str, ...]] = []
    ragged: list[Fault] = []
    for number, line in enumerate(lines[1:], start=2):
        if len(line) == len(heading):
            body.append(tuple(line))
        elif any(cell.strip() for cell in line):
            ragged.append(
                Fault(
                    path.name,
                    number,
                    None,
                    f"the row has {len(line)} cells and the heading has {len(heading)}.",
                    "Give every row one cell under each heading.",
                )
            )
        else:
            body.append(("",) * len(heading))
    if ragged:
        raise TableRefused(ragged)
    while body and not any(cell.strip() for cell in body[-1]):
        body.pop()
    if not body:
        raise FileRefused(f"{path}: there is a heading row but no row of plots under it.")
    return _Cells(path.name, heading, tuple(body), "." if separator == "," else ",")


def _label_columns(columns: TableColumns) -> tuple[str, ...]:
    single = (
        columns.block,
        columns.row,
        columns.column,
        columns.incomplete_block,
        columns.whole_plot_unit,
        columns.plot,
        columns.season,
        columns.site,
    )
    named = (*columns.every_treatment, *(name for name in single if name is not None))
    return tuple(dict.fromkeys(named))


def _require_columns(cells: _Cells, columns: TableColumns) -> None:
    wanted: Iterable[str] = (
        columns.measure,
        *_label_columns(columns),
        *((columns.plants,) if columns.plants is not None else ()),
        *columns.covariates,
    )
    faults = []
    for name in dict.fromkeys(wanted):
        count = cells.heading.count(name)
        if count == 1:
            continue
        if count:
            faults.append(
                Fault(
                    cells.file,
                    1,
                    name,
                    f"{count} columns carry this heading.",
                    "Give each column a heading of its own.",
                )
            )
            continue
        near = get_close_matches(name, cells.heading, n=1)
        remedy = (
            f"Did you mean {near[0]!r}?" if near else f"The headings are: {_listed(cells.heading)}."
        )
        faults.append(Fault(cells.file, 1, name, "there is no column of this name.", remedy))
    if faults:
        raise TableRefused(faults)


def _listed(names: Sequence[str]) -> str:
    return ", ".join(repr(name) for name in names)


def _numbers(cells: _Cells, name: str, faults: list[Fault], *, may_be_empty: bool) -> Floats:
    values = np.full(len(cells.rows), math.nan)
    for i, cell in enumerate(cells.column(name)):
        if cell in NOT_RECORDED:
            if not may_be_empty:
                faults.append(
                    Fault(cells.file, i + 2, name, "the cell is empty.", "Write the number.")
                )
            continue
        try:
            value = float(cell.replace(",", ".") if cells.decimal == "," else cell)
        except ValueError:
            value = math.nan
        if math.isfinite(value) and "_" not in cell:
            values[i] = value
        else:
            faults.append(
                Fault(
                    cells.file,
                    i + 2,
                    name,
                    f"{cell!r} is not a number.",
                    "Write a plain number such as 12.5, or leave the cell empty "
                    "where nothing was recorded.",
                )
            )
    return values


def _not_positive(cells: _Cells, name: str, plants: Floats) -> list[Fault]:
    return [
        Fault(
            cells.file,
            int(i) + 2,
            name,
            f"{plants[i]:g} plants cannot carry stems.",
            "Write the number of living plants, or leave the cell empty where nobody counted.",
        )
        for i in np.flatnonzero(plants <= 0)
    ]


def _labels(cells: _Cells, name: str, faults: list[Fault]) -> Labels:
    column = cells.column(name)
    faults += [
        Fault(
            cells.file,
            i + 2,
            name,
            "the label is empty.",
            "Write the level this plot carried, or take the row out.",
        )
        for i, cell in enumerate(column)
        if not cell
    ]
    return Labels.of(name, column)
