"""The cells of a table as text: of each column every spelling once, and which one each cell has."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

Codes = NDArray[np.int32]


@dataclass(frozen=True, slots=True, eq=False)
class Spelled:
    """A column of cells.

    Attributes
    ----------
    texts
        The different texts of the column.
    codes
        For each cell the place of its text in ``texts``.
    """

    texts: tuple[str, ...]
    codes: Codes

    @classmethod
    def of(cls, cells: Sequence[str]) -> Spelled:
        """The column of these cells, from the top down."""
        import pandas as pd

        codes, texts = pd.factorize(np.array(cells, dtype=object))
        return cls(tuple(texts), codes.astype(np.int32))

    @classmethod
    def one(cls, text: str, length: int) -> Spelled:
        """A column that holds the same text all down."""
        return cls((text,), np.zeros(length, dtype=np.int32))

    def __len__(self) -> int:
        return len(self.codes)

    def __getitem__(self, cell: int) -> str:
        return self.texts[int(self.codes[cell])]

    def at(self, cells: NDArray[Any] | slice) -> Spelled:
        """Only the cells at these places, or under this mask."""
        return Spelled(self.texts, self.codes[cells])

    def respelled(self, change: Callable[[str], str]) -> Spelled:
        """The column with each text changed."""
        return Spelled(tuple(change(text) for text in self.texts), self.codes)

    def where(self, true: Callable[[str], bool]) -> NDArray[np.bool_]:
        """The cells whose text fulfils a condition."""
        return np.array([true(text) for text in self.texts], dtype=bool)[self.codes]

    def used(self) -> tuple[str, ...]:
        """The texts that some cell has."""
        there = np.zeros(len(self.texts), dtype=bool)
        there[self.codes] = True
        return tuple(text for text, used in zip(self.texts, there, strict=True) if used)

    def cells(self) -> list[str]:
        """Every cell, from the top down."""
        return [self.texts[code] for code in self.codes.tolist()]


def joined(columns: Sequence[Spelled]) -> Spelled:
    """Columns one under the other."""
    if len(columns) == 1:
        return columns[0]
    places: dict[str, int] = {}
    codes = []
    for column in columns:
        now = np.array([places.setdefault(text, len(places)) for text in column.texts], np.int32)
        codes.append(now[column.codes] if len(now) else column.codes)
    return Spelled(tuple(places), np.concatenate(codes))


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that a sheet itself marks, such as a hidden row or a struck-out cell.

    ``row`` is None where it is about a whole column, ``heading`` where it is about a whole row;
    ``says`` names the place and what stands there.
    """

    kind: str
    row: int | None
    heading: str | None
    says: str


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """The cells of one table: the heading as written, and the rows that have a cell for each.

    Attributes
    ----------
    file
        What the table goes by in messages: a file, or ``"beds.xlsx, sheet cuts"``.
    sha256
        Of the bytes of the file.
    heading_row, row_numbers
        Counted as a spreadsheet does.
    columns
        One a heading.
    left_out
        Rows that could not be cut to a cell for each heading, by their numbers, as they stand.
    separator
        Between the cells of a text file.
    stands_under
        Where the table was read by a ``Reading``: the source's heading for each of its own.
    titles, repeated
        What is written above the headings; and the rows that repeat them and are left out.
    marks
        What a workbook's sheet itself marks.
    spread, spread_over
        Where one row of the source became several: for each row the place in ``spread`` of the
        source's heading, for the columns named in ``spread_fields``.
    """

    file: str
    sha256: str
    heading_row: int
    heading: tuple[str, ...]
    columns: tuple[Spelled, ...]
    row_numbers: NDArray[np.int64]
    left_out: Mapping[int, tuple[str, ...]] = field(default_factory=dict)
    separator: str = ","
    stands_under: dict[str, str] = field(default_factory=dict)
    spread_fields: frozenset[str] = frozenset()
    spread: tuple[str, ...] = ()
    spread_over: Codes | None = None
    titles: tuple[str, ...] = ()
    repeated: tuple[int, ...] = ()
    marks: tuple[Mark, ...] = ()

    @classmethod
    def of_rows(
        cls,
        file: str,
        sha256: str,
        heading_row: int,
        heading: Iterable[str],
        rows: Sequence[Sequence[str]],
        row_numbers: Sequence[int],
        *,
        left_out: Mapping[int, tuple[str, ...]] | None = None,
        separator: str = ",",
        titles: tuple[str, ...] = (),
        repeated: tuple[int, ...] = (),
    ) -> Cells:
        """The table of these rows, each with a cell for every heading."""
        heading = tuple(heading)
        columns = tuple(Spelled.of([row[i] for row in rows]) for i in range(len(heading)))
        numbers = np.array(row_numbers, dtype=np.int64)
        return cls(
            file,
            sha256,
            heading_row,
            heading,
            columns,
            numbers,
            left_out or {},
            separator,
            titles=titles,
            repeated=repeated,
        )

    def __len__(self) -> int:
        return len(self.row_numbers)

    def top(self, rows: int) -> Cells:
        """No more than the first rows."""
        columns = tuple(Spelled.of(column.at(slice(rows)).cells()) for column in self.columns)
        over = None if self.spread_over is None else self.spread_over[:rows]
        numbers = self.row_numbers[:rows]
        return replace(self, columns=columns, row_numbers=numbers, spread_over=over)

    def row(self, place: int) -> tuple[str, ...]:
        """The cells of one row."""
        return tuple(column[place] for column in self.columns)
