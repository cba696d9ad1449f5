"""The cells of a table by what its reading takes their columns for."""

from __future__ import annotations

from trials.records.encoded_column import Cells, Spelled
from trials.records.mapping.reading import VALUE, Reading, Unit, distinct
from trials.records.rules.forms import FORMS, Kind

_SAYS_MISSED = frozenset({"missed", "not picked", "not cut", "no pick"})


def says_missed(text: str) -> bool:
    """Whether a cell says in words that nobody picked."""
    return text.strip().casefold() in _SAYS_MISSED


def value_columns(reading: Reading, cells: Cells) -> list[tuple[str, Spelled]]:
    """The columns that hold what was counted or measured, by their headings."""
    value = VALUE.get(reading.sheet)
    found = []
    for name, column in zip(distinct(cells.heading), cells.columns, strict=True):
        read = reading.column(name)
        field = reading.spread.cells if read is None and reading.spread else read and read.field
        if field == value:
            found.append((name, column))
    return found


def texts_of(
    reading: Reading, cells: Cells, kinds: tuple[Kind, ...], *, headings: bool = False
) -> list[str]:
    """The different texts that stand for values of some kinds, with headings that do too."""
    form = FORMS[reading.sheet]
    told = [(name, says) for name, says in reading.always if name in form.names] if headings else []
    found = [says for name, says in told if form.column(name).kind in kinds]
    for name, column in zip(distinct(cells.heading), cells.columns, strict=True):
        read = reading.column(name)
        if read is None and reading.spread is not None:
            parts = reading.spread.parts(name) if headings else ()
            found += [text for field, text in parts if form.column(field).kind in kinds]
            field: str | None = reading.spread.cells
        else:
            field = None if read is None else read.field
        if field and form.column(field).kind in kinds:
            found += [text for text in column.texts if text.strip()]
    return found


def grades_in(reading: Reading, cells: Cells) -> list[tuple[str, Unit | None]]:
    """The texts of a table that stand for length grades, and the unit that is said of each."""
    found: list[tuple[str, Unit | None]] = []
    for name, column in zip(distinct(cells.heading), cells.columns, strict=True):
        read = reading.column(name)
        if read is None and reading.spread is not None:
            parts = dict(reading.spread.parts(name))
            if "grade_cm" in parts:
                found.append((parts["grade_cm"], reading.spread.unit))
        elif read is not None and read.field == "grade_cm":
            found += [(text, read.unit) for text in column.used() if text.strip()]
    return found
