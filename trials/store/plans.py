"""What a trial was laid out from, kept so that the same layout can be drawn again."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from trials.errors import Remedy, TrialState, Verb
from trials.store import intake
from trials.store.history.changes import What
from trials.store.questions import question, rows
from trials.store.trial_list import trial, trials

if TYPE_CHECKING:
    import duckdb

    from trials.model.rows import Added, Batch, Signed


@dataclass(frozen=True, slots=True)
class KeptPlan:
    """A plan's text, the number its first plot was given, and the digest of its layout."""

    text: str
    first_number: int
    digest: str


def add(
    cursor: duckdb.DuckDBPyConnection, code: str, batch: Batch, plan: KeptPlan, signed: Signed
) -> Added:
    """Store a trial with its plots and the plan they were laid out from; see ``Store``."""
    if any(held.code == code for held in trials(cursor)):
        raise TrialState(f"There is already a trial {code}. Give the plan another trial code.")
    added = intake.add(cursor, batch, signed, What.PLAN)
    keep(cursor, code, plan)
    return added


def keep(cursor: duckdb.DuckDBPyConnection, code: str, plan: KeptPlan) -> None:
    """Store a plan beside its trial; to be called within the transaction that stores the trial."""
    cursor.execute(
        question("add_plan"),
        {
            "trial": code,
            "text": plan.text,
            "first_number": plan.first_number,
            "digest": plan.digest,
            "planned_at": datetime.now(UTC).replace(tzinfo=None),
        },
    )


def planned(cursor: duckdb.DuckDBPyConnection) -> tuple[str, ...]:
    """The trials that have a plan, the newest first."""
    return tuple(str(trial) for (trial,) in rows(cursor, "planned_trials"))


def kept(cursor: duckdb.DuckDBPyConnection, code: str) -> KeptPlan:
    """The plan of a trial.

    Raises
    ------
    UnknownName
        There is no such trial.
    TrialState
        It was loaded from files and not planned here.
    """
    trial(cursor, code)
    for text, first_number, digest in rows(cursor, "plan", trial=code):
        return KeptPlan(text, first_number, digest)
    raise TrialState(
        f"Trial {code} was loaded from files, so it has no plan to show.",
        Remedy("Only planned trials have one", Verb.PLAN, "PLAN.toml"),
    )
