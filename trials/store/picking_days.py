"""Folds rows of the sheet of cuts into picking days, as the store holds them: a row a plot and day.

The sheet has a row for each grade and each reason for culling; within a day they are told apart by
these. The database sees to it too, as a map takes each of its keys once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trials.model import Outcome
from trials.store.questions import question

if TYPE_CHECKING:
    import duckdb
    import pyarrow as pa
    from numpy.typing import NDArray

    Places = NDArray[np.int64]
    Mask = NDArray[np.bool_]


class NotOneDay(ValueError):
    """Rows of a plot and day that cannot all be true of it; the text says which day, and why."""


@dataclass(frozen=True, slots=True, eq=False)
class _Coded:
    """A column as its different values in order, and for each cell the place of its value.

    An empty cell has the place -1.
    """

    values: pa.Array
    codes: Places

    @classmethod
    def of(cls, column: pa.ChunkedArray) -> _Coded:
        import pyarrow as pa
        from pyarrow import compute

        if pa.types.is_dictionary(column.type):
            coded = column.unify_dictionaries().combine_chunks()
        else:
            coded = column.combine_chunks().dictionary_encode()
        order = compute.sort_indices(coded.dictionary).to_numpy()
        place = np.empty(len(order) + 1, dtype=np.int64)
        place[order] = np.arange(len(order))
        place[-1] = -1
        codes = coded.indices.fill_null(-1).to_numpy()
        return cls(coded.dictionary.take(pa.array(order)), place[codes])

    @property
    def filled(self) -> Mask:
        """The cells that are not empty."""
        return self.codes >= 0

    def at(self, cells: Places) -> pa.Array:
        """The values at these places, none of which is empty."""
        import pyarrow as pa

        return self.values.take(pa.array(self.codes[cells]))


def folded(lines: pa.Table) -> pa.Table:
    """The picking days that rows of the sheet make.

    Parameters
    ----------
    lines
        Columns plot, cut_on, outcome, grade_cm, stems and cull_reason, in any order of rows.

    Returns
    -------
    pa.Table
        One row a plot and day; columns plot, cut_on, outcome, stems_by_grade and culls_by_reason
        (maps, their keys in order) and none_marketable.

    Raises
    ------
    NotOneDay
        A day was both picked and missed, has a grade or a reason twice, or stems it cannot have.
    """
    import pyarrow as pa

    names = ("plot", "cut_on", "outcome", "grade_cm", "cull_reason")
    plot, day, outcome, grade, reason = (_Coded.of(lines[name]) for name in names)
    stems = lines["stems"].combine_chunks().cast(pa.int32())
    none = _none_marketable(lines, outcome, grade, reason, stems)
    # Days first: rows mostly come in the order of picking, and what is in order sorts fastest.
    which = day.codes * len(plot.values) + plot.codes
    line = (which * (len(grade.values) + 1) + grade.codes + 1) * (len(reason.values) + 1)
    line += reason.codes + 1
    order = np.argsort(line, kind="stable")
    line, which, told = line[order], which[order], outcome.codes[order]
    new = which[1:] != which[:-1]
    _refuse(lines, order[1:][~new & (told[1:] != told[:-1])], "was both picked and missed")
    _refuse(lines, order[1:][line[1:] == line[:-1]], "comes twice")
    starts = np.flatnonzero(np.concatenate(([True], new)))
    first = order[starts]
    return pa.table(
        {
            "plot": plot.at(first),
            "cut_on": day.at(first).cast(pa.date32()),
            "outcome": outcome.at(first),
            "stems_by_grade": _maps(grade, stems, order, starts, pa.int32()),
            "culls_by_reason": _maps(reason, stems, order, starts, pa.string()),
            "none_marketable": pa.array(np.logical_or.reduceat(none[order], starts)),
        }
    )


def held_of_days(cursor: duckdb.DuckDBPyConnection) -> pa.Table:
    """The rows of the sheet that are held of the plots and days in the frame "named"."""
    return cursor.sql(question("held_of_days")).to_arrow_table()


def left_of_days(cursor: duckdb.DuckDBPyConnection) -> pa.Table:
    """The same without the rows that the frame "named" holds word for word."""
    return cursor.sql(question("left_of_days")).to_arrow_table()


def _none_marketable(
    lines: pa.Table, outcome: _Coded, grade: _Coded, reason: _Coded, stems: pa.Array
) -> Mask:
    """The rows that say 0 without a grade; refuses stems of no grade, of two kinds, of a miss."""
    missed = np.array([value == Outcome.MISSED.value for value in outcome.values.to_pylist()])
    missed = missed[outcome.codes]
    of_neither = ~grade.filled & ~reason.filled
    count = stems.fill_null(-1).to_numpy()
    _refuse(lines, missed & ~(of_neither & (count == -1)), "was missed, but has stems")
    _refuse(lines, grade.filled & reason.filled, "has stems both marketable and culled")
    none: Mask = of_neither & ~missed
    _refuse(lines, none & (count != 0), "has stems, but neither their grade nor a reason")
    return none


def _refuse(lines: pa.Table, rows: Places | Mask, problem: str) -> None:
    places = np.flatnonzero(rows) if rows.dtype == np.bool_ else rows
    if len(places):
        row = lines.slice(int(places[0]), 1).to_pylist()[0]
        day = f"plot: {row['plot']}, cut_on: {row['cut_on']:%Y-%m-%d}"
        line = [
            f"{name}: {row[name]}" for name in ("grade_cm", "cull_reason") if row[name] is not None
        ]
        raise NotOneDay(f"({', '.join([day, *line])}) {problem}")


def _maps(
    keys: _Coded, stems: pa.Array, order: Places, starts: Places, kind: pa.DataType
) -> pa.Array:
    """For each day a map from the keys of its rows, where they have one, to their stems."""
    import pyarrow as pa

    rows = order[keys.filled[order]]
    before = np.concatenate(([0], np.cumsum(keys.filled[order])))
    ends = np.append(before[starts], before[-1]).astype(np.int32)
    return pa.MapArray.from_arrays(
        pa.array(ends), keys.at(rows).cast(kind), stems.take(pa.array(rows))
    )
