"""What was changed, by whom, when and why: the entries, and the rows that came and went by each."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from trials.errors import UnknownName
from trials.model.trial import Cell, Change, Entry
from trials.store import early_cuts
from trials.store.history.as_of import no_entry
from trials.store.history.changes import What
from trials.store.history.tables import TOLD, asked_of
from trials.store.questions import filled, question, rows

if TYPE_CHECKING:
    from datetime import datetime

    import duckdb

# So many rows are listed one by one even where nothing was superseded: what one person tallies.
FEW_ROWS = 12

Pairs = tuple[tuple[str, Cell], ...]


def entries(
    cursor: duckdb.DuckDBPyConnection, of: str | None = None, last: int | None = None
) -> tuple[Entry, ...]:
    """The entries, oldest first: all, or those that touched a trial or a plot, or every figure.

    ``last`` keeps only so many of the newest.

    Raises
    ------
    UnknownName
        No trial or plot is called so.
    """
    trial, plot = _scope(cursor, of)
    heads = rows(cursor, "entries")
    return _whole(cursor, heads, trial, plot, last)


def one(cursor: duckdb.DuckDBPyConnection, number: int) -> Entry:
    """One entry with its changes.

    Raises
    ------
    HistoryRefused
        There is no such entry.
    """
    heads = rows(cursor, "entries")
    found = [head for head in heads if head[0] == number]
    if not found:
        raise no_entry(number, heads[0][0] if heads else 0)
    (entry,) = _whole(cursor, found, None, None, None)
    return entry


def records_mark(cursor: duckdb.DuckDBPyConnection) -> tuple[int, datetime] | None:
    """The number and time of the newest entry; None where there is none."""
    ((number, recorded_at),) = rows(cursor, "records_mark")
    return None if number is None else (int(number), recorded_at)


def _whole(
    cursor: duckdb.DuckDBPyConnection,
    heads: Sequence[tuple[Any, ...]],
    trial: str | None,
    plot: str | None,
    last: int | None,
) -> tuple[Entry, ...]:
    """The entries of these heads (newest first) that touched the trial or plot, oldest first."""
    _view_of_changes(cursor)
    counted: dict[int, list[tuple[str, int, int]]] = defaultdict(list)
    for number, record, came, gone in rows(cursor, "count_changes", trial=trial, plot=plot):
        counted[number].append((record, came, gone))
    everything = trial is None and plot is None
    heads = [
        head for head in heads if everything or head[0] in counted or head[3] == What.NEW_MEANING
    ][:last]
    numbers = [number for number, *_ in heads if plot is not None or _is_told(counted[number])]
    changed = _changes(cursor, numbers, trial, plot)
    early = early_cuts.by_entry(cursor)
    return tuple(
        Entry(
            number=number,
            recorded_at=recorded_at,
            who=who,
            what=what,
            why=why,
            undoes=undoes,
            undone_by=undone_by,
            files=tuple(files),
            rows=tuple(counted[number]),
            changes=changed.get(number, ()),
            origin=origin,
            origin_number=origin_number,
            early_cuts=tuple(early.get(number, ())),
        )
        for (
            number,
            recorded_at,
            who,
            what,
            why,
            undoes,
            undone_by,
            files,
            origin,
            origin_number,
        ) in reversed(heads)
    )


def _is_told(counted: Sequence[tuple[str, int, int]]) -> bool:
    """Whether the rows of an entry are listed: it superseded some, or brought only a few."""
    return any(gone for _, _, gone in counted) or sum(came for _, came, _ in counted) <= FEW_ROWS


def _scope(cursor: duckdb.DuckDBPyConnection, of: str | None) -> tuple[str | None, str | None]:
    """The trial or the plot of that name."""
    if of is None:
        return None, None
    names = rows(cursor, "trials_and_plots")
    if (of, "trial") in names:
        return of, None
    if (of, "plot") in names:
        return None, of
    raise UnknownName("trial or plot", of, [name for name, kind in names if kind == "trial"])


def _view_of_changes(cursor: duckdb.DuckDBPyConnection) -> None:
    cursor.execute(question("view_of_cut_lines"))
    parts = "\nUNION ALL\n".join(asked_of("changes", twin) for twin in TOLD)
    cursor.execute(filled("view_of_changes", parts=parts))


def _changes(
    cursor: duckdb.DuckDBPyConnection,
    numbers: Sequence[int],
    trial: str | None,
    plot: str | None,
) -> dict[int, tuple[Change, ...]]:
    import pandas as pd

    if not numbers:
        return {}
    cursor.register("shown", pd.DataFrame({"entry": list(numbers)}))
    found: dict[int, dict[tuple[str, Pairs], list[Pairs | None]]] = defaultdict(dict)
    for number, record, went, place, figures in rows(
        cursor, "read_changes", trial=trial, plot=plot
    ):
        row = found[number].setdefault((record, _pairs(place)), [None, None])
        row[0 if went else 1] = _pairs(figures)
    cursor.unregister("shown")
    return {
        number: tuple(
            Change(record, place, before, after)
            for (record, place), (before, after) in of_entry.items()
            if before != after
        )
        for number, of_entry in found.items()
    }


def _pairs(text: str | None) -> Pairs:
    return () if text is None else tuple(json.loads(text).items())
