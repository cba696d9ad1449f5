"""Finds a second table on a sheet, below or beside the first, so that neither is taken for both."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from trials.records.encoded_column import Cells
from trials.records.faults import Faults, Places, Wrong, shown
from trials.records.rules.factors import plain_heading

_APART = "Put each table on its own worksheet or in its own file"


def without_other_tables(cells: Cells, faults: Faults) -> Cells:
    """The table without rows that are headings again; these, and a table beside it, are faults.

    A row is a heading where at least two of its cells, and half of those filled in the heading,
    say what the heading above them says.
    """
    _beside(cells, faults)
    plain = [plain_heading(name) for name in cells.heading]
    alike = np.zeros(len(cells), dtype=np.int64)
    for name, column in zip(plain, cells.columns, strict=True):
        if name:
            alike += column.where(lambda text, name=name: plain_heading(text) == name)  # type: ignore[misc]
    again = (alike >= 2) & (alike * 2 >= sum(map(bool, plain)))
    if not again.any():
        return cells
    numbers = cells.row_numbers[again].tolist()
    wrong = Wrong(
        "This row repeats headings: does another table begin here?",
        f"{_APART}. If it is the same table, remove this row.",
    )
    faults.add_rows(Places.of(cells.file, numbers), None, lambda i: wrong)
    left_out = {
        number: cells.row(int(place))
        for number, place in zip(numbers, np.flatnonzero(again), strict=True)
    }
    return replace(
        cells,
        columns=tuple(column.at(~again) for column in cells.columns),
        row_numbers=cells.row_numbers[~again],
        left_out={**cells.left_out, **left_out},
    )


def _beside(cells: Cells, faults: Faults) -> None:
    plain = [plain_heading(name) for name in cells.heading]
    if not plain or not plain[0] or plain[0] not in plain[1:]:
        return
    wrong = Wrong(
        f"The heading {shown(cells.heading[0])} occurs twice.",
        f"{_APART}, or give each column its own heading.",
    )
    faults.add(cells.file, cells.heading_row, cells.heading[0], wrong)
