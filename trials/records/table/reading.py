"""Reads a table of any trial, from any file that records come in, as plots to compare."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from trials.errors import Fault, RecordsRefused, TableRefused
from trials.records.encoded_column import Cells, Spelled
from trials.records.faults import Faults, Places, Wrong, shown
from trials.records.files.parquet import read_frame
from trials.records.files.tables import read_tables
from trials.records.rules.cells import unseen
from trials.records.rules.one_level import Variants, looks, tidy, variants_of
from trials.records.table.columns import TableColumns
from trials.records.table.measure import measured
from trials.records.table.numbers import Mark, mark_of, numbers_of
from trials.records.table.questions import require_clear
from trials.stats.design.table import Floats, Labels, PlotTable, RowsAre, Treatment
from trials.stats.results import Caution

if TYPE_CHECKING:
    import pandas as pd

ROWS_NAMED = 5
MOST_LEVELS = 500  # with 400, every pair and both second opinions take some 20 seconds


@dataclass(frozen=True, slots=True, eq=False)
class TrialTable:
    """A table as a comparison takes it, and what a reader must know of how it was read."""

    plots: PlotTable
    cautions: tuple[Caution, ...] = ()


def read_table(source: Path | pd.DataFrame, columns: TableColumns) -> TrialTable:
    """Read a file or a data frame as a table of plots.

    Parameters
    ----------
    source
        A data frame, whose index is left out; or a CSV file of any encoding and separator, a
        workbook or a Parquet file, with one heading row. Numbers have a decimal point or a
        decimal comma, all of them the same.
    columns
        Which column plays which part. The measure is divided by ``columns.plants``, or is a
        share of ``columns.of``, where that is given.

    Raises
    ------
    TableRefused
        The file cannot be read, a named column is missing, a label is empty, a cell that must be
        a number is not, two levels of one treatment differ only in how they are spelled, or a
        column of blocks names every row.
    TableUnclear
        The rows may be plants of one plot, or of several seasons or sites; see
        ``require_clear``.
    """
    cells = _named_table(source, columns)
    places = {tidy(name): i for i, name in enumerate(cells.heading)}
    of = {name: cells.columns[places[tidy(name)]] for name in (*columns.labels, *columns.numbers)}
    faults = Faults()
    mark = mark_of([of[name] for name in columns.numbers])
    numbers = {
        name: _numbers(cells, name, of[name], mark, faults, name not in columns.covariates)
        for name in columns.numbers
    }
    measure = measured(cells, columns, numbers, faults)
    variants = {name: _variants(cells, name, of[name], faults) for name in columns.labels}
    labelled = {name: _labels(name, of[name], variants[name]) for name in columns.labels}
    _require_one_spelling(cells, columns, of, variants, labelled, faults)
    _require_blocks(cells, columns, labelled, faults)
    _require_one_part(cells, columns, faults)
    _require_few(cells, labelled, columns.every_treatment, faults)
    _refuse(faults, cells.file)

    def part(name: str | None) -> Labels | None:
        return None if name is None else labelled[name]

    plot = part(columns.plot)
    names = (
        tuple(f"row {number}" for number in cells.row_numbers.tolist())
        if plot is None
        else tuple(plot.levels[code] for code in plot.codes)
    )
    plots = PlotTable(
        measure=measure.name,
        unit=measure.unit,
        y=measure.y,
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
        plants=measure.numbers,
        covariates=tuple((name, numbers[name]) for name in columns.covariates),
        rows_are=None if columns.rows_are is None else RowsAre(columns.rows_are),
    )
    require_clear(cells, columns, plots)
    return TrialTable(plots, _spelling_cautions(cells, of, variants))


def _refuse(faults: Faults, *files: str) -> None:
    """Refuse the table for what is wrong in these files; of any file where none is named."""
    try:
        faults.refuse_if_any()
    except RecordsRefused as refused:
        here = tuple(fault for fault in refused.faults if not files or fault.file in files)
        if here:
            raise TableRefused(here) from None


def _named_table(source: Path | pd.DataFrame, columns: TableColumns) -> Cells:
    """The one table of the file that has the named columns."""
    faults = Faults()
    if isinstance(source, Path):
        name = shown(source.name)[1:-1]
        tables = read_tables(name, source, faults)
    else:
        name = "the data frame"
        framed = read_frame(name, source, faults)
        tables = () if framed is None else (framed,)
    wanted = tuple(dict.fromkeys((*columns.numbers, *columns.labels)))
    fitting = [cells for cells in tables if not _missing(cells, wanted)]
    if len(fitting) > 1:
        sheets = ", ".join(cells.file.removeprefix(f"{name}, sheet ") for cells in fitting)
        wrong = Wrong(
            f"Several worksheets have these columns: {sheets}.",
            "Save the one to compare as a separate file.",
        )
        faults = Faults()
        faults.add(name, None, None, wrong)
        _refuse(faults)
    for cells in fitting:
        _refuse(faults, name, cells.file)
        _require_rows(cells)
        return cells
    _refuse(faults)
    best = min(tables, key=lambda cells: len(_missing(cells, wanted)))
    raise TableRefused(_missing(best, wanted))


def _require_rows(cells: Cells) -> None:
    if not len(cells):
        wrong = "There are no rows under the heading."
        raise TableRefused([Fault(cells.file, None, None, wrong, "Add the rows of plots.")])


def _missing(cells: Cells, wanted: Iterable[str]) -> list[Fault]:
    """What is wrong with the headings: each wanted column is there once."""
    headings = [tidy(name) for name in cells.heading]
    found = []
    for name in wanted:
        count = headings.count(tidy(name))
        if count == 1:
            continue
        if count:
            problem = f"{count} columns have this heading."
            remedy = "Give each column a heading of its own."
        else:
            problem = "There is no column of this name."
            near = get_close_matches(tidy(name), headings, n=1)
            listed = ", ".join(shown(each) for each in headings if each)
            remedy = f"Did you mean {shown(near[0])}?" if near else f"The headings are: {listed}."
        found.append(Fault(cells.file, cells.heading_row, shown(name)[1:-1], problem, remedy))
    return found


def _numbers(
    cells: Cells, name: str, column: Spelled, mark: Mark, faults: Faults, may_be_empty: bool
) -> Floats:
    values, wrong = numbers_of(column, mark, cells.separator, may_be_empty=may_be_empty)
    for row, each in wrong.items():
        faults.add(cells.file, int(cells.row_numbers[row]), name, each)
    return values


def _variants(cells: Cells, name: str, column: Spelled, faults: Faults) -> Variants:
    empty = column.where(lambda text: not tidy(text))
    wrong = Wrong("The label is empty.", "Write the level of this plot, or remove the row.")
    rows = cells.row_numbers[empty].tolist()
    faults.add_rows(Places.of(cells.file, rows), name, lambda i: wrong)
    for text in {text for text in column.used() if unseen(tidy(text)) is not None}:
        wrong = Wrong(f"{shown(text)} has an invisible character.", "Type the cell again.")
        rows = cells.row_numbers[column.where(lambda each, text=text: each == text)].tolist()  # type: ignore[misc]
        faults.add_rows(Places.of(cells.file, rows), name, lambda i, wrong=wrong: wrong)  # type: ignore[misc]
    often = np.bincount(column.codes, minlength=len(column.texts))
    return variants_of(
        {text: int(n) for text, n in zip(column.texts, often, strict=True) if n and tidy(text)}
    )


def _labels(name: str, column: Spelled, variants: Variants) -> Labels:
    return Labels.of(name, column.respelled(lambda t: variants.level_of.get(t, "")).cells())


def _require_one_spelling(
    cells: Cells,
    columns: TableColumns,
    of: Mapping[str, Spelled],
    variants: Mapping[str, Variants],
    labelled: Mapping[str, Labels],
    faults: Faults,
) -> None:
    """Two spellings of a treatment may be two entries where both are in one block."""
    around = [
        labelled[name].codes
        for name in (columns.season, columns.site, columns.block, columns.incomplete_block)
        if name is not None
    ]
    place = np.unique(np.stack(around), axis=1, return_inverse=True)[1] if around else None
    for name in columns.every_treatment:
        column = of[name].respelled(looks)
        for level, others in variants[name].respelled.items():
            usual = _spelled_so(column, level)
            for other in others:
                here = _spelled_so(column, other)
                together = place is not None and np.isin(place[here], place[usual]).any()
                if together or len(level) == 1:
                    row = int(cells.row_numbers[np.flatnonzero(here)[0]])
                    wrong = Wrong(
                        f"{shown(other)} and {shown(level)} may be one level or two.",
                        "If they are one, write it the same way in every row. If they are two, "
                        "give them names that differ in more than capitals, hyphens or spaces.",
                    )
                    faults.add(cells.file, row, name, wrong)


def _require_blocks(
    cells: Cells, columns: TableColumns, labelled: Mapping[str, Labels], faults: Faults
) -> None:
    """A column of blocks that names every row would make no blocks at all."""
    lone = columns.block is None and (columns.row is None) != (columns.column is None)
    for part in ("block", "incomplete_block", *(("row", "column") if lone else ())):
        name = getattr(columns, part)
        if name is not None and 1 < len(cells) == len(labelled[name].levels):
            wrong = Wrong(
                "This column has a different value in each row, so it names rows, not blocks.",
                f"Name the column of the blocks, or leave --{part.replace('_', '-')} out if there "
                "were none.",
            )
            faults.add(cells.file, cells.heading_row, name, wrong)


def _require_one_part(cells: Cells, columns: TableColumns, faults: Faults) -> None:
    """The measure cannot also be a label, a covariate or what it is divided by."""
    others = (*columns.labels, *columns.covariates, columns.plants, columns.of)
    if columns.measure in others:
        wrong = Wrong(
            "This column is named as the measure and as part of the layout.",
            "Name another column for one of the two.",
        )
        faults.add(cells.file, cells.heading_row, columns.measure, wrong)


def _require_few(
    cells: Cells, labelled: Mapping[str, Labels], treatments: tuple[str, ...], faults: Faults
) -> None:
    for name in treatments:
        levels = len(labelled[name].levels)
        if levels > MOST_LEVELS:
            wrong = Wrong(
                f"This column has {levels:,} levels; at most {MOST_LEVELS} can be compared.",
                "Name the column of treatments, or split the table.",
            )
            faults.add(cells.file, cells.heading_row, name, wrong)


def _spelling_cautions(
    cells: Cells, of: Mapping[str, Spelled], variants: Mapping[str, Variants]
) -> tuple[Caution, ...]:
    said: list[str] = []
    for name, found in variants.items():
        column = of[name].respelled(looks)
        for level, others in found.respelled.items():
            for other in others:
                rows = cells.row_numbers[_spelled_so(column, other)].tolist()
                said.append(f"{name}: {shown(other)} ({_rows(rows)}) as {shown(level)}.")
        said += [
            f"{name}: {shown(level)} is written with different spaces, hyphens or signs."
            for level in found.look_alike
        ]
    if not said:
        return ()
    text = "Each of these was read as one level. " + " ".join(said)
    return (Caution("spellings", text),)


def _spelled_so(column: Spelled, level: str) -> NDArray[np.bool_]:
    """The rows of a column (its texts as they look) whose level looks like this one."""
    return column.where(lambda text: text == looks(level))


def _rows(numbers: list[int]) -> str:
    first = ", ".join(map(str, numbers[:ROWS_NAMED]))
    more = f" and {len(numbers) - ROWS_NAMED} more" if len(numbers) > ROWS_NAMED else ""
    return f"row{'s' if len(numbers) > 1 else ''} {first}{more}"
