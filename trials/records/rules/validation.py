"""Turns recognised cells into typed rows, judging each different spelling of a column once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from trials.model.columns import Coded, Mask, Numbers, close_numbers, row_numbers
from trials.model.rows import Sheet
from trials.records.encoded_column import Cells, Codes, Spelled, joined
from trials.records.faults import Faults, Places, Wrong
from trials.records.rules.cells import Value, judge_cell
from trials.records.rules.forms import FORMS, Column, Form, Kind
from trials.records.rules.headings import Recognised


@dataclass(frozen=True, slots=True)
class Part:
    """One table among those a sheet's rows came from: its factor columns, and its cells."""

    factor_names: tuple[str, ...]
    cells: Cells

    @property
    def file(self) -> str:
        """What it goes by in messages."""
        return self.cells.file


@dataclass(frozen=True, eq=False)
class Judged:
    """The typed rows of one sheet, with the place each came from.

    Attributes
    ----------
    columns
        All columns of the sheet in order, then factor columns; one row a record.
    parts, part, row
        The tables, and for each record the place of its table in ``parts`` and its row there.
    spread
        Where a record's cells stand in the source under a heading of their own: the place of that
        heading in ``Cells.spread`` of its table.
    doubtful
        For each column, the records whose cell was found wrong; it is empty here.
    whole
        False where some rows of the files could not be told apart from others, so that a code
        that is not found here may yet stand in the files.
    """

    sheet: Sheet
    columns: Mapping[str, Coded]
    parts: tuple[Part, ...]
    part: Numbers
    row: Numbers
    spread: Codes
    doubtful: Mapping[str, Mask]
    whole: bool

    @property
    def form(self) -> Form:
        """The columns and rules of the sheet."""
        return FORMS[self.sheet]

    @cached_property
    def frame(self) -> pd.DataFrame:
        """The records as a frame, see ``typed``."""
        return pd.DataFrame(
            {
                name: _spread_out(cells, self.form.column(name))
                for name, cells in self.columns.items()
            }
        )

    @property
    def outgoing(self) -> pd.DataFrame:
        """The same for the store: of cuts, which are many, as categories."""
        if self.sheet is not Sheet.CUTS:
            return self.frame
        return pd.DataFrame({name: cells.categories for name, cells in self.columns.items()})

    @property
    def factor_names(self) -> tuple[str, ...]:
        """The columns that are not the sheet's own: factors of trials."""
        return tuple(name for name in self.columns if name not in self.form.names)

    def __len__(self) -> int:
        return len(self.row)

    def place(self, record: int) -> tuple[str, int]:
        """The file and row of a record."""
        return self.parts[int(self.part[record])].file, int(self.row[record])

    def heading(self, record: int, column: str | None) -> str | None:
        """The heading under which a cell of a record stands in its file."""
        if column is None:
            return None
        cells = self.parts[int(self.part[record])].cells
        if column in cells.spread_fields:
            return cells.spread[int(self.spread[record])]
        return cells.stands_under.get(column, column)

    def clear(self, *columns: str) -> Mask:
        """The records none of whose named cells was found wrong."""
        clear = np.ones(len(self), dtype=bool)
        for column in columns:
            if column in self.doubtful:
                clear &= ~self.doubtful[column]
        return clear

    def cell(self, record: int, column: str) -> Any:
        """One cell as a Python value, None where empty."""
        cells = self.columns[column]
        place = int(cells.codes[record])
        return None if place < 0 else cells.values[place]

    def cells(self, column: str) -> NDArray[Any]:
        """The cells of a column as Python values, None where empty."""
        return as_objects(self.frame[column])

    def keep(self, mask: Mask) -> Judged:
        """Only the records of the mask."""
        return Judged(
            self.sheet,
            {name: cells.at(mask) for name, cells in self.columns.items()},
            self.parts,
            self.part[mask],
            self.row[mask],
            self.spread[mask],
            {column: doubt[mask] for column, doubt in self.doubtful.items()},
            self.whole,
        )

    def alike(self, names: Sequence[str], held: pd.DataFrame) -> tuple[Numbers, Numbers]:
        """Number the held rows and the records so that those with the same cells share a number."""
        if len(held):
            there, here = codes([(held[name], self.frame[name]) for name in names])
        else:
            there = np.zeros(0, dtype=np.int64)
            here = self.numbered(names)
        return there, here

    def numbered(self, names: Sequence[str]) -> Numbers:
        """Number the records so that those with the same cells in some columns share a number."""
        return close_numbers(row_numbers(*(self.columns[name] for name in names)))

    def fault(
        self,
        faults: Faults,
        mask: Mask,
        column: str | None,
        say: Wrong | Callable[[int], Wrong],
        *,
        unlikely: bool = False,
    ) -> None:
        """Note a fault at every record of the mask; ``say`` has the words, or gets the record.

        What is only ``unlikely`` is noted apart: a yes with a reason takes it.
        """
        records = np.flatnonzero(mask)
        if not len(records):
            return
        faults.add_rows(
            Places(tuple(part.file for part in self.parts), self.part[records], self.row[records]),
            lambda i: self.heading(int(records[i]), column),
            lambda i: say if isinstance(say, Wrong) else say(int(records[i])),
            unlikely=unlikely,
        )


def codes(columns: Sequence[tuple[pd.Series[Any], pd.Series[Any]]]) -> tuple[Numbers, Numbers]:
    """Number the rows of two frames so that rows with the same cells share a number."""
    length = len(columns[0][0])
    codes = np.zeros(length + len(columns[0][1]), dtype=np.int64)
    for there, here in columns:
        cell, cells = pd.factorize(pd.concat([there, here], ignore_index=True))
        # An empty cell has the code -1, and is like another empty cell.
        codes, _ = pd.factorize(codes * (len(cells) + 1) + cell + 1)
    return codes[:length], codes[length:]


