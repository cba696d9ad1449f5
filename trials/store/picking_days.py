"""Folds rows of the sheet of cuts into picking days, as the store holds them: a row a plot and day.

The sheet has a row for each grade and each reason for culling; within a day they are told apart by
these. The database sees to it too, as a map takes each of its keys once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trials.model.columns import Coded, row_numbers
from trials.model.trial import Outcome
from trials.store.history.changes import NotOneDay
from trials.store.questions import frame

if TYPE_CHECKING:
    import duckdb
    import pandas as pd
    import pyarrow as pa

    from trials.model.columns import Mask, Numbers


_DAYS_AT_ONCE = 10_000
_LINE = ("plot", "cut_on", "grade_cm", "cull_reason")


def folded(lines: pd.DataFrame) -> pa.Table:
    """The picking days that rows of the sheet make.

    Parameters
    ----------
    lines
        Columns plot, cut_on, outcome, grade_cm, stems and cull_reason, in any order of rows; they
        may be categories.

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

    plot, day, grade, reason = (Coded.of_series(lines[name]) for name in _LINE)
    outcome, stems = (Coded.of_series(lines[name]) for name in ("outcome", "stems"))
    missed = outcome.where(lambda told: told == Outcome.MISSED.value)
    none = _none_marketable(lines, missed, grade, reason, stems)
    # Days first: rows mostly come in the order of picking, and what is in order sorts fastest.
    line = row_numbers(day, plot, grade, reason)
    order = np.argsort(line, kind="stable").astype(np.int32)
    _refuse(lines, order[1:][np.diff(line[order]) == 0], "comes twice")
    which = row_numbers(day, plot)[order]
    new = np.concatenate(([True], which[1:] != which[:-1]))
    told = missed[order]
    _refuse(lines, order[1:][~new[1:] & (told[1:] != told[:-1])], "was both picked and missed")
    starts = np.flatnonzero(new)
    first = order[starts]
    days = pa.table(
        {
            "plot": _array(plot, first, pa.string()),
            "cut_on": _array(day, first, pa.date32()),
            "outcome": _array(outcome, first, pa.string()),
            "stems_by_grade": _maps(grade, stems, order, starts, pa.int32()),
            "culls_by_reason": _maps(reason, stems, order, starts, pa.string()),
            "none_marketable": pa.array(np.logical_or.reduceat(none[order], starts)),
        }
    )
    # In parts, which the database reads side by side.
    return pa.Table.from_batches(days.to_batches(max_chunksize=_DAYS_AT_ONCE), days.schema)


def held_of_days(cursor: duckdb.DuckDBPyConnection, days: pa.Table) -> pd.DataFrame:
    """The rows of the sheet that are held of the plots and days of some picking days."""
    cursor.register("named", days.select(["plot", "cut_on"]))
    held = frame(cursor, "held_of_days")
    cursor.unregister("named")
    return held


def left_of_days(cursor: duckdb.DuckDBPyConnection) -> pd.DataFrame:
    """What is held of the plots and days in the frame "named", less its rows word for word."""
    return frame(cursor, "left_of_days")


def beside(held: pd.DataFrame, fresh: pd.DataFrame) -> pd.DataFrame:
    """Held rows of the sheet, and new ones under them."""
    import pandas as pd

    return pd.DataFrame(
        {
            name: pd.concat([held[name].astype(object), fresh[name].astype(object)])
            for name in held.columns
        }
    ).reset_index(drop=True)


def _none_marketable(
    lines: pd.DataFrame, missed: Mask, grade: Coded, reason: Coded, stems: Coded
) -> Mask:
    """The rows that say 0 without a grade; refuses stems of no grade, of two kinds, of a miss."""
    of_neither = ~grade.filled & ~reason.filled
    _refuse(lines, missed & (~of_neither | stems.filled), "was missed, but has stems")
    _refuse(lines, grade.filled & reason.filled, "has stems both marketable and culled")
    none: Mask = of_neither & ~missed
    nought = stems.where(lambda count: count == 0)
    _refuse(lines, none & ~nought, "has stems without a grade or a reason")
    return none


def _refuse(lines: pd.DataFrame, rows: Numbers | Mask, problem: str) -> None:
    places = np.flatnonzero(rows) if rows.dtype == np.bool_ else rows
    if len(places):
        row = lines.iloc[int(places[0])].dropna()
        said = ", ".join(f"{name}: {str(row[name])[:10]}" for name in _LINE if name in row.index)
        raise NotOneDay(f"({said}) {problem}")


def _array(column: Coded, rows: Numbers, kind: pa.DataType) -> pa.Array:
    """The cells of these rows, text as a dictionary."""
    import pyarrow as pa

    values, codes = pa.array(column.values, kind), column.codes[rows]
    places = pa.array(codes, mask=codes < 0)
    if pa.types.is_string(kind):
        return pa.DictionaryArray.from_arrays(places, values)
    return values.take(places)


def _maps(
    keys: Coded, stems: Coded, order: Numbers, starts: Numbers, kind: pa.DataType
) -> pa.Array:
    """For each day a map from the keys of its rows, where they have one, to their stems."""
    import pyarrow as pa

    filled = keys.filled[order]
    rows = order[filled]
    before = np.zeros(len(order) + 1, dtype=np.int32)
    np.cumsum(filled, out=before[1:])
    ends = np.append(before[starts], before[-1])
    return pa.MapArray.from_arrays(
        pa.array(ends), _array(keys, rows, kind), _array(stems, rows, pa.int32())
    )
