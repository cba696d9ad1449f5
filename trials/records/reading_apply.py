"""Turns somebody's own table into one of ours by its reading, and remembers where each cell stood.

A pure function: what a text means is told by the reading alone, and a text that it gives no meaning
is handed on as it is, for the judges of cells to refuse where it stands.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from trials.batch import Sheet
from trials.model import Outcome
from trials.records.factors import plain_heading
from trials.records.faults import Faults, Wrong, nearest, shown
from trials.records.plot_labels import KnownPlots, label_of
from trials.records.reading import (
    COUNTS,
    VALUE,
    DateOrder,
    DecimalMark,
    Meaning,
    Reading,
    Unit,
    distinct,
    own_unit,
)
from trials.records.reading_days import readings_of, serial_day
from trials.records.reading_gaps import records as records_of
from trials.records.reading_gaps import without_gaps
from trials.records.reading_numbers import digits, grade, length, number
from trials.records.reading_plots import find_plots
from trials.records.reading_questions import says_missed
from trials.records.sheets import FORMS, Kind, Need
from trials.records.spellings import Cells, Codes, Spelled, joined

Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class _Wide:
    """One column that becomes rows: its place, its heading, and what the heading says."""

    place: int
    heading: str
    field: str
    says: str


_NO_HEADING = Wrong(
    "This column holds counts, but has no heading of its own.",
    "Write above it what they are (a length grade, a reason for culling), or empty the column.",
)


def apply(
    reading: Reading, cells: Cells, faults: Faults, plots: KnownPlots | None = None
) -> Cells | None:
    """The table in our own headings and words, one row a record.

    Parameters
    ----------
    reading
        Agreed, with every question answered that this table raises.
    cells
        A table with the headings of the reading; of a wide one, further days may have come.
    faults
        Takes headings that the reading needs or does not know, and labels that name no plot.
    plots
        Those that are known, for a reading that tells plots by block, variety and the like.

    Returns
    -------
    Cells or None
        None where the headings do not fit.
    """
    heading = distinct(cells.heading)
    if not _headings_fit(reading, heading, cells, faults):
        return None
    _refuse_made_up(reading, heading, cells, faults)
    cells = without_gaps(reading, cells)
    records = records_of(reading, cells)
    columns: dict[str, Spelled] = {}
    stands_under: dict[str, str] = {}
    wide: list[_Wide] = []
    value: str | None = None
    for place, name in enumerate(heading):
        read = reading.column(name)
        if read is None and reading.spread is not None:
            value, unit = reading.spread.cells, reading.spread.unit
            said = _meant(reading.spread.headings, reading, unit)(name)
            wide.append(_Wide(place, name, reading.spread.headings, said))
        elif read is not None and read.sets is not None:
            value = read.field
            wide.append(_Wide(place, name, *read.sets))
        elif read is not None and read.field is not None:
            column = cells.columns[place].at(records)
            columns[read.field] = column.respelled(_meant(read.field, reading, read.unit))
            stands_under[read.field] = name
    rows = np.flatnonzero(records)
    table = _Tidy(columns, rows, np.arange(len(rows)), np.zeros(len(rows), dtype=np.int32))
    if wide and value is not None:
        unit = None if reading.spread is None else reading.spread.unit
        table = _unfolded(table, wide, value, cells, _meant(value, reading, unit))
    for field, says in reading.always:
        said = _meant(field, reading, own_unit(field))(says)
        table.columns[field] = Spelled.one(said, len(table.rows))
    if VALUE.get(reading.sheet) in table.columns:
        table = _without_blanks(table, reading)
    left_out = dict(cells.left_out)
    labels = {field: its for field, its in table.columns.items() if label_of(field) is not None}
    if labels:
        stands_under["plot"] = next((stands_under[f] for f in labels if f in stands_under), "")
        numbers = cells.row_numbers[table.rows]
        under = [stands_under["plot"] or wide[0].heading]
        known = plots or KnownPlots()
        found = find_plots(labels, numbers, reading.trial, known, cells, under, faults)
        left_out |= {int(number): () for number in numbers[found.lost]}
        table = replace_column(table, "plot", found.plots).only(~found.lost)
    if reading.sheet is Sheet.STEM_SAMPLES and "stem" not in table.columns:
        table.columns["stem"] = _counted(table)
    for needed in FORMS[reading.sheet].columns:
        if needed.need is Need.COLUMN and needed.name not in table.columns:
            table.columns[needed.name] = Spelled.one("", len(table.rows))
    order = [name for name in FORMS[reading.sheet].names if name in table.columns]
    order += [name for name in table.columns if name not in order and label_of(name) is None]
    return Cells(
        cells.file,
        cells.sha256,
        cells.heading_row,
        tuple(order),
        tuple(table.columns[name] for name in order),
        cells.row_numbers[table.rows],
        left_out,
        cells.separator,
        stands_under,
        frozenset([value, *(w.field for w in wide)]) if value is not None and wide else frozenset(),
        tuple(w.heading for w in wide),
        table.spread if wide else None,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Tidy:
    """Columns of ours on their way: for each row that of the source, and its wide column."""

    columns: dict[str, Spelled]
    rows: NDArray[np.int64]
    record: NDArray[np.int64]  # which row of the source, counted from 0 without the totals
    spread: Codes

    def only(self, mask: Mask) -> _Tidy:
        """The rows of a mask."""
        columns = {name: column.at(mask) for name, column in self.columns.items()}
        return _Tidy(columns, self.rows[mask], self.record[mask], self.spread[mask])


def _refuse_made_up(reading: Reading, heading: Sequence[str], cells: Cells, faults: Faults) -> None:
    """Refuse columns whose heading would be a value, where it was made up to tell the column."""
    for name, written in zip(heading, cells.heading, strict=True):
        read = reading.column(name)
        if read is not None and read.sets is not None and name != written.strip():
            faults.add(cells.file, cells.heading_row, name, _NO_HEADING)


def _headings_fit(reading: Reading, heading: tuple[str, ...], cells: Cells, faults: Faults) -> bool:
    before = len(faults)
    there = {plain_heading(name) for name in heading}
    for column in reading.columns:
        if column.field is not None and plain_heading(column.heading) not in there:
            near = nearest(column.heading, heading)
            ask = f"Is it the column {shown(near)}? " if near else ""
            wrong = Wrong(
                "The reading of this file needs a column of this heading.",
                f"{ask}Name it so again, or agree on a new reading.",
            )
            faults.add(cells.file, cells.heading_row, column.heading, wrong)
    for name in heading:
        if reading.column(name) is not None or _is_wide(name, reading):
            continue
        wrong = Wrong(
            "The reading of this file does not know this column.",
            "Take the column out, or agree on a new reading.",
        )
        faults.add(cells.file, cells.heading_row, name, wrong)
    return len(faults) == before


def _is_wide(name: str, reading: Reading) -> bool:
    if reading.spread is None:
        return False
    field = reading.spread.headings
    column = FORMS[reading.sheet].column(field)
    if column.kind is Kind.DATE:
        return readings_of(name, reading.year or 2024) is not None
    if column.kind in (Kind.WHOLE, Kind.NUMBER):
        return any(c.isdigit() for c in name)
    return True


def _meant(field: str, reading: Reading, unit: Unit | None) -> Callable[[str], str]:
    """How a text of one column is put into our own words."""
    column = FORMS[reading.sheet].column(field)
    mark = reading.decimal or DecimalMark.POINT
    own = own_unit(field)
    if column.kind is Kind.DATE:
        return lambda text: _day(text, reading)
    if field == "grade_cm":
        return lambda text: _or_as_it_is(text, grade(_last_word(text), mark, unit))
    if field == "stem":
        return lambda text: "".join(c for c in text if c.isdigit()) or text.strip()
    if own is not None:
        return lambda text: _or_as_it_is(text, length(text, mark, unit, own))
    if column.kind in (Kind.WHOLE, Kind.NUMBER):
        return lambda text: _or_as_it_is(
            text, None if (n := number(text, mark)) is None else digits(n)
        )
    return str.strip


def _last_word(text: str) -> str:
    """A grade without the word 'grade' before it."""
    first, _, rest = text.strip().partition(" ")
    return rest if first.casefold() in {"grade", "length"} and rest else text


def _or_as_it_is(text: str, meant: str | None) -> str:
    return text.strip() if meant is None else meant


def _day(text: str, reading: Reading) -> str:
    both = readings_of(text, reading.year)
    if both is None:
        serial = serial_day(text)
        return text.strip() if serial is None else serial.isoformat()
    day = both[1] if reading.dates is DateOrder.MONTH else both[0]
    if reading.dates is None and both[0] != both[1]:
        day = None  # never assumed: the judge of days asks
    return text.strip() if day is None else day.isoformat()


def _unfolded(
    table: _Tidy, wide: list[_Wide], value: str, cells: Cells, meant: Callable[[str], str]
) -> _Tidy:
    """A row for each wide cell: all of the first row of the source, then all of the second."""
    height, width = len(table.rows), len(wide)
    under = [cells.columns[w.place].at(table.rows) for w in wide]
    stacked = joined(under)
    by_row = stacked.codes.reshape(width, height).T.ravel()
    spread = np.tile(np.arange(width, dtype=np.int32), height)
    columns = {
        name: Spelled(column.texts, np.repeat(column.codes, width))
        for name, column in table.columns.items()
    }
    for field in dict.fromkeys(w.field for w in wide):
        said = Spelled.of([w.says if w.field == field else "" for w in wide])
        columns[field] = Spelled(said.texts, said.codes[spread])
    columns[value] = Spelled(stacked.texts, by_row).respelled(meant)
    record = np.repeat(table.record, width)
    return _Tidy(columns, np.repeat(table.rows, width), record, spread)


def _counted(table: _Tidy) -> Spelled:
    """Stems that have no number are counted, those of each plot and day from 1 on."""
    seen: dict[tuple[int, ...], int] = {}
    keys = [table.columns[name].codes for name in ("plot", "cut_on") if name in table.columns]
    numbers = []
    for key in zip(*(codes.tolist() for codes in keys), strict=True):
        seen[key] = seen.get(key, 0) + 1
        numbers.append(str(seen[key]))
    return Spelled.of(numbers)


def _without_blanks(table: _Tidy, reading: Reading) -> _Tidy:
    """Blanks and marks of a count replaced by what they say: no row, a nought, or a missed pick."""
    value = VALUE[reading.sheet]
    column = table.columns[value]
    says: dict[str, Meaning | None] = {"": reading.blank, **dict(reading.marks)}
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
    if not missed.any():
        return zeroed.only(~nothing)
    return _with_missed(zeroed, missed, ~nothing & ~missed).only(
        ~nothing & _first_missed(zeroed, missed, ~nothing & ~missed)
    )


def replace_column(table: _Tidy, name: str, column: Spelled) -> _Tidy:
    """The table with one column changed or added."""
    return replace(table, columns={**table.columns, name: column})


def _with_missed(table: _Tidy, missed: Mask, picked: Mask) -> _Tidy:
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


def _first_missed(table: _Tidy, missed: Mask, picked: Mask) -> Mask:
    """Of the missed cells of one plot and day only the first, and none where others are filled."""
    day = table.columns.get("cut_on")
    days = np.zeros(len(table.rows), np.int64) if day is None else day.codes.astype(np.int64)
    group = table.record * (int(days.max(initial=0)) + 1) + days
    keep = np.ones(len(group), dtype=bool)
    first = np.zeros(len(group), dtype=bool)
    first[np.unique(np.where(missed, group, -1), return_index=True)[1]] = True
    keep[missed] = first[missed] & ~np.isin(group[missed], group[picked])
    return keep
