"""The cuts that were made before a spray's re-entry time had passed."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, time
from typing import TYPE_CHECKING

from trials.model.re_entry import Spray
from trials.model.trial import EarlyCut
from trials.store.questions import rows

if TYPE_CHECKING:
    import duckdb


def spray_of(product: str, on: date, at: str | None, hours: float) -> Spray:
    """A stored spray as a value."""
    return Spray(product, on, None if at is None else time.fromisoformat(at), hours)


def cuts_before_re_entry(
    cursor: duckdb.DuckDBPyConnection, trial: str
) -> tuple[tuple[str, date, Spray], ...]:
    """The early cuts of a trial: plot, day and spray."""
    return tuple((plot, cut_on, spray) for _, plot, cut_on, spray in _found(cursor, trial))


def by_entry(cursor: duckdb.DuckDBPyConnection) -> dict[int, list[EarlyCut]]:
    """The early cuts of all trials, by the number of the entry that recorded them."""
    found: dict[int, list[EarlyCut]] = {}
    for entry, plot, cut_on, spray in _found(cursor, None):
        cut = EarlyCut(plot, cut_on, spray.product, spray.until_words)
        found.setdefault(entry, []).append(cut)
    return found


def _found(
    cursor: duckdb.DuckDBPyConnection, trial: str | None
) -> Iterator[tuple[int, str, date, Spray]]:
    for plot, cut_on, tallied_at, entry, *told in rows(cursor, "cuts_after_sprays", trial=trial):
        at = None if tallied_at is None else tallied_at.replace(tzinfo=UTC)
        if (spray := spray_of(*told)).was_broken_by(cut_on, at):
            yield entry, plot, cut_on, spray
