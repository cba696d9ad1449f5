"""Rows of one count each on their way to records: blanks and marks replaced by what they say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from trials.model.rows import Sheet
from trials.model.trial import Outcome
from trials.records.encoded_column import Codes, Spelled
from trials.records.mapping.columns import says_missed
from trials.records.mapping.noted import SECOND_CULLED, SUMS_WITH_WORDS, culled_behind
from trials.records.mapping.reading import COUNTS, NOTHING, VALUE, Meaning, Reading

Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Tidy:
    """Columns of ours on their way: for each row that of the source, and its wide column."""

    columns: dict[str, Spelled]
    rows: NDArray[np.int64]
    record: NDArray[np.int64]  # which row of the source, counted from 0 without the totals
    spread: Codes

    def only(self, mask: Mask) -> Tidy:
        """The rows of a mask."""
        columns = {name: column.at(mask) for name, column in self.columns.items()}
        return Tidy(columns, self.rows[mask], self.record[mask], self.spread[mask])


def without_blanks(table: Tidy, reading: Reading) -> Tidy:
    """Blanks and marks of a count replaced by what they say: no row, a nought, or a missed pick."""
    value = VALUE[reading.sheet]
    column = table.columns[value]
    says: dict[str, Meaning | None] = {
        "": reading.blank,
        **dict(reading.marks),
        NOTHING: Meaning.NOT_RECORDED,
    }
    if value not in COUNTS:
        says[""] = Meaning.NOT_RECORDED
    meaning = [
        Meaning.MISSED if reading.sheet is Sheet.CUTS and says_missed(text) else says.get(text)
        for text in column.texts
    ]

    def is_one(which: Meaning) -> Mask:
        return np.array([m is which for m in meaning], dtype=bool)[column.codes]

    texts = tuple(
        "0" if m is Meaning.ZERO else t for t, m in zip(column.texts, meaning, strict=True)
    )
    zeroed = replace_column(table, value, Spelled(texts, column.codes))
    missed, nothing = is_one(Meaning.MISSED), is_one(Meaning.NOT_RECORDED)
    nothing &= ~_said_missed(table)
    if not missed.any():
        return zeroed.only(~nothing)
    return _with_missed(zeroed, missed, ~nothing & ~missed).only(
        ~nothing & _first_missed(zeroed, missed, ~nothing & ~missed)
    )


def with_culls_apart(table: Tidy, reading: Reading) -> Tidy:
    """Cuts such as '12 + 3 short' as two rows: 12 stems, and 3 culls whose reason is 'short'."""
    column = table.columns.get("stems")
    culls = [culled_behind(text) for text in column.texts] if column is not None else []
    if dict(reading.cells).get(SUMS_WITH_WORDS) != SECOND_CULLED or column is None:
        return table
    two = np.array([each is not None for each in culls], dtype=bool)[column.codes]
    order = np.repeat(np.arange(len(two)), 1 + two)
    second = np.zeros(len(order), dtype=bool)
    second[1:] = order[1:] == order[:-1]
    columns = {name: its.at(order) for name, its in table.columns.items()}
    apart = Tidy(columns, table.rows[order], table.record[order], table.spread[order])
    parts = [culls[code] for code in column.codes[order].tolist()]
    stems = [
        columns["stems"][row] if part is None else part[int(second[row])]
        for row, part in enumerate(parts)
    ]
    reasons = [
        part[2] if part is not None and second[row] else _text(columns, "cull_reason", row)
        for row, part in enumerate(parts)
    ]
    apart = replace_column(apart, "stems", Spelled.of(stems))
    apart = replace_column(apart, "cull_reason", Spelled.of(reasons))
    if "grade_cm" in columns:
        apart = replace_column(apart, "grade_cm", _where(columns["grade_cm"], second, ""))
    return apart


def _text(columns: Mapping[str, Spelled], name: str, row: int) -> str:
    return columns[name][row] if name in columns else ""


def _said_missed(table: Tidy) -> Mask:
    """The rows of which their own column says that nobody picked: they need no count."""
    outcome = table.columns.get("outcome")
    if outcome is None:
        return np.zeros(len(table.rows), dtype=bool)
    return outcome.where(lambda text: text.strip().casefold() == Outcome.MISSED)


def replace_column(table: Tidy, name: str, column: Spelled) -> Tidy:
    """The table with one column changed or added."""
    return replace(table, columns={**table.columns, name: column})


def _with_missed(table: Tidy, missed: Mask, picked: Mask) -> Tidy:
    """Rows of missed picks: nothing but the plot and the day."""
    for name in ("stems", "grade_cm", "cull_reason"):
        if name in table.columns:
            table = replace_column(table, name, _where(table.columns[name], missed, ""))
    outcome = table.columns.get("outcome", Spelled.one(Outcome.PICKED, len(table.rows)))
    return replace_column(table, "outcome", _where(outcome, missed, Outcome.MISSED))


def _where(column: Spelled, mask: Mask, text: str) -> Spelled:
    codes = column.codes.copy()
    codes[mask] = len(column.texts)
    return Spelled((*column.texts, str(text)), codes)


def _first_missed(table: Tidy, missed: Mask, picked: Mask) -> Mask:
    """Of the missed cells of one plot and day only the first, and none where others are filled."""
    day = table.columns.get("cut_on")
    days = np.zeros(len(table.rows), np.int64) if day is None else day.codes.astype(np.int64)
    group = table.record * (int(days.max(initial=0)) + 1) + days
    keep = np.ones(len(group), dtype=bool)
    first = np.zeros(len(group), dtype=bool)
    first[np.unique(np.where(missed, group, -1), return_index=True)[1]] = True
    keep[missed] = first[missed] & ~np.isin(group[missed], group[picked])
    return keep
