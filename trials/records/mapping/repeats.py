"""Rows of one plot, day and grade, such as two crews write: asked about, and added up."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from trials.model.rows import Sheet
from trials.records.encoded_column import Cells, Spelled
from trials.records.faults import shown
from trials.records.mapping.noted import REPEATS
from trials.records.mapping.reading import Question, Reading

ADDED_UP = "added up"
_KEY = ("plot", "cut_on", "outcome", "grade_cm", "cull_reason")


def groups(columns: dict[str, Spelled], length: int) -> NDArray[np.int64]:
    """Number the rows so that those of one plot, day and grade share a number."""
    numbers = np.zeros(length, dtype=np.int64)
    for name in _KEY:
        if name in columns:
            texts = {text: place for place, text in enumerate(dict.fromkeys(columns[name].texts))}
            codes = np.array([texts[text] for text in columns[name].texts], np.int64)
            numbers = numbers * (len(texts) + 1) + codes[columns[name].codes]
            numbers = np.unique(numbers, return_inverse=True)[1].reshape(-1).astype(np.int64)
    return numbers


def _is_count(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) < 8


def about_repeats(reading: Reading, read: Cells | None) -> list[Question]:
    """A question where rows of one plot, day and grade have different numbers of stems."""
    if reading.sheet is not Sheet.CUTS or read is None or REPEATS in dict(reading.cells):
        return []
    columns = dict(zip(read.heading, read.columns, strict=True))
    of = groups(columns, len(read))
    stems = columns["stems"]
    order = np.argsort(of, kind="stable")
    for first, second in zip(order.tolist(), order[1:].tolist(), strict=False):
        one, other = stems[first], stems[second]
        if of[first] == of[second] and one != other and _is_count(one) and _is_count(other):
            rows = f"{read.row_numbers[first]} and {read.row_numbers[second]}"
            what = f"{columns['plot'][first]} on {columns['cut_on'][first]}"
            words = f"Rows {rows} are both for {shown(what)}: {one} and {other} stems. Added up?"
            return [Question(REPEATS, words, (ADDED_UP,))]
    return []


def added_up(columns: dict[str, Spelled], length: int) -> tuple[Spelled, NDArray[np.bool_]]:
    """The stems with the sum in the first row of each group, and which rows are such."""
    of = groups(columns, length)
    texts = columns["stems"].cells()
    whole = np.array([_is_count(text) for text in texts], dtype=bool)
    sums = np.zeros(int(of.max(initial=-1)) + 1, dtype=np.int64)
    np.add.at(sums, of[whole], [int(text) for text in texts if _is_count(text)])
    first = np.zeros(length, dtype=bool)
    first[np.unique(of, return_index=True)[1]] = True
    kept = first | ~whole
    return Spelled.of(
        [str(sums[of[row]]) if whole[row] else text for row, text in enumerate(texts)]
    ), kept
