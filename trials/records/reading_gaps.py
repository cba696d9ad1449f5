"""Fills cells that are blank because what they say is written once for the rows below it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from trials.records.plot_labels import label_of
from trials.records.reading import DAY, VALUE, Blank, ReadColumn, Reading, distinct
from trials.records.spellings import Cells, Spelled

Mask = NDArray[np.bool_]


def records(reading: Reading, cells: Cells) -> Mask:
    """The rows that are records, not totals."""
    if not cells.columns:
        return np.zeros(0, dtype=bool)
    return ~cells.columns[0].where(lambda text: text.strip().casefold() in reading.no_records)


def notes(cells: Cells) -> Mask:
    """The rows in which but one cell is filled: a remark, no record."""
    filled = np.zeros(len(cells), dtype=np.int64)
    for column in cells.columns:
        filled += column.where(lambda text: bool(text.strip()))
    return filled < 2


def tells_which(reading: Reading, cells: Cells) -> list[tuple[ReadColumn, Spelled]]:
    """The columns that tell which plot a row is of, or which day."""
    if reading.sheet not in VALUE:  # an event without a plot is of the whole trial
        return []
    which = {"plot", DAY.get(reading.sheet)}
    return [
        (read, column)
        for heading, column in zip(distinct(cells.heading), cells.columns, strict=True)
        if (read := reading.column(heading)) is not None
        and read.field is not None
        and (read.field in which or label_of(read.field) is not None)
    ]


def has_gaps(column: Spelled, rows: Mask) -> bool:
    """Whether a record's cell is blank below one that is not."""
    blank = column.where(lambda text: not text.strip()) & rows
    filled = np.flatnonzero(~blank & rows)
    return bool(len(filled) and blank[filled[0] :].any())


def without_gaps(reading: Reading, cells: Cells) -> Cells:
    """The table with such blanks filled from above, where that is what they say."""
    filled = {
        read.heading: _filled(column)
        for read, column in tells_which(reading, cells)
        if read.blank is Blank.AS_ABOVE
    }
    if not filled:
        return cells
    from dataclasses import replace

    named = zip(distinct(cells.heading), cells.columns, strict=True)
    by_heading = {reading_heading(reading, name): name for name in distinct(cells.heading)}
    columns = {by_heading[heading]: column for heading, column in filled.items()}
    return replace(cells, columns=tuple(columns.get(name, column) for name, column in named))


def reading_heading(reading: Reading, name: str) -> str:
    """How the reading writes a heading of the table."""
    read = reading.column(name)
    return name if read is None else read.heading


def _filled(column: Spelled) -> Spelled:
    blank = column.where(lambda text: not text.strip())
    places = np.where(blank, -1, np.arange(len(column)))
    last = np.maximum.accumulate(places) if len(places) else places
    return Spelled(column.texts, np.where(last >= 0, column.codes[last], column.codes))
