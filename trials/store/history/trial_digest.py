"""The digest of a trial's records: the same records give the same one, in any store, years later.

It is the SHA-256 of text that anybody can write again from the plain files: trials, plots, stand
counts, cuts, stem samples, events and scores. The factor columns of plots are rows of their own,
``plot_levels`` with trial, plot, factor and level. Each row is one line, such as
``["stand_counts",{"counted_on":"2025-06-20","living":9,"plot":"Z1"}]``:

- the sheet's name, and the cells by their headings in the order of the alphabet, without spaces;
- an empty cell is left out, so that a column added later changes no digest; a column or measure
  that was renamed later keeps its first name here (``model.former_names``);
- days are ISO text, a number is the shortest decimal that gives its double back, without an
  exponent, and without a point where it is whole; text is JSON text, not escaped beyond need;
- lines are sorted by their UTF-8 bytes and joined by line feeds, with none at the end.

When and by whom a row was recorded is no part of it, nor is the closing.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Sequence
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from trials.model.former_names import column_then, measure_then
from trials.model.rows import Sheet
from trials.model.trial import RecordsDigest
from trials.store.history.as_of import Moment, look_back
from trials.store.questions import filled, nested, rows
from trials.store.trial_list import trial

if TYPE_CHECKING:
    import duckdb

_OF_TRIAL = (Sheet.TRIALS.value, Sheet.PLOTS.value, "plot_levels", Sheet.EVENTS.value)
_OF_PLOTS = tuple(
    sheet.value for sheet in (Sheet.STAND_COUNTS, Sheet.CUTS, Sheet.STEM_SAMPLES, Sheet.SCORES)
)


def digest(cursor: duckdb.DuckDBPyConnection, code: str) -> str:
    """The digest of a trial's records as this cursor sees them, in hexadecimal."""
    # Text in the order of its characters is in the order of its UTF-8 bytes.
    return hashlib.sha256("\n".join(sorted(_lines(cursor, code))).encode()).hexdigest()


def records_digest(cursor: duckdb.DuckDBPyConnection, code: str) -> RecordsDigest:
    """The digest of a trial's records, beside the one they were closed with."""
    closed_on = trial(cursor, code).closed_on
    ((at_closing,),) = rows(cursor, "closing_digest", trial=code) or [(None,)]
    return RecordsDigest(code, digest(cursor, code), closed_on, at_closing)


def altered_closings(cursor: duckdb.DuckDBPyConnection) -> tuple[str, ...]:
    """The closed trials whose records, as known at their closing, no longer give its digest.

    Nobody can bring that about through this program. The cursor looks back from here on.
    """
    found = []
    for code, entry, at_closing in rows(cursor, "closings_with_digest"):
        look_back(cursor, Moment(entry))
        if digest(cursor, code) != at_closing:
            found.append(code)
    return tuple(found)


def _lines(cursor: duckdb.DuckDBPyConnection, code: str) -> Iterator[str]:
    for column, which, names in (
        ("trial", "this_trial", _OF_TRIAL),
        ("plot", "plots_of_trial", _OF_PLOTS),
    ):
        for name in names:
            held = nested(f"held_{name}")
            sql = filled("held_of_trial", held=held, of_trial=nested(which), column=column)
            found = cursor.execute(sql, {"trial": code})
            now = [heading for heading, *_ in found.description]
            yield from lines(name, [_name_then(name, heading) for heading in now], found.fetchall())


def _name_then(sheet: str, heading: str) -> str:
    """The first name of a sheet's column."""
    return column_then(Sheet.TRIALS, heading) if sheet == Sheet.TRIALS.value else heading


def lines(sheet: str, headings: Sequence[str], held: Sequence[tuple[object, ...]]) -> Iterator[str]:
    """Rows in their canonical form; each different cell of a column is written once."""
    columns = sorted(zip(headings, zip(*held, strict=True), strict=False))
    for cells in zip(*(_written(*column) for column in columns), strict=True):
        yield f'["{sheet}",{{{",".join(filter(None, cells))}}}]'


def _written(heading: str, column: Sequence[object]) -> Iterator[str]:
    """A column's cells, each behind its heading; '' where a cell is empty."""
    texts = {
        cell: "" if cell is None else f'"{heading}":{_text(_cell_then(heading, cell))}'
        for cell in set(column)
    }
    return map(texts.__getitem__, column)


def _cell_then(heading: str, cell: object) -> object:
    is_measure = heading == "primary_measure" and isinstance(cell, str)
    return measure_then(str(cell)) if is_measure else cell


def _text(cell: object) -> str:
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() else format(Decimal(repr(cell)), "f")
    if isinstance(cell, int):
        return str(cell)
    if isinstance(cell, date):
        return f'"{cell.isoformat()}"'
    return json.dumps(cell, ensure_ascii=False)
