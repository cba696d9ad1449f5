"""Totals and remarks among the records of a sheet: found, left out, and checked."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from trials.records.encoded_column import Cells, Spelled
from trials.records.faults import shown
from trials.records.files.sheet_parts import is_total
from trials.records.mapping.noted import NOT_RECORDED, noted, plain_text, said_under
from trials.records.mapping.numbers import number
from trials.records.mapping.plot_labels import KnownPlots, label_of, plain_label
from trials.records.mapping.reading import DAY, VALUE, DecimalMark, Question, Reading, distinct

Mask = NDArray[np.bool_]
TOTALS = "totals"
KEEP = "keep the rows"
_NO_SUM = re.compile(r"\b(?:mean|average|avg)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """The rows of a table that are records, those that are totals, and those that are remarks."""

    records: Mask
    totals: Mask
    remarks: Mask


def rows_of(reading: Reading, cells: Cells, plots: KnownPlots | None = None) -> Rows:
    """Tell records from totals and remarks.

    A total says so in a column that holds no figures. A remark is a row with one cell filled that
    is no plot, no label and no day.
    """
    totals = np.zeros(len(cells), dtype=bool)
    filled = np.zeros(len(cells), dtype=np.int64)
    remark = np.zeros(len(cells), dtype=bool)
    known = plots or KnownPlots()
    bare = np.ones(len(cells), dtype=bool)
    aside = np.zeros(len(cells), dtype=bool)
    for name, column in zip(distinct(cells.heading), cells.columns, strict=True):
        if not _holds_figures(reading, name):
            says = [_says_total(text, reading, known) for text in column.texts]
            said = np.array(says, dtype=bool)[column.codes]
            if _tells_which(reading, name):
                totals |= said
                bare &= column.where(lambda text: not text.strip())
            else:
                aside |= said
        there = column.where(lambda text: bool(text.strip()))
        filled += there
        remarks = [_is_remark(text, reading, name, known) for text in column.texts]
        remark |= there & np.array(remarks, dtype=bool)[column.codes]
    totals |= aside & bare  # a reason such as 'total loss' beside a plot is no total
    totals |= _bare_totals(reading, cells, ~totals)
    apart = (filled < 2) & remark & ~totals & (len(cells.heading) > 2)
    return Rows(~totals & ~apart, totals, apart)


def totals_in(reading: Reading, cells: Cells) -> tuple[str, ...]:
    """The texts by which rows say that they are totals."""
    named = zip(distinct(cells.heading), cells.columns, strict=True)
    said = (t for n, c in named if not _holds_figures(reading, n) for t in c.used())
    return tuple(dict.fromkeys(text.strip().casefold() for text in said if is_total(text)))[:20]


def _says_total(text: str, reading: Reading, plots: KnownPlots) -> bool:
    if text.strip() in plots.codes:
        return False
    return text.strip().casefold() in reading.no_records or is_total(text)


def _tells_which(reading: Reading, name: str) -> bool:
    """Whether a column tells the plot of a row, or its day."""
    read = reading.column(name)
    field = None if read is None else read.field
    return field in ("plot", DAY.get(reading.sheet)) or label_of(field) is not None


def _holds_figures(reading: Reading, name: str) -> bool:
    read = reading.column(name)
    return read is None or read.field == VALUE.get(reading.sheet)


def _is_remark(text: str, reading: Reading, name: str, plots: KnownPlots) -> bool:
    """Whether a text that stands alone in its row is words, and no name of ours."""
    read = reading.column(name)
    if read is None or not any(map(str.isalpha, text)) or reading.sheet not in VALUE:
        return False
    if plots.code(text, "spelled alike") in plots.codes or noted(text) is not None:
        return False
    label = label_of(read.field)
    if label is not None and plain_label(text) in plots.levels(label):
        return False
    if read.field == DAY.get(reading.sheet) and not any(c.isalpha() for c in text):
        return False
    return len(text.split()) > 1 or not any(map(str.isdigit, text))


def _figures(reading: Reading, name: str, column: Spelled) -> list[Decimal | None]:
    """The numbers of a column; a blank or a mark is 0, and what cannot be summed is None."""
    mark = reading.decimal or DecimalMark.POINT
    agreed = dict(reading.cells)
    said: list[Decimal | None] = []
    for text in column.texts:
        value = number(plain_text(said_under(name, text)), mark)
        found = noted(said_under(name, text)) if value is None else None
        answer = None if found is None else agreed.get(found.kind)
        if found is not None and answer is not None:
            value = Decimal(0) if answer == NOT_RECORDED else found.value(answer)
        none = value is None and not any(map(str.isdigit, text)) and found is None
        said.append(Decimal(0) if none else value)
    return [said[code] for code in column.codes.tolist()]


def _value_columns(reading: Reading, cells: Cells) -> list[tuple[str, list[Decimal | None]]]:
    named = zip(distinct(cells.heading), cells.columns, strict=True)
    return [
        (name, _figures(reading, name, column))
        for name, column in named
        if _holds_figures(reading, name)
    ]


def _bare_totals(reading: Reading, cells: Cells, records: Mask) -> Mask:
    """The last row, where it has nothing but the sums of the rows above it."""
    found = np.zeros(len(cells), dtype=bool)
    if len(cells) < 3 or VALUE.get(reading.sheet) not in ("stems", "living"):
        return found
    last = len(cells) - 1
    named = zip(distinct(cells.heading), cells.columns, strict=True)
    if any(column[last].strip() for name, column in named if _is_key(reading, name)):
        return found
    sums = [
        (column[last], sum((v for v, r in zip(column, records, strict=True) if r and v), Decimal(0))
         - (column[last] or 0))
        for _, column in _value_columns(reading, cells)
    ]  # fmt: skip
    found[last] = (
        bool(sums)
        and all(said == total for said, total in sums)
        and any(total for _, total in sums)
    )
    return found


def _is_key(reading: Reading, name: str) -> bool:
    read = reading.column(name)
    return read is not None and read.field is not None and read.field != VALUE.get(reading.sheet)


def about_totals(reading: Reading, cells: Cells, plots: KnownPlots | None) -> list[Question]:
    """A question where a total is not the sum of what it is the total of."""
    if TOTALS in dict(reading.once) or VALUE.get(reading.sheet) not in ("stems", "living"):
        return []
    rows = rows_of(reading, cells, plots)
    wrong = [*_down(reading, cells, rows), *_across(reading, cells, rows)]
    if not wrong:
        return []
    more = f" ({len(wrong) - 1} more totals differ.)" if len(wrong) > 1 else ""
    words = f"{wrong[0]}{more} Correct the sheet, or keep the rows' figures?"
    return [Question(TOTALS, words, (KEEP,))]


def _down(reading: Reading, cells: Cells, rows: Rows) -> Iterator[str]:
    """What is wrong with totals under their columns: each is of all rows, or of those since."""
    if not rows.totals.any():
        return
    texts = [
        " ".join(column[int(row)] for column in cells.columns)
        for row in np.flatnonzero(rows.totals)
    ]
    for name, figures in _value_columns(reading, cells):
        if any(v is None for v, r in zip(figures, rows.records, strict=True) if r):
            continue
        every, since = Decimal(0), Decimal(0)
        said = iter(texts)
        for row, value in enumerate(figures):
            if rows.records[row]:
                every, since = every + (value or 0), since + (value or 0)
            elif rows.totals[row]:
                text = next(said)
                written = cells.columns[distinct(cells.heading).index(name)][row].strip()
                if not _NO_SUM.search(text) and written and value not in (every, since, None):
                    yield (
                        f"Row {cells.row_numbers[row]} says {value:f} under {shown(name)}, but "
                        f"the rows above it come to {since:f}."
                    )
                since = Decimal(0)


def _across(reading: Reading, cells: Cells, rows: Rows) -> Iterator[str]:
    """What is wrong with totals beside a wide table's rows."""
    heading = distinct(cells.heading)
    values = _value_columns(reading, cells)
    if len(values) < 2:
        return
    for name, column in zip(heading, cells.columns, strict=True):
        read = reading.column(name)
        if read is None or read.field is not None or not is_total(name) or _NO_SUM.search(name):
            continue
        totals = _figures(reading, name, column)
        for row in np.flatnonzero(rows.records):
            figures: Sequence[Decimal | None] = [its[row] for _, its in values]
            known = [value for value in figures if value is not None]
            if len(known) < len(figures) or not column[int(row)].strip():
                continue
            if totals[row] is not None and totals[row] != sum(known):
                yield (
                    f"Row {cells.row_numbers[row]} says {totals[row]:f} under {shown(name)}, but "
                    f"its cells come to {sum(known):f}."
                )
