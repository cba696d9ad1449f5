"""Faulty rows in a file of their own to correct, which replace the faulty ones when loaded.

A table of such rows has three columns before its own: what to correct, and the file and row of
each. Loaded together with that file, its rows replace those.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from trials.errors import Fault
from trials.model.formula_escaping import inert, live
from trials.records.encoded_column import Cells, Spelled
from trials.records.faults import Faults
from trials.records.files.find import find_files
from trials.records.files.tables import read_tables
from trials.records.rules.factors import plain_heading

MEND, FILE, ROW = "what to correct", "stands for a row of", "its row there"


@dataclass(frozen=True, slots=True)
class FaultyRows:
    """The faulty rows of one table: its heading, and for each row its number, cells and faults."""

    file: str
    heading: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...], str], ...]


@dataclass(frozen=True, slots=True)
class ToMend:
    """Every fault of a load: those that stand in rows, by table, and those of more than a row."""

    tables: tuple[FaultyRows, ...]
    others: tuple[Fault, ...]


def to_mend(paths: Sequence[Path], faults: Sequence[Fault]) -> ToMend:
    """The rows that the faults stand in, as they were written, and what stands in no such row.

    Faults of a heading, of a whole file, or of a file that could not be cut to rows are the others.
    """
    said: dict[str, dict[int, list[int]]] = {}
    none = []
    for place, fault in enumerate(faults):
        if fault.row is None:
            none.append(place)
        else:
            said.setdefault(fault.file, {}).setdefault(fault.row, []).append(place)
    unread = Faults()
    found = []
    for name, path in find_files(paths, unread).items():
        for cells in read_tables(name, path, unread):
            of_table = said.get(cells.file, {})
            places = {int(number): place for place, number in enumerate(cells.row_numbers)}
            rows = []
            for row in sorted(set(of_table) & (set(places) | set(cells.left_out))):
                text = cells.row(places[row]) if row in places else cells.left_out[row]
                found_there = dict.fromkeys(_told(faults[i]) for i in of_table.pop(row))
                rows.append((row, text, " ".join(found_there)))
            if rows:
                found.append(FaultyRows(cells.file, cells.heading, tuple(rows)))
    # What is left stands in a heading, or in a row of a file that was not cut to rows.
    left = [place for rows in said.values() for places in rows.values() for place in places]
    return ToMend(tuple(found), tuple(faults[place] for place in sorted([*none, *left])))


def _told(fault: Fault) -> str:
    column = "" if fault.column is None else f"{fault.column}: "
    return f"{column}{fault.problem} {fault.remedy}"


@dataclass(frozen=True, slots=True, eq=False)
class Put:
    """A table as it is to be read: its cells, and the files for whose rows it stands, if any."""

    cells: Cells
    stands_for: frozenset[str] = frozenset()


def put_in_place(tables: Sequence[Cells], faults: Faults) -> list[Put]:
    """The tables without the rows that mended ones stand for, and these without their notes.

    What was found wrong with the rows that are replaced is forgotten.
    """
    replaced: dict[str, set[int]] = {}
    put: list[Put] = []
    for cells in tables:
        headings = [plain_heading(name) for name in cells.heading]
        notes = [plain_heading(name) for name in (MEND, FILE, ROW)]
        if not set(notes) <= set(headings):
            put.append(Put(cells))
            continue
        file, row = (cells.columns[headings.index(note)] for note in notes[1:])
        of_files = Spelled(tuple(map(_bare, file.texts)), file.codes)
        for place in range(len(cells)):
            if row[place].strip().isdecimal():
                replaced.setdefault(of_files[place], set()).add(int(row[place]))
        kept = [place for place, name in enumerate(headings) if name not in notes]
        if not kept:  # faults of no row and nothing else
            continue
        columns = tuple(cells.columns[place].respelled(_bare) for place in kept)
        # A fault of no row is told in a row of notes alone.
        filled = ~row.where(lambda text: not text.strip())
        for column in columns:
            filled |= ~column.where(lambda text: not text.strip())
        bare = replace(
            cells,
            heading=tuple(cells.heading[place] for place in kept),
            columns=tuple(column.at(filled) for column in columns),
            row_numbers=cells.row_numbers[filled],
        )
        put.append(Put(bare, frozenset(of_files.used())))
    for name, rows in replaced.items():
        faults.forget(name, rows)
    return [replace(one, cells=_without(one.cells, replaced)) for one in put]


def _bare(text: str) -> str:
    """Without the apostrophe that was put before it; one that somebody typed stays."""
    return live(text) if inert(live(text)) == text else text


def _without(cells: Cells, replaced: Mapping[str, Collection[int]]) -> Cells:
    rows = replaced.get(cells.file)
    if not rows:
        return cells
    kept = ~np.isin(cells.row_numbers, list(rows))
    return replace(
        cells,
        columns=tuple(column.at(kept) for column in cells.columns),
        row_numbers=cells.row_numbers[kept],
        left_out={row: its for row, its in cells.left_out.items() if row not in rows},
    )
