"""Brings a trial into a store with its history: each row by the entry that first recorded it.

In a store that holds nothing the entries keep their numbers, so that *as known at entry 7* says in
both stores the same. Elsewhere they get the next numbers, one after another in their own order, and
say which they had. Their times stay what they were: as known at a time, a store made of packages
knows what had been recorded by then, wherever that was. A trial that a store holds keeps the
history it has there.

The records themselves come in as any other batch, judged by the same rules, as one entry made now;
then each row is given to the entry that it is from. All of it is one transaction.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, NoReturn

from trials.errors import HistoryRefused, Remedy, Verb
from trials.model.rows import Added, Batch, Sheet, Signed
from trials.model.trial import Outcome
from trials.store import intake
from trials.store.history.as_of import Moment, look_back
from trials.store.history.changes import What
from trials.store.history.export import CLOSINGS, KINDS, Carried, CarriedEntry
from trials.store.history.tables import TWINS, asked_of
from trials.store.history.trial_digest import digest
from trials.store.questions import filled, question, rows
from trials.store.reference_checks import loose_ends

if TYPE_CHECKING:
    import duckdb
    import pandas as pd
    import pyarrow as pa

_AHEAD = timedelta(days=1)  # two clocks may differ, and so may what they take for UTC


def bring(
    cursor: duckdb.DuckDBPyConnection, code: str, batch: Batch, carried: Carried, signed: Signed
) -> tuple[Added, int]:
    """Store a trial that is not held with its history; to be called within a transaction.

    It answers what was added, and how many entries. The cursor looks back from here on.

    Raises
    ------
    HistoryRefused
        The history does not fit the records, or contradicts itself.
    RecordsRefused, TrialState
        The records cannot be stored.
    """
    _refuse_disorder(code, carried)
    carried = _of_own_prices(cursor, carried)
    numbers = _numbers(cursor, carried.entries)
    _put_entries(cursor, code, carried.entries, numbers)
    before = set(loose_ends(cursor))
    added = intake.add(cursor, batch, signed, What.LOAD)
    ((drawn,),) = rows(cursor, "last_entry")
    _refuse_strangers(cursor, code, carried)
    for name, table in carried.rows.items():
        kept = table.assign(
            entry=table["entry"].map(numbers),
            superseded_by=table["superseded_by"].map(numbers).astype("Int64"),
        )
        _put_rows(cursor, code, name, kept, drawn)
    _refuse_left_over(cursor, code, drawn)
    _put_doubts(cursor, carried, numbers)
    if any(end not in before for end in loose_ends(cursor)):
        refuse(code, "some records lack others that they need")
    _refuse_other_closings(cursor, code)
    return added, len(carried.entries)


def refuse(code: str, why: str) -> NoReturn:
    """Refuse the history of a trial, and with it all of the package."""
    raise HistoryRefused(
        f"The history of {code} in the package is not valid: {why}. Nothing was stored.",
        Remedy(
            "Ask for the package again, or load its files without their history", Verb.LOAD, "FILES"
        ),
    )


def _refuse_disorder(code: str, carried: Carried) -> None:
    """Refuse entries out of their order, and rows whose entries are not there."""
    latest = datetime.now(UTC).replace(tzinfo=None) + _AHEAD
    for one, other in zip(carried.entries, carried.entries[1:], strict=False):
        if other.number <= one.number or other.recorded_at < one.recorded_at:
            refuse(code, f"change {other.number} comes before change {one.number}")
    there = {entry.number for entry in carried.entries}
    for entry in carried.entries:
        if entry.recorded_at > latest:
            refuse(
                code,
                f"change {entry.number} has a date in the future, {entry.recorded_at:%Y-%m-%d}",
            )
        if entry.undoes is not None and (entry.undoes not in there or entry.undoes >= entry.number):
            refuse(code, f"change {entry.number} undoes change {entry.undoes}, which is missing")
    for name, table in carried.rows.items():
        named = set(table["entry"]) | set(table["superseded_by"].dropna())
        if not named <= there:
            lacking = min(named - there)
            refuse(code, f"rows of {_words(name)} belong to change {lacking}, which is missing")
        if (table["superseded_by"] <= table["entry"]).any():
            refuse(code, f"rows of {_words(name)} were superseded before they were stored")


def _of_own_prices(cursor: duckdb.DuckDBPyConnection, carried: Carried) -> Carried:
    """Without the prices that this store knows already: it has a history of its own of them."""
    import pandas as pd

    name = Sheet.SEED_ITEMS.value
    known = set(rows(cursor, "known_prices"))
    if name not in carried.rows or not known:
        return carried
    prices = carried.rows[name]
    of_any_list = {(house, item, from_packs) for house, item, _, from_packs in known}
    key = ("house", "item", "price_year", "from_packs")
    fresh = prices[
        [
            (house, item, from_packs) not in of_any_list
            if pd.isna(year)
            else (house, item, year, from_packs) not in known
            for house, item, year, from_packs in zip(*(prices[name] for name in key), strict=True)
        ]
    ]
    tables = {**carried.rows, name: fresh}
    tables = {each: table for each, table in tables.items() if len(table)}
    needed = {
        number
        for table in tables.values()
        for number in (*table["entry"], *table["superseded_by"].dropna())
    }
    return Carried(
        tuple(entry for entry in carried.entries if entry.number in needed),
        tables,
        tuple(doubt for doubt in carried.doubts if doubt.entry in needed),
    )


def _numbers(
    cursor: duckdb.DuckDBPyConnection, entries: tuple[CarriedEntry, ...]
) -> Mapping[int, int]:
    """The number that each entry gets here."""
    ((last,),) = rows(cursor, "last_entry")
    if not last:
        return {entry.number: entry.number for entry in entries}
    return {entry.number: last + 1 + place for place, entry in enumerate(entries)}


def _put_entries(
    cursor: duckdb.DuckDBPyConnection,
    code: str,
    entries: tuple[CarriedEntry, ...],
    numbers: Mapping[int, int],
) -> None:
    import pandas as pd

    fresh = pd.DataFrame(
        [
            (
                numbers[entry.number],
                entry.recorded_at,
                entry.who,
                entry.what,
                entry.why,
                None if entry.undoes is None else numbers[entry.undoes],
                code,
                entry.number,
            )
            for entry in entries
        ],
        columns=[
            "number",
            "recorded_at",
            "who",
            "what",
            "why",
            "undoes",
            "origin",
            "origin_number",
        ],
    ).astype({"undoes": "Int64", "who": object, "why": object})
    _with(cursor, "fresh", fresh, question("bring_entries"))


def _put_rows(
    cursor: duckdb.DuckDBPyConnection, code: str, name: str, table: pd.DataFrame, drawn: int
) -> None:
    kind = KINDS[name]
    if name == Sheet.SEED_ITEMS:
        # A package from before price lists had a year: it is that of the rows it brought.
        ((year,),) = rows(cursor, "price_year_of_entry", entry=drawn)
        table = table.assign(
            available=table["available"] == "yes", price_year=table["price_year"].fillna(year)
        )
    cursor.register("brought", _arrow(table))
    if name == Sheet.CUTS:
        _refuse_odd_days(code, table)
        days = cursor.sql(question("days_brought")).to_arrow_table()
        cursor.register("brought", days)
    twice = cursor.execute(filled("overlapping", names=", ".join(kind.key))).fetchall()
    if twice:
        said = ", ".join(str(cell) for cell in twice[0][:-1] if cell is not None)
        refuse(code, f"{said} in {_words(name)} was stored twice at the same time")
    if name == CLOSINGS:
        cursor.execute(question("bring_closing"))
    else:
        twin = next(twin for twin in TWINS if twin.sheet is kind.sheet)
        cursor.execute(asked_of("assign_entries", twin), {"drawn": drawn})
        cursor.execute(asked_of("bring_superseded", twin))
    cursor.unregister("brought")


def _refuse_odd_days(code: str, table: pd.DataFrame) -> None:
    """Refuse picking days that cannot be, as only the table of those that hold has the rules."""
    grade, reason = table["grade_cm"].notna(), table["cull_reason"].notna()
    picked = table["outcome"] == Outcome.PICKED.value
    odd = (picked != table["stems"].notna()) | (grade & reason) | (~picked & (grade | reason))
    odd |= picked & ~grade & ~reason & (table["stems"] != 0).fillna(value=False)
    odd |= table.duplicated(["plot", "cut_on", "grade_cm", "cull_reason", "entry", "superseded_by"])
    if odd.any():
        plot, day = table.loc[odd.to_numpy(), ["plot", "cut_on"]].iloc[0]
        refuse(code, f"the rows of {plot} on {day} contradict one another")


def _refuse_strangers(cursor: duckdb.DuckDBPyConnection, code: str, carried: Carried) -> None:
    """Refuse rows of other trials, and of lots and packets that are not held.

    Of rows that hold the database sees to it; what was superseded refers to nothing.
    """
    plots = {plot for (plot,) in rows(cursor, "plots_of_trial", trial=code)}
    lots = {lot for (lot, *_) in rows(cursor, "held_seed_lots")}
    for name, table in carried.rows.items():
        own = {"plot": plots, "other_plot": plots, "trial": {code}, "lot": lots}
        for column in own.keys() & set(table.columns):
            strange = set(table[column].dropna()) - own[column]
            if strange:
                refuse(code, f"{min(strange)} in {_words(name)} does not belong to this trial")
    prices = carried.rows.get(Sheet.SEED_ITEMS.value)
    if prices is not None:
        sold = {(house, item) for house, item, *_ in rows(cursor, "held_seed_items")}
        strange_items = set(zip(prices["house"], prices["item"], strict=True)) - sold
        if strange_items:
            refuse(code, f"{min(strange_items)[1]} in seed items is not in the package")


def _refuse_left_over(cursor: duckdb.DuckDBPyConnection, code: str, drawn: int) -> None:
    """Refuse records that no entry of the history brought."""
    for twin in TWINS:
        asked = asked_of("count_of_entry", twin)
        ((left,),) = cursor.execute(asked, {"entry": drawn}).fetchall()
        if left:
            refuse(code, f"{left} rows of {_words(twin.table)} belong to no change of the history")


def _put_doubts(
    cursor: duckdb.DuckDBPyConnection, carried: Carried, numbers: Mapping[int, int]
) -> None:
    import pandas as pd

    if not carried.doubts:
        return
    fresh = pd.DataFrame(
        [
            (numbers[each.entry], each.sheet, each.column, each.doubt, each.reason)
            for each in carried.doubts
        ],
        columns=["entry", "sheet", "column_name", "doubt", "reason"],
        dtype=object,
    )
    _with(cursor, "fresh", fresh, question("bring_doubts"))


def _refuse_other_closings(cursor: duckdb.DuckDBPyConnection, code: str) -> None:
    """Refuse a trial whose records, as known at a closing, are not those it was closed with."""
    for trial, entry, at_closing in rows(cursor, "closings_with_digest"):
        if trial == code:
            look_back(cursor, Moment(entry))
            if digest(cursor, code) != at_closing:
                refuse(code, "its records are not those it was closed with")


def _with(
    cursor: duckdb.DuckDBPyConnection, name: str, table: pd.DataFrame, statement: str
) -> None:
    cursor.register(name, _arrow(table))
    cursor.execute(statement)
    cursor.unregister(name)


def _arrow(table: pd.DataFrame) -> pa.Table:
    """A frame as a table in which a column without any cell fits every kind."""
    import pyarrow as pa

    return pa.table({str(name): pa.array(table[name], from_pandas=True) for name in table.columns})


def _words(name: str) -> str:
    return name.replace("_", " ")
