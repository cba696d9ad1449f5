"""Turns recognised cells into typed rows, judging each different spelling of a column once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from trials.batch import Sheet
from trials.records.cells import Value, judge_cell
from trials.records.faults import Faults, Wrong
from trials.records.headings import Recognised
from trials.records.sheets import FORMS, Column, Form, Kind

Mask = NDArray[np.bool_]
Places = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Part:
    """One file among those a sheet's rows came from: its name and its factor columns."""

    file: str
    factor_names: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """The typed rows of one sheet, with the place each came from.

    Attributes
    ----------
    frame
        One row a record, with all columns of the sheet in order, then factor columns.
    parts, part, row
        The files, and for each record the place of its file in ``parts`` and its row there.
    doubtful
        For each column, the records whose cell was found wrong; it is None in the frame.
    whole
        False where some rows of the files could not be told apart from others, so that a code
        that is not found here may yet stand in the files.
    """

    sheet: Sheet
    frame: pd.DataFrame
    parts: tuple[Part, ...]
    part: Places
    row: Places
    doubtful: Mapping[str, Mask]
    whole: bool

    @property
    def form(self) -> Form:
        """The columns and rules of the sheet."""
        return FORMS[self.sheet]

    @property
    def factor_names(self) -> tuple[str, ...]:
        """The columns that are not the sheet's own: factors of trials."""
        return tuple(name for name in self.frame.columns if name not in self.form.names)

    def __len__(self) -> int:
        return len(self.row)

    def place(self, record: int) -> tuple[str, int]:
        """The file and row of a record."""
        return self.parts[int(self.part[record])].file, int(self.row[record])

    def clear(self, *columns: str) -> Mask:
        """The records none of whose named cells was found wrong."""
        clear = np.ones(len(self), dtype=bool)
        for column in columns:
            if column in self.doubtful:
                clear &= ~self.doubtful[column]
        return clear

    def cell(self, record: int, column: str) -> Any:
        """One cell as a Python value, None where empty."""
        value = self.frame[column].iloc[record]
        return None if pd.isna(value) else value

    def cells(self, column: str) -> NDArray[Any]:
        """The cells of a column as Python values, None where empty."""
        return as_objects(self.frame[column])

    def keep(self, mask: Mask) -> Judged:
        """Only the records of the mask."""
        return Judged(
            self.sheet,
            self.frame[mask].reset_index(drop=True),
            self.parts,
            self.part[mask],
            self.row[mask],
            {column: doubt[mask] for column, doubt in self.doubtful.items()},
            self.whole,
        )

    def fault(
        self, faults: Faults, mask: Mask, column: str | None, say: Wrong | Callable[[int], Wrong]
    ) -> None:
        """Note a fault at every record of the mask; ``say`` has the words, or gets the record."""
        records = np.flatnonzero(mask)
        faults.add_rows(
            [self.place(int(record)) for record in records],
            column,
            lambda i: say if isinstance(say, Wrong) else say(int(records[i])),
        )


def as_objects(column: pd.Series[Any]) -> NDArray[Any]:
    """A column as an array of Python values, None where there is none."""
    values = column.to_numpy(dtype=object)
    empty = column.isna().to_numpy(dtype=bool)
    if empty.any():
        values = values.copy()
        values[empty] = None
    return values


def typed(values: NDArray[Any], column: Column) -> pd.Series[Any]:
    """Values as the column of a frame: whole numbers and numbers may be NA, the rest is objects."""
    if column.kind is Kind.WHOLE:
        return pd.Series(pd.array(values, dtype="Int64"))
    if column.kind is Kind.NUMBER:
        return pd.Series(pd.array(values, dtype="Float64"))
    return pd.Series(values, dtype=object)


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
    lengths = [len(file.cells.rows) for file in files]
    part = np.repeat(np.arange(len(files)), lengths)
    row = np.array([n for file in files for n in file.cells.row_numbers], dtype=np.int64)
    parts = tuple(Part(file.cells.file, file.factor_names) for file in files)
    columns: dict[str, pd.Series[Any]] = {}
    doubtful: dict[str, Mask] = {}
    for name in (*form.names, *factors):
        column = form.column(name)
        there = np.repeat([name in file.places for file in files], lengths)
        text = [cell for file in files for cell in _column_text(file, name)]
        values, wrong = _judge_column(text, column)
        faulty = np.array([cell is not None for cell in wrong], dtype=bool)
        # A column that a file lacks was noted at its heading; it may stand under another one.
        lacked = ~there & np.repeat([not file.whole for file in files], lengths)
        doubtful[name] = faulty | lacked
        columns[name] = typed(values, column)
        records = np.flatnonzero(faulty & there)
        faults.add_rows(
            [(parts[part[i]].file, int(row[i])) for i in records],
            name,
            wrong[records].__getitem__,
        )
    key_is_clear = not any(doubtful[name].any() for name in form.key)
    return Judged(
        form.sheet,
        pd.DataFrame(columns),
        parts,
        part,
        row,
        doubtful,
        key_is_clear and all(file.whole and not file.cells.ragged for file in files),
    )


def _column_text(file: Recognised, name: str) -> list[str]:
    place = file.places.get(name)
    if place is None:
        return [""] * len(file.cells.rows)
    return [row[place] for row in file.cells.rows]


def _judge_column(text: list[str], column: Column) -> tuple[NDArray[Any], NDArray[Any]]:
    """Values and wrongs, one a cell, None where there is none; each spelling is judged once."""
    codes, spellings = pd.factorize(np.array(text, dtype=object))
    values = np.empty(len(spellings), dtype=object)
    wrong = np.empty(len(spellings), dtype=object)
    for i, spelling in enumerate(spellings):
        judged: Value | Wrong | None = judge_cell(spelling, column)
        if isinstance(judged, Wrong):
            wrong[i] = judged
        else:
            values[i] = judged
    return values[codes], wrong[codes]


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
        if name in frame.columns:
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
