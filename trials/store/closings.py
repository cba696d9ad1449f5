"""The end of a trial's season: what its records hold and lack, and the lock on them."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

from trials.errors import TallybedError, TrialState
from trials.model.trial import Closing, Completeness
from trials.store.history.changes import What, entry
from trials.store.history.trial_digest import digest
from trials.store.questions import question, rows
from trials.store.trial_list import trial

if TYPE_CHECKING:
    import duckdb

    from trials.model.rows import Signed


def completeness(cursor: duckdb.DuckDBPyConnection, code: str) -> Completeness:
    """What the trial's records hold and lack; of a lost plot nothing else is missed."""
    trial(cursor, code)
    summary = _summary(cursor, code)
    lost = tuple((plot, reason) for plot, reason, *_ in summary if reason is not None)
    standing = [row for row in summary if row[1] is None]
    picked = {plot for (plot,) in rows(cursor, "picked_plots", trial=code)}
    sampled = {plot for (plot,) in rows(cursor, "sampled_plots", trial=code)}
    ((picking_days, first_cut, last_cut, _),) = rows(cursor, "picking_days", trial=code)
    return Completeness(
        trial=code,
        plots=len(summary),
        lost_plots=lost,
        plots_never_picked=tuple(plot for plot, *_ in standing if plot not in picked),
        missed_picks=tuple((plot, missed) for plot, _, missed, _, _ in standing if missed),
        plots_without_stand=tuple(plot for plot, *_, living in standing if living is None),
        plots_without_samples=tuple(plot for plot, *_ in standing if plot not in sampled),
        picking_days=picking_days,
        first_cut=first_cut,
        last_cut=last_cut,
        unrecorded_picks=tuple((plot, blank) for plot, _, _, blank, _ in standing if blank),
    )


def close(
    cursor: duckdb.DuckDBPyConnection, code: str, on: date, reason: str, signed: Signed
) -> Closing:
    """End the trial's season; to be called within a transaction.

    Raises
    ------
    UnknownName
        There is no such trial.
    TrialState
        It is closed already, or has cuts after that day.
    TallybedError
        No reason is given.
    """
    if trial(cursor, code).closed_on is not None:
        ((closed_on, why),) = rows(cursor, "closing", trial=code)
        raise TrialState(f"Trial {code} is already closed, since {closed_on} ({why}).")
    ((*_, last_row),) = rows(cursor, "picking_days", trial=code)
    if last_row is not None and on < last_row:
        raise TrialState(
            f"Trial {code} cannot be closed on {on}: its last cut is on {last_row}. Close it "
            f"on {last_row} or later."
        )
    if not reason.strip():
        raise TallybedError(
            f"Say in a few words why trial {code} ends, such as 'first hard frost'."
        )
    with entry(cursor, What.CLOSING, replace(signed, why=reason.strip())) as draft:
        draft.happened = True
        cursor.execute(
            question("add_closing"),
            {
                "trial": code,
                "closed_on": on,
                "reason": reason.strip(),
                "recorded_at": datetime.now(UTC).replace(tzinfo=None),
                "digest": digest(cursor, code),
                "entry": draft.number,
            },
        )
    return Closing(code, on, reason.strip(), completeness(cursor, code))


def closing(cursor: duckdb.DuckDBPyConnection, code: str) -> Closing | None:
    """The end of the trial's season, or None while it is open."""
    trial(cursor, code)
    for closed_on, reason in rows(cursor, "closing", trial=code):
        return Closing(code, closed_on, reason, completeness(cursor, code))
    return None


def _summary(
    cursor: duckdb.DuckDBPyConnection, code: str
) -> list[tuple[str, str | None, int, int, float | None]]:
    """Each plot with the reason of its loss, missed and unrecorded picks, and living plants."""
    cursor.execute(question("plots"), {"trial": code, "shortest_cm": None})
    heading = [column[0] for column in cursor.description or ()]
    wanted = ("plot", "lost_reason", "missed_picks", "unrecorded_picks", "living")
    places = [heading.index(name) for name in wanted]
    return [
        (row[places[0]], row[places[1]], row[places[2]], row[places[3]], row[places[4]])
        for row in cursor.fetchall()
    ]
