"""Questions about what a sheet itself marks, and the table without what an answer leaves out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from trials.records.encoded_column import Cells, Mark, Spelled
from trials.records.faults import Wrong
from trials.records.files.marks import (
    COLOURS,
    HIDDEN_COLUMNS,
    HIDDEN_ROWS,
    HIDDEN_SHEET,
    NOTES,
    STRUCK,
)
from trials.records.mapping.reading import NOTHING, VALUE, Question, Reading, distinct
from trials.records.mapping.totals import KEEP, TOTALS

Mask = NDArray[np.bool_]
COUNTED = "counted"  # whether numbers beside the word 'bunch' are stems
TAKE, LEAVE_OUT = "take", "leave out"
_CHOICE = (TAKE, LEAVE_OUT)
# Questions about one table alone, and their answers.
ONCE: Mapping[str, tuple[str, ...]] = {
    HIDDEN_SHEET: _CHOICE,
    HIDDEN_ROWS: _CHOICE,
    HIDDEN_COLUMNS: _CHOICE,
    STRUCK: _CHOICE,
    NOTES: _CHOICE,
    COLOURS: _CHOICE,
    TOTALS: (KEEP,),
    COUNTED: ("stems",),
}
_SAYS = {
    HIDDEN_SHEET: "This worksheet is hidden.",
    HIDDEN_ROWS: "Hidden: {}.",
    HIDDEN_COLUMNS: "Hidden: {}.",
    STRUCK: "Struck out: {}.",
    NOTES: "A note at {}.",
    COLOURS: "Coloured: {}.",
}
_SHOWN = 3


def about_marks(reading: Reading, cells: Cells) -> list[Question]:
    """A question for each kind of mark on what is read of a table."""
    answered = dict(reading.once)
    kinds: dict[str, list[Mark]] = {}
    for mark in cells.marks:
        if mark.kind not in answered and _is_read(mark, reading):
            kinds.setdefault(mark.kind, []).append(mark)
    return [
        Question(kind, f"{marks_words(kind, marks)} Include or leave out?", _CHOICE)
        for kind, marks in kinds.items()
    ]


def marks_words(kind: str, marks: list[Mark]) -> str:
    """What marks of one kind say, the first few of them."""
    more = f" and {len(marks) - _SHOWN} more" if len(marks) > _SHOWN else ""
    return _SAYS[kind].format(", ".join(mark.says for mark in marks[:_SHOWN]) + more)


def refused(mark: Mark) -> Wrong:
    """What is wrong with a mark where nobody can be asked what it means."""
    return Wrong(
        marks_words(mark.kind, [mark]),
        "Delete what does not count, remove the mark, and load the file again.",
    )


def _is_read(mark: Mark, reading: Reading) -> bool:
    """Whether what is marked would be stored at all."""
    read = None if mark.heading is None else reading.column(mark.heading)
    return mark.heading is None or (
        reading.spread is not None if read is None else read.field is not None
    )


@dataclass(frozen=True, slots=True, eq=False)
class Unmarked:
    """A table without what answers leave out: its cells, rows to drop, and headings to drop."""

    cells: Cells
    dropped: Mask
    headings: frozenset[str]


def without_marked(reading: Reading, cells: Cells) -> Unmarked:
    """Leave out what is marked, where an answer says so.

    A figure that is left out is not recorded; with a plot, a day or another label its row goes.
    """
    left = {kind for kind, answer in reading.once if answer == LEAVE_OUT}
    dropped = np.zeros(len(cells), dtype=bool)
    headings: set[str] = set()
    columns = dict(zip(distinct(cells.heading), cells.columns, strict=True))
    for mark in cells.marks:
        if mark.kind not in left:
            continue
        rows = np.ones(len(cells), bool) if mark.row is None else cells.row_numbers == mark.row
        if mark.heading is None:
            dropped |= rows
        elif _is_figure(mark.heading, reading):
            columns[mark.heading] = _nothing(columns[mark.heading], rows)
        elif mark.row is None:
            headings.add(mark.heading)
        elif _is_read(mark, reading):
            dropped |= rows
    return Unmarked(replace(cells, columns=tuple(columns.values())), dropped, frozenset(headings))


def _is_figure(heading: str, reading: Reading) -> bool:
    read = reading.column(heading)
    if read is None:
        return reading.spread is not None
    return read.field is not None and read.field == VALUE.get(reading.sheet)


def _nothing(column: Spelled, rows: Mask) -> Spelled:
    codes = column.codes.copy()
    codes[rows] = len(column.texts)
    return Spelled((*column.texts, NOTHING), codes)
