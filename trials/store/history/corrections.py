"""Puts right what was recorded: rows are superseded, never overwritten, and it can be undone.

What holds now stays in its table, what was superseded goes to the table's twin (see ``twins``).
All functions here are to be called within a transaction.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from trials.errors import ChangedMeanwhile, HistoryRefused, Remedy, TallybedError, Verb
from trials.model.rows import Batch, Sheet, Signed
from trials.store import agreements
from trials.store.history import listing as history
from trials.store.history.changes import Draft, What, entry, entry_of
from trials.store.history.superseding import supersede
from trials.store.history.tables import CUT, TWINS, Twin, asked_of
from trials.store.intake import AMENDABLE, as_stored, note_sources, put, refusing
from trials.store.questions import question, rows
from trials.store.reference_checks import loose_ends

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

    from trials.model.trial import Entry


def correct(
    cursor: duckdb.DuckDBPyConnection, batch: Batch, signed: Signed, seen: int
) -> Entry | None:
    """Put rows in the place of those held of the same plot and day (or other key).

    Of a picking day, and of a day's measured stems, all rows are given; they replace all held.
    ``seen`` is the newest entry that whoever corrects has looked at.

    Raises
    ------
    ChangedMeanwhile
        Rows to be replaced were changed, or withdrawn, by an entry after ``seen``.
    RecordsRefused
        A row cannot be.
    HistoryRefused
        Other records rest on what would go; or the sheet cannot be put right.
    """
    return _change(cursor, What.CORRECTION, batch, signed, seen)


def withdraw(
    cursor: duckdb.DuckDBPyConnection, batch: Batch, signed: Signed, seen: int
) -> Entry | None:
    """Take out rows that should never have been; each is named word for word.

    Raises
    ------
    ChangedMeanwhile
        A row is not held, or no longer held like that.
    HistoryRefused
        Other records rest on a row; or rows of the sheet cannot be withdrawn.
    """
    return _change(cursor, What.WITHDRAWAL, batch, signed, seen)


def undo(cursor: duckdb.DuckDBPyConnection, number: int | None, signed: Signed) -> Entry:
    """Take an entry back: its rows are superseded by what was before it.

    ``number`` None means the newest entry by the same person that can be taken back.

    Raises
    ------
    HistoryRefused
        Later entries touched the same rows, other records rest on them, or the entry brought
        nothing that can be taken back.
    """
    known = recorded(cursor, signed)
    if known is not None:
        return known
    number = _newest_of(cursor, signed) if number is None else number
    _refuse_what_stays(cursor, number)
    with _nothing_loose(cursor), entry(cursor, What.UNDO, signed, undoes=number) as draft:
        draft.happened = True
        for twin in TWINS:
            supersede(cursor, twin, draft, "rows_of_entry", entry=number)
        for twin in TWINS:
            cursor.execute(asked_of("restore", twin), {"undone": number, "entry": draft.number})
    return history.one(cursor, draft.number)


def recorded(cursor: duckdb.DuckDBPyConnection, signed: Signed) -> Entry | None:
    """The entry that a submission with this token made before."""
    number = entry_of(cursor, signed)
    return None if number is None else history.one(cursor, number)


def _change(
    cursor: duckdb.DuckDBPyConnection, what: What, batch: Batch, signed: Signed, seen: int
) -> Entry | None:
    known = recorded(cursor, signed)
    if known is not None:
        return known
    if not (signed.why or "").strip():
        raise TallybedError("Give a reason in a few words, such as: misread the sheet.")
    with _nothing_loose(cursor), entry(cursor, what, signed) as draft:
        # Samples go before the cuts they rest on, and come after them.
        for sheet in Sheet:
            table = batch.frames.get(sheet)
            if table is None or table.empty:
                continue
            if what is What.CORRECTION:
                _replace(cursor, sheet, table, batch, draft, seen)
            else:
                _take_out(cursor, sheet, table, draft, seen)
            draft.happened = True
        if draft.happened:
            agreements.keep(cursor, batch, draft.number)
            note_sources(cursor, batch.sources, draft)
    return history.one(cursor, draft.number) if draft.happened else None


def _replace(
    cursor: duckdb.DuckDBPyConnection,
    sheet: Sheet,
    table: pd.DataFrame,
    batch: Batch,
    draft: Draft,
    seen: int,
) -> None:
    twins = [twin for twin in TWINS if twin.sheet is sheet and twin.together]
    if not twins:
        raise HistoryRefused(_NOT_PUT_RIGHT.format(sheet=_words(sheet)))
    fresh = as_stored(cursor, sheet.value, table).df()
    cursor.unregister("incoming")
    cursor.register("named", fresh[list(twins[0].together)].drop_duplicates())
    for twin in twins:
        _refuse_changed(cursor, twin, seen)
    missing = cursor.execute(asked_of("not_held_together", twins[0])).fetchall()
    if missing:
        raise ChangedMeanwhile(
            f"Nothing is stored for {_key(missing[0])} in {_words(sheet)}, so there is "
            "nothing to correct.",
            Remedy("Add new records", Verb.LOAD, "FILE"),
        )
    for twin in twins:
        supersede(cursor, twin, draft, "rows_named_together")
    cursor.unregister("named")
    with refusing(sheet, batch.sources):
        put(cursor, AMENDABLE.get(sheet, sheet.value), fresh, draft.number)


def _take_out(
    cursor: duckdb.DuckDBPyConnection,
    sheet: Sheet,
    table: pd.DataFrame,
    draft: Draft,
    seen: int,
) -> None:
    if sheet in AMENDABLE or not any(twin.sheet is sheet for twin in TWINS):
        raise HistoryRefused(
            f"Rows of {_words(sheet)} cannot be withdrawn, as other records need them."
        )
    incoming = as_stored(cursor, sheet.value, table)
    held = cursor.sql(question(f"held_{sheet.value}"))
    strange = incoming.except_(held).fetchall()
    if strange:
        raise ChangedMeanwhile(
            f"{_key(strange[0])} is not stored in {_words(sheet)}, or no longer with these values.",
            Remedy("See what is stored", Verb.HISTORY),
        )
    named = incoming.df()
    cursor.unregister("incoming")
    cursor.register("named", named)
    if sheet is Sheet.CUTS:
        # A picked day goes with its last stems, a missed one by itself.
        from trials.store.picking_days import left_of_days

        left = left_of_days(cursor)
        supersede(cursor, CUT, draft, "rows_named_together")
        if len(left):
            put(cursor, sheet.value, left, draft.number)
    else:
        for twin in (twin for twin in TWINS if twin.sheet is sheet):
            supersede(cursor, twin, draft, "rows_named")
    cursor.unregister("named")


def _refuse_changed(cursor: duckdb.DuckDBPyConnection, twin: Twin, seen: int) -> None:
    later = cursor.execute(asked_of("changed_since", twin), {"seen": seen}).fetchall()
    if later:
        said = _named(cursor, [number for (number,) in later])
        raise ChangedMeanwhile(
            f"These records were changed after you read them, by {said}. Read them again, "
            "then correct what is stored now."
        )


def _refuse_what_stays(cursor: duckdb.DuckDBPyConnection, number: int) -> None:
    taken = history.one(cursor, number)
    if taken.undone_by is not None:
        raise HistoryRefused(
            f"Change {number} was undone already, by change {taken.undone_by}.",
            Remedy(
                f"To restore it, undo change {taken.undone_by} back",
                Verb.UNDO,
                str(taken.undone_by),
            ),
        )
    if taken.what == What.BEFORE_HISTORY:
        raise HistoryRefused(
            "Records from before the history began cannot be undone as a whole. Withdraw or "
            "correct single rows."
        )
    if taken.what == What.NEW_MEANING:
        raise HistoryRefused(
            f"Change {number} records only that figures are calculated differently. There is "
            "nothing to undo."
        )
    laid_out = [plot for (plot,) in rows(cursor, "plots_laid_out_by", entry=number)]
    if laid_out:
        raise HistoryRefused(
            f"Change {number} laid out plots ({_few(laid_out)}), and a laid-out plot "
            "cannot be undone. Withdraw or correct single rows."
        )
    way = {
        other
        for twin in TWINS
        for (other,) in cursor.execute(asked_of("in_the_way", twin), {"entry": number}).fetchall()
    }
    if way:
        raise HistoryRefused(
            f"Change {number} cannot be undone: the same records were changed later, by "
            f"{_named(cursor, sorted(way))}. {_way_out(cursor, way)}"
        )
    if not taken.rows:
        raise HistoryRefused(
            f"Change {number} added only names, which stay. There is nothing to undo."
        )


def _way_out(cursor: duckdb.DuckDBPyConnection, way: set[int]) -> str:
    """What to do about entries that are in the way of taking an earlier one back."""
    later = [history.one(cursor, number) for number in way]
    standing = [each for each in later if each.undone_by is None and each.undoes not in way]
    if standing:
        return "Undo that first, or correct the rows themselves."
    return "It has been undone since. Correct or withdraw the rows themselves."


def _newest_of(cursor: duckdb.DuckDBPyConnection, signed: Signed) -> int:
    for number, _, who, what, _, _, undone_by, _, origin, _ in rows(cursor, "entries"):
        theirs = who == signed.who and origin is None  # not of the same name on another farm
        if theirs and what not in (What.UNDO, What.NEW_MEANING) and undone_by is None:
            return int(number)
    raise HistoryRefused(
        f"No change by {signed.who or 'you'} is left to undo. Give the number of a change.",
        Remedy("See them", Verb.HISTORY),
    )


@contextmanager
def _nothing_loose(cursor: duckdb.DuckDBPyConnection) -> Iterator[None]:
    """Refuse a change that takes away what other records rest on."""
    before = set(loose_ends(cursor))
    yield
    found = [end for end in loose_ends(cursor) if end not in before]
    if found:
        raise HistoryRefused(
            f"{_few(map(str, found), ' ')} Nothing was changed. Correct or withdraw the "
            "records that need it at the same time."
        )


def _named(cursor: duckdb.DuckDBPyConnection, numbers: Iterable[int]) -> str:
    said = []
    for number in numbers:
        found = history.one(cursor, number)
        why = f": {found.why}" if found.why else ""
        said.append(
            f"change {number} ({found.what} by {found.who or 'somebody'}, "
            f"{found.recorded_at:%Y-%m-%d %H:%M} UTC{why})"
        )
    return " and ".join(said)


def _few(items: Iterable[str], link: str = ", ") -> str:
    listed = list(items)
    more = f" and {len(listed) - 3} more" if len(listed) > 3 else ""
    return link.join(listed[:3]) + more


def _key(row: Iterable[object]) -> str:
    return ", ".join(str(cell) for cell in row if cell is not None)


def _words(sheet: Sheet) -> str:
    return sheet.value.replace("_", " ")


_NOT_PUT_RIGHT = (
    "Rows of {sheet} cannot be corrected. Withdraw a wrong event and load the right one. "
    "Names that other records need cannot change."
)
