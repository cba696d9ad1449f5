"""Reads the numbers of a table, with the decimal mark that all of its columns are written with."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from trials.records.encoded_column import Spelled
from trials.records.faults import Wrong, shown
from trials.records.mapping.numbers import is_either, marks_of, number
from trials.records.mapping.reading import DecimalMark
from trials.stats.design.table import Floats

NOT_RECORDED = frozenset({"", "NA"})
# Beyond these, squares and products of a few plots' figures are no numbers any more.
SMALLEST, LARGEST = 1e-30, 1e30
_FLOAT = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?", re.ASCII)


@dataclass(frozen=True, slots=True)
class Mark:
    """The decimal mark of a table; where not ``sure``, no number shows which it is."""

    mark: DecimalMark
    sure: bool


def mark_of(columns: Sequence[Spelled]) -> Mark:
    """The decimal mark of a table's columns of numbers: the one that more of them show."""
    shows = {DecimalMark.POINT: 0, DecimalMark.COMMA: 0}
    for text in {_clean(text) for column in columns for text in column.used()}:
        marks = _marks(text)
        if len(marks) == 1:
            shows[next(iter(marks))] += 1
    more = max(shows, key=lambda mark: shows[mark])
    return Mark(more, shows[more] > 0)


def numbers_of(
    column: Spelled, mark: Mark, separator: str, *, may_be_empty: bool
) -> tuple[Floats, Mapping[int, Wrong]]:
    """The numbers (n,) of a column, NaN where none was recorded, and what is wrong by its row."""
    values = np.full(len(column.texts), math.nan)
    wrong: dict[int, Wrong] = {}
    for place, text in enumerate(map(_clean, column.texts)):
        if text in NOT_RECORDED:
            if not may_be_empty:
                wrong[place] = Wrong("The cell is empty.", "Write the number.")
            continue
        value = _value(text, mark, separator)
        if isinstance(value, Wrong):
            wrong[place] = value
        else:
            values[place] = value
    codes = column.codes
    at = np.flatnonzero(np.isin(codes, list(wrong))) if wrong else ()
    return values[codes], {int(row): wrong[int(codes[row])] for row in at}


def _clean(text: str) -> str:
    return text.strip().replace("\N{MINUS SIGN}", "-")


def _marks(text: str) -> frozenset[DecimalMark]:
    """The marks a number may be written with; no thousand begins with 0."""
    if is_either(text) and text.lstrip("+-").startswith("0"):
        return frozenset({DecimalMark.COMMA if "," in text else DecimalMark.POINT})
    return marks_of(text)


def _value(text: str, mark: Mark, separator: str) -> float | Wrong:
    if is_either(text):
        comma = "," in text
        if not mark.sure and (comma or separator == ";"):
            whole, part = re.split("[.,]", text)
            return Wrong(
                f"{shown(text)} may be {whole}{part} or {whole}.{part}.",
                "Write it without a thousands separator, or with another number of decimals.",
            )
        if mark.mark not in _marks(text):
            return _no_number(text, mark)
    value = number(text, mark.mark)
    if value is None and mark.mark is DecimalMark.POINT and _FLOAT.fullmatch(text):
        found = float(text)
    elif value is None:
        return _no_number(text, mark)
    else:
        found = float(value)
    if not math.isfinite(found):
        return _no_number(text, mark)
    if found and not SMALLEST < abs(found) < LARGEST:
        size = "large" if abs(found) > 1 else "small"
        return Wrong(f"{shown(text)} is too {size} to calculate with.", "Use another unit.")
    return found


def _no_number(text: str, mark: Mark) -> Wrong:
    problem = f"{shown(text)} is not a number."
    other = next(each for each in DecimalMark if each is not mark.mark)
    if mark.sure and marks_of(text) == {other}:
        return Wrong(
            problem, f"The other numbers have a decimal {mark.mark}. Write this one the same way."
        )
    return Wrong(
        problem,
        "Write a plain number such as 12.5, or leave the cell empty where nothing was recorded.",
    )
