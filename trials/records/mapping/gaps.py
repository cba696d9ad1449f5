"""Fills cells that are blank because what they say is written once for the rows below it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from trials.records.encoded_column import Cells, Spelled
from trials.records.mapping.plot_labels import label_of
from trials.records.mapping.reading import DAY, VALUE, Blank, ReadColumn, Reading, distinct

Mask = NDArray[np.bool_]
_DITTOS = frozenset({'"', "''", "”", "“", "„", "〃", "″", "do", "do.", "ditto", "dto", "dto."})
_DITTOS |= frozenset({'-"-', "-„-", '- " -', "idem", "id.", "↓", "⇓", "|"})


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
    named = zip(distinct(cells.heading), cells.columns, strict=True)
    by_heading = {reading_heading(reading, name): name for name in distinct(cells.heading)}
    columns = {by_heading[heading]: column for heading, column in filled.items()}
    return replace(cells, columns=tuple(columns.get(name, column) for name, column in named))


def is_ditto(text: str) -> bool:
    """Whether a text says that the cell above it holds here too."""
    return text.strip().casefold() in _DITTOS


def without_dittos(reading: Reading, cells: Cells) -> Cells:
    """The table with ditto marks replaced by what they repeat, but for counts and measures."""
    columns = [
        _filled(column, is_ditto)
        if any(map(is_ditto, column.texts)) and is_repeatable(reading, name)
        else column
        for name, column in zip(distinct(cells.heading), cells.columns, strict=True)
    ]
    return replace(cells, columns=tuple(columns))


def is_repeatable(reading: Reading, heading: str) -> bool:
    """Whether a ditto mark under a heading can repeat what stands above it."""
    read = reading.column(heading)
    return read is not None and read.field not in (None, VALUE.get(reading.sheet))


def reading_heading(reading: Reading, name: str) -> str:
    """How the reading writes a heading of the table."""
    read = reading.column(name)
    return name if read is None else read.heading


def _is_blank(text: str) -> bool:
    return not text.strip()


def _filled(column: Spelled, repeats: Callable[[str], bool] = _is_blank) -> Spelled:
    blank = column.where(repeats)
    places = np.where(blank, -1, np.arange(len(column)))
    last = np.maximum.accumulate(places) if len(places) else places
    return Spelled(column.texts, np.where(last >= 0, column.codes[last], column.codes))
