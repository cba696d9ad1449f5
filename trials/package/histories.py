"""The history in a package: which files it has, what they hold, and how they are read again."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any

from trials.errors import FileRefused
from trials.model.former_names import column_today
from trials.model.formula_escaping import live
from trials.model.rows import Sheet
from trials.records.rules.already_stored import judge_once_held
from trials.records.rules.forms import FORMS, TEXTS
from trials.store.history.changes import What
from trials.store.history.export import CLOSINGS, KINDS, Carried, CarriedDoubt, CarriedEntry

if TYPE_CHECKING:
    import pandas as pd

    Row = tuple[object, ...]

CHANGES, DOUBTS = "changes", "accepted"
_FORMER = "entries"  # the file of changes in packages of earlier versions
CHANGE_COLUMNS: Mapping[str, str] = {
    "change": "integer",
    "recorded_at": "datetime",
    "who": "string",
    "what": "string",
    "why": "string",
    "undoes": "integer",
}
DOUBT_COLUMNS: Mapping[str, str] = {
    "change": "integer",
    "sheet": "string",
    "column_name": "string",
    "doubt": "string",
    "reason": "string",
}
CLOSING_COLUMNS: Mapping[str, str] = {
    "trial": "string",
    "closed_on": "date",
    "reason": "string",
    "recorded_at": "datetime",
    "digest": "string",
}
# Headings of the changes that added and superseded a row, and the names that the store has.
CAME_AND_WENT: Mapping[str, str] = {"change": "entry", "superseded_by": "superseded_by"}


def file_of(kind: str) -> str:
    """The name of the file with every row of a kind that was ever held."""
    return f"history_{kind}"


def unnamed(entries: Iterable[CarriedEntry], trial: str) -> tuple[CarriedEntry, ...]:
    """The entries with persons numbered as they come, so that one is known from another."""
    numbers: dict[str, int] = {}
    return tuple(
        entry
        if entry.who is None
        else replace(
            entry, who=f"person {numbers.setdefault(entry.who, len(numbers) + 1)} of {trial}"
        )
        for entry in entries
    )


def entry_rows(entries: Iterable[CarriedEntry]) -> list[Row]:
    """The rows of the file of entries; times in UTC, as ISO 8601."""
    return [
        (entry.number, time_text(entry.recorded_at), entry.who, entry.what, entry.why, entry.undoes)
        for entry in entries
    ]


def doubt_rows(doubts: Iterable[CarriedDoubt]) -> list[Row]:
    """The rows of the file of unlikely records that somebody answered for."""
    return [(each.entry, each.sheet, each.column, each.doubt, each.reason) for each in doubts]


def kind_rows(kind: str, table: pd.DataFrame) -> list[Row]:
    """The rows of a kind that were ever held."""
    if kind == CLOSINGS:
        table = table.assign(recorded_at=table["recorded_at"].map(time_text))
    names = [*KINDS[kind].columns, *CAME_AND_WENT.values()]
    return list(table[names].itertuples(index=False, name=None))


def time_text(time: datetime) -> str:
    """A time in UTC as ISO 8601, to its last digit."""
    return f"{time.replace(tzinfo=None).isoformat(timespec='microseconds')}Z"


def read_history(folder: str, files: Mapping[str, str]) -> Carried | None:
    """The history among the files of a package, by their names; None where it has none.

    Raises
    ------
    FileRefused
        It cannot be read.
    RecordsRefused
        A cell cannot be right.
    """
    made = files.get(CHANGES, files.get(_FORMER))
    if made is None:
        return None
    try:
        entries = tuple(map(_entry, _dicts(made)))
        doubts = tuple(map(_doubt, _dicts(files.get(DOUBTS, ""))))
        found = {
            name: _closings(files[file_of(name)])
            if kind.sheet is None
            else _judged(file_of(name), kind.sheet, kind.columns, files[file_of(name)])
            for name, kind in KINDS.items()
            if file_of(name) in files
        }
    except (KeyError, TypeError, AttributeError, ValueError, OverflowError, csv.Error) as problem:
        raise FileRefused(
            f"{folder}: its history cannot be read ({problem}). Ask for it again."
        ) from problem
    return Carried(entries, {name: rows for name, rows in found.items() if len(rows)}, doubts)


def _judged(name: str, sheet: Sheet, names: Sequence[str], text: str) -> pd.DataFrame:
    reader = csv.reader(io.StringIO(text, newline=""))
    headings = [live(heading) for heading in next(reader, [])]
    columns = list(zip(*reader, strict=True)) or [()] * len(headings)
    cells: dict[str, Sequence[str]] = dict(zip(headings, columns, strict=True))
    if "entry" in cells:  # packages of earlier versions
        cells["change"] = cells.pop("entry")
    if sheet is Sheet.SEED_ITEMS:  # packages from before price lists had a year
        cells.setdefault("price_year", [""] * len(cells["house"]))
        cells.setdefault("seed_saving", [""] * len(cells["house"]))
    for heading in names:
        if FORMS[sheet].column(heading).kind in TEXTS:
            cells[heading] = [live(cell) for cell in cells[heading]]
    return judge_once_held(f"{name}.csv", sheet, names, cells)


def _closings(text: str) -> pd.DataFrame:
    import pandas as pd

    read = [
        (
            live(row["trial"]),
            date.fromisoformat(row["closed_on"]),
            live(row["reason"]),
            _time(row["recorded_at"]),
            live(row["digest"]) or None,
            _number(row),
            _whole(row["superseded_by"]),
        )
        for row in _dicts(text)
    ]
    table = pd.DataFrame(read, columns=[*CLOSING_COLUMNS, *CAME_AND_WENT.values()], dtype=object)
    return table.astype({"entry": "Int64", "superseded_by": "Int64"})


def _entry(row: Mapping[str, str]) -> CarriedEntry:
    return CarriedEntry(
        _number(row),
        _time(row["recorded_at"]),
        live(row["who"]) or None,
        What(live(row["what"])),
        live(row["why"]) or None,
        _whole(row["undoes"]),
    )


def _doubt(row: Mapping[str, str]) -> CarriedDoubt:
    sheet, column = Sheet(live(row["sheet"])), live(row["column_name"])
    return CarriedDoubt(
        _number(row),
        sheet.value,
        column_today(sheet, column) or None,
        live(row["doubt"]),
        live(row["reason"]),
    )


def _number(row: Mapping[str, str]) -> int:
    """The number of a row's change; packages of earlier versions call it an entry."""
    return int(row["change"] if "change" in row else row["entry"])


def _dicts(text: str) -> Iterable[dict[str, Any]]:
    return csv.DictReader(io.StringIO(text, newline=""))


def _whole(text: str) -> int | None:
    return int(text) if text else None


def _time(text: str) -> datetime:
    return datetime.fromisoformat(text).astimezone(UTC).replace(tzinfo=None)
