"""Columns of many rows: each different value once, and which of them each row has."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    import pandas as pd

Mask = NDArray[np.bool_]
Numbers = NDArray[np.int64] | NDArray[np.int32]

# So many numbers at most are given to rows as they come, before they are given out anew.
_NUMBERS = 1 << 40


@dataclass(frozen=True, slots=True, eq=False)
class Coded:
    """A column of cells.

    Attributes
    ----------
    values
        The different values (object), none of them None.
    codes
        For each row the place of its value in ``values``; -1 where the cell is empty.
    """

    values: NDArray[Any]
    codes: NDArray[np.signedinteger[Any]]

    @classmethod
    def of(cls, values: NDArray[Any], codes: NDArray[np.int32]) -> Coded:
        """The column whose rows have these values, of which some may be alike, or None."""
        places: dict[Any, int] = {}
        now = [-1 if value is None else places.setdefault(value, len(places)) for value in values]
        different = np.empty(len(places), dtype=object)
        different[:] = list(places)
        if now == list(range(len(places))):
            return cls(different, codes)
        return cls(different, np.array(now, dtype=_small(len(places)))[codes])

    @classmethod
    def of_series(cls, column: pd.Series[Any]) -> Coded:
        """A column of a frame, with its values in their order."""
        import pandas as pd

        if isinstance(column.dtype, pd.CategoricalDtype):
            codes, different = column.cat.codes.to_numpy(), column.cat.categories.to_numpy()
        else:
            codes, found = pd.factorize(column)
            different = np.asarray(found, dtype=object)
        order = np.argsort(different)
        place = np.full(len(order) + 1, -1, _small(len(order)))  # the last is of an empty cell
        place[order] = np.arange(len(order))
        return cls(different[order].astype(object), place[codes])

    @property
    def filled(self) -> Mask:
        """The rows whose cell is not empty."""
        return self.codes >= 0

    @property
    def categories(self) -> pd.Series[Any]:
        """The cells as categories: of a million rows, no more than a number each."""
        import pandas as pd

        values = pd.Index(self.values, dtype=object)
        return pd.Series(pd.Categorical.from_codes(self.codes, values, validate=False))

    def at(self, rows: NDArray[Any]) -> Coded:
        """Only these rows."""
        return Coded(self.values, self.codes[rows])

    def where(self, true: Callable[[Any], bool]) -> Mask:
        """The rows whose value fulfils a condition; an empty cell fulfils none."""
        told = np.array([*map(true, self.values), False], dtype=bool)
        mask: Mask = told[self.codes]
        return mask

    def each(self, figure: Callable[[Any], float | None]) -> NDArray[np.float64]:
        """A figure of each row's value, NaN where there is none."""
        found = [figure(value) for value in self.values]
        figures = np.array([np.nan if x is None else x for x in (*found, None)], dtype=np.float64)
        of_rows: NDArray[np.float64] = figures[self.codes]
        return of_rows


def _small(values: int) -> np.dtype[Any]:
    """The least kind of number that has room for the places of so many values, and -1."""
    return np.min_scalar_type(-values - 1)


def row_numbers(*columns: Coded) -> Numbers:
    """Number the rows so that those with the same cells, and no others, share a number.

    Rows are numbered in the order of their cells, the first column going first, as far as the
    values are in order; the numbers need not follow one another, and are never negative.
    """
    kinds = [len(column.values) + 1 for column in columns]  # an empty cell is like another one
    small = math.prod(kinds) < np.iinfo(np.int32).max
    numbers: NDArray[Any] = np.zeros(len(columns[0].codes), dtype=np.int32 if small else np.int64)
    most = 1
    for column, more in zip(columns, kinds, strict=True):
        if most > _NUMBERS // more:
            _, numbers = np.unique(numbers, return_inverse=True)
            most = len(numbers)
        numbers *= more
        numbers += column.codes
        numbers += 1
        most *= more
    return numbers


def close_numbers(numbers: Numbers) -> Numbers:
    """The same with no number much larger than there are rows, so that arrays can be laid out."""
    if len(numbers) and numbers.max() > 8 * len(numbers):
        _, numbers = np.unique(numbers, return_inverse=True)
    return numbers
