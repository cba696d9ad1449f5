"""Rows with faults, set apart to be mended, and put in the place of the faulty ones when they come.

A table of such rows has three columns before its own: what to mend, and the file and row that each
stands for. Loaded together with that file, its rows take the place of those.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from trials.errors import Fault
from trials.inert import inert, live
from trials.records.factors import plain_heading
from trials.records.faults import Faults
from trials.records.files import find_files
from trials.records.season_tables import read_tables
from trials.records.spellings import Cells

MEND, FILE, ROW = "what to mend", "stands for a row of", "its row there"


@dataclass(frozen=True, slots=True)
class FaultyRows:
    """The faulty rows of one table: its heading, and for each row its number, cells and faults."""

    file: str
    heading: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...], str], ...]


def faulty_rows(paths: Sequence[Path], faults: Sequence[Fault]) -> tuple[FaultyRows, ...]:
    """The rows that the faults stand in, as they were written.

    Faults of a heading, of a whole file, or of a row with too few or too many cells stand in no
    such row.
    """
    said: dict[tuple[str, int], list[str]] = {}
    for fault in faults:
        if fault.row is not None:
            column = "" if fault.column is None else f"{fault.column}: "
            said.setdefault((fault.file, fault.row), []).append(
                f"{column}{fault.problem} {fault.remedy}"
            )
    unread = Faults()
    found = []
    for name, path in find_files(paths, unread).items():
        for cells in read_tables(name, path, unread):
            places = {int(number): place for place, number in enumerate(cells.row_numbers)}
            rows = tuple(
                (row, cells.row(places[row]), " ".join(dict.fromkeys(words)))
                for (file, row), words in sorted(said.items())
                if file == cells.file and row in places
            )
            if rows:
                found.append(FaultyRows(cells.file, cells.heading, rows))
    return tuple(found)


def put_in_place(tables: Sequence[Cells]) -> list[Cells]:
    """The tables without the rows that mended ones stand for, and these without their notes."""
    replaced: dict[str, set[int]] = {}
    plain: list[Cells] = []
    for cells in tables:
        headings = [plain_heading(name) for name in cells.heading]
        notes = [plain_heading(name) for name in (MEND, FILE, ROW)]
        if not set(notes) <= set(headings):
            plain.append(cells)
            continue
        file, row = (cells.columns[headings.index(note)] for note in notes[1:])
        for place in range(len(cells)):
            if row[place].strip().isdecimal():
                replaced.setdefault(_bare(file[place]), set()).add(int(row[place]))
        kept = [place for place, name in enumerate(headings) if name not in notes]
        plain.append(
            replace(
                cells,
                heading=tuple(cells.heading[place] for place in kept),
                columns=tuple(cells.columns[place].respelled(_bare) for place in kept),
            )
        )
    return [_without(cells, replaced.get(cells.file, set())) for cells in plain]


def _bare(text: str) -> str:
    """Without the apostrophe that was put before it; one that somebody typed stays."""
    return live(text) if inert(live(text)) == text else text


def _without(cells: Cells, rows: set[int]) -> Cells:
    if not rows:
        return cells
    kept = ~np.isin(cells.row_numbers, list(rows))
    columns = tuple(column.at(kept) for column in cells.columns)
    return replace(cells, columns=columns, row_numbers=cells.row_numbers[kept])