def _spread_out(cells: Coded, column: Column) -> pd.Series[Any]:
    values = np.array([*cells.values, None], dtype=object)  # the last is of empty cells
    return typed(values, column).take(cells.codes).reset_index(drop=True)


_TYPES: Mapping[Kind, str] = {Kind.WHOLE: "Int64", Kind.NUMBER: "Float64"}


def typed(values: NDArray[Any], column: Column) -> pd.Series[Any]:
    """Values as the column of a frame: whole numbers and numbers may be NA, the rest is objects."""
    if column.kind is Kind.WHOLE:
        return pd.Series(pd.array(values, dtype="Int64"))
    if column.kind is Kind.NUMBER:
        return pd.Series(pd.array(values, dtype="Float64"))
    return pd.Series(values, dtype=object)


def as_objects(column: pd.Series[Any]) -> NDArray[Any]:
    """A column as an array of Python values, None where there is none."""
    values = column.to_numpy(dtype=object)
    empty = column.isna().to_numpy(dtype=bool)
    if empty.any():
        values = values.copy()
        values[empty] = None
    return values


def is_filled(values: NDArray[Any]) -> Mask:
    """Where an array of Python values holds one."""
    return np.array([value is not None for value in values], dtype=bool)


def judge(files: Sequence[Recognised], faults: Faults) -> Judged:
    """Judge the cells of all files of one sheet.

    Parameters
    ----------
    files
        One or more files of the same kind, in the order in which they were named.
    faults
        Takes every cell that is not what its column asks for.
    """
    form = files[0].form
    factors = dict.fromkeys(name for file in files for name in file.factor_names)
    lengths = [len(file.cells) for file in files]
    columns: dict[str, Coded] = {}
    doubtful: dict[str, Mask] = {}
    faulty: dict[str, NDArray[Any]] = {}
    for name in (*form.names, *factors):
        column = form.column(name)
        values, wrong, is_wrong = _judge_column(joined([_column(f, name) for f in files]), column)
        columns[name] = values
        # A column that a file lacks was noted at its heading; it may stand under another one.
        lacked = [name not in file.places and not file.whole for file in files]
        if is_wrong.any() or any(lacked):
            doubtful[name] = is_wrong | np.repeat(lacked, lengths)
        there = np.repeat([name in file.places for file in files], lengths)
        if wrong is not None and (is_wrong & there).any():
            wrong[~there] = None
            faulty[name] = wrong
    judged = Judged(
        form.sheet,
        columns,
        tuple(Part(file.factor_names, file.cells) for file in files),
        np.repeat(np.arange(len(files), dtype=np.int32), lengths),
        _one_under_another([file.cells.row_numbers for file in files]),
        _one_under_another([_spread(file.cells) for file in files]),
        doubtful,
        not any(name in doubtful for name in form.key)
        and all(file.whole and not file.cells.left_out for file in files),
    )
    for name, wrongs in faulty.items():
        judged.fault(faults, is_filled(wrongs), name, wrongs.__getitem__)
    return judged


def _column(file: Recognised, name: str) -> Spelled:
    place = file.places.get(name)
    return Spelled.one("", len(file.cells)) if place is None else file.cells.columns[place]


def _one_under_another(columns: Sequence[NDArray[Any]]) -> NDArray[Any]:
    return columns[0] if len(columns) == 1 else np.concatenate(columns)


def _spread(cells: Cells) -> Codes:
    none = np.zeros(len(cells), dtype=np.int32)
    return none if cells.spread_over is None else cells.spread_over


def _judge_column(column: Spelled, rule: Column) -> tuple[Coded, NDArray[Any] | None, Mask]:
    """Values, wrongs (None where there is none at all), and which cells are wrong.

    Each spelling is judged once.
    """
    values = np.empty(len(column.texts), dtype=object)
    wrong = np.empty(len(column.texts), dtype=object)
    for i, text in enumerate(column.texts):
        judged: Value | Wrong | None = judge_cell(text, rule)
        if isinstance(judged, Wrong):
            wrong[i] = judged
        else:
            values[i] = judged
    is_wrong = is_filled(wrong)
    of_cells = Coded.of(values, column.codes)
    if not is_wrong.any():
        return of_cells, None, np.zeros(len(column), dtype=bool)
    return of_cells, wrong[column.codes], is_wrong[column.codes]


def settle(frame: pd.DataFrame | None, form: Form) -> pd.DataFrame:
    """Rows of the store in the types of judged rows: the form's columns, then factor columns."""
    if frame is None:
        frame = pd.DataFrame()
    others = (
        [name for name in frame.columns if name not in form.names] if form.factor_columns else []
    )
    columns = {}
    for name in (*form.names, *others):
        column = form.column(name)
        if name in frame.columns and str(frame[name].dtype) == _TYPES.get(column.kind):
            columns[name] = frame[name].reset_index(drop=True)
        elif name in frame.columns:
            columns[name] = typed(_plain_values(frame[name], column.kind), column)
        else:
            columns[name] = typed(np.full(len(frame), None, dtype=object), column)
    return pd.DataFrame(columns)


def _plain_values(column: pd.Series[Any], kind: Kind) -> NDArray[Any]:
    if kind is Kind.DATE and isinstance(column.dtype, np.dtype) and column.dtype.kind == "M":
        return as_objects(column.dt.date)
    if kind is Kind.CHOICE and pd.api.types.is_bool_dtype(column.dtype):
        return np.where(column.to_numpy(dtype=bool), "yes", "no").astype(object)
    return as_objects(column)
