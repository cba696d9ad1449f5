"""Tells new rows from those that came twice and those the store holds already."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from trials.errors import Remedy, Verb
from trials.model.columns import Mask, Numbers
from trials.model.rows import Sheet
from trials.records.faults import Faults, Wrong, shown
from trials.records.rules.validation import Judged, codes, typed

_NEWER_LIST = (
    "If this is a newer price list, add a column price_year with its year, such as {next}, and "
    "load it again: the list of {year} stays. If that list is wrong, correct it"
)
_NOT_OVERWRITTEN = (
    "Nothing stored is overwritten. Write {there}, or leave the row out. To change stored "
    "rows, correct them"
)


def only_new(judged: Judged, held: pd.DataFrame, faults: Faults) -> tuple[Judged, int]:
    """Leave out the rows the store holds word for word.

    Parameters
    ----------
    judged
        All rows of a sheet.
    held
        The rows of that sheet in the store, in the same types.
    faults
        Takes rows that come twice, and rows that differ from what the store holds of them.

    Returns
    -------
    tuple of (Judged, int)
        The rows whose key is neither in the store nor in a row before them, and how many were
        held already.
    """
    key = judged.form.key
    twice = refuse_twice(judged, faults)
    if not len(held):
        return (judged.keep(~twice) if twice.any() else judged), 0
    there, here = judged.alike(key, held)
    clear = judged.clear(*key)
    stored_at = np.full(len(held) + len(judged) + 1, -1)
    stored_at[there] = np.arange(len(held))
    stored = np.where(clear, stored_at[here], -1)
    known = (stored >= 0) & ~twice
    differs = _differs(judged, held, known, stored, faults)
    same = known & ~differs & judged.clear(*judged.columns)
    return judged.keep(~twice & (stored < 0)), int(same.sum())


def refuse_twice(judged: Judged, faults: Faults) -> Mask:
    """Refuse rows with the key of a row before them, and say which they are."""
    key = judged.form.key
    here, numbers = judged.numbered(key), np.arange(len(judged))
    clear = judged.clear(*key)
    there = np.zeros(here.max(initial=-1) + 1, dtype=bool)
    there[here] = True
    if np.count_nonzero(there) == len(judged):
        return np.zeros(len(judged), dtype=bool)
    here = np.where(clear, here, -1 - numbers)  # a doubtful key is like no other
    _, first, which = np.unique(here, return_index=True, return_inverse=True)
    earlier = first[which]
    twice: Mask = earlier < numbers
    columns: dict[str, NDArray[Any]] = {}

    def words(record: int) -> Wrong:
        if not columns:  # taken out once, as there may be many such rows
            columns.update({name: judged.cells(name) for name in judged.columns})
        return _came_twice(judged, columns, record, int(earlier[record]))

    judged.fault(faults, twice, None, words)
    return twice


def _came_twice(
    judged: Judged, columns: Mapping[str, NDArray[Any]], record: int, earlier: int
) -> Wrong:
    file, row = judged.place(earlier)
    where = f"row {row}" if file == judged.place(record)[0] else f"row {row} of {file}"
    changed = [name for name, cells in columns.items() if cells[record] != cells[earlier]]
    key = [(name, columns[name][record]) for name in judged.form.key]
    said = ", ".join(f"{name} {say(cell)}" for name, cell in key if cell is not None)
    but = f", with another {', '.join(changed)}" if changed else ""
    return Wrong(
        f"This is the same record as {where} ({said}){but}.",
        "Leave only the right one of the two rows.",
    )


def _differs(
    judged: Judged, held: pd.DataFrame, known: Mask, stored: Numbers, faults: Faults
) -> Mask:
    """The rows of which the store holds something else; each cell that differs is a fault."""
    differs = np.zeros(len(judged), dtype=bool)
    if not known.any():
        return differs
    names = dict.fromkeys([*judged.columns, *held.columns])
    for name in names:
        here, there = _column(judged.frame, name, judged), _column(held, name, judged)
        there_codes, here_codes = codes([(there, here)])
        other = known & judged.clear(name)
        other &= here_codes != there_codes[stored]
        differs |= other
        judged.fault(faults, other, name, _not_as_stored(judged, here, there, stored))
    return differs


def _column(frame: pd.DataFrame, name: str, judged: Judged) -> pd.Series[Any]:
    """A column of the frame; a factor that none of its plots has is empty all down."""
    if name in frame.columns:
        return frame[name]
    return typed(np.full(len(frame), None, dtype=object), judged.form.column(name))


def _not_as_stored(
    judged: Judged, here: pd.Series[Any], there: pd.Series[Any], stored: Numbers
) -> Any:
    def words(record: int) -> Wrong:
        was, now = say(there.iloc[stored[record]]), say(here.iloc[record])
        year = judged.cell(record, "price_year") if judged.sheet is Sheet.SEED_ITEMS else None
        if year is not None:
            do = _NEWER_LIST.format(year=year, next=year + 1)
            return Wrong.mended_by(
                f"This differs from the price list of {year}: {was} there, {now} here.",
                Remedy(do, Verb.CORRECT, "FILE --why WORDS"),
            )
        return Wrong.mended_by(
            f"This differs from what is stored: {was} there, {now} here.",
            Remedy(_NOT_OVERWRITTEN.format(there=was), Verb.CORRECT, "FILE --why WORDS"),
        )

    return words


def say(value: Any) -> str:
    """A cell's value as a message gives it."""
    if pd.isna(value):
        return "nothing"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, str):
        return shown(value)
    return f"{value:.12g}" if isinstance(value, float) else str(value)
