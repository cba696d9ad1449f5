"""What a trial's package needs of a store beside its rows, and how a package comes in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from trials.store import closings, intake, plans
from trials.store.entries import What
from trials.store.questions import rows
from trials.store.trial_list import trial

if TYPE_CHECKING:
    from trials.batch import Added, Batch, Signed
    from trials.store.store import Store


@dataclass(frozen=True, slots=True)
class Ending:
    """When a trial's season was closed, and why."""

    closed_on: date
    reason: str


def meanings(store: Store) -> Mapping[tuple[str, str], str]:
    """What each column means, by table and column; the column '' is the table itself."""
    with store.turns.reading() as cursor:
        return {(table, column): text for table, column, text in rows(cursor, "meanings")}


def plan_of(store: Store, code: str) -> plans.KeptPlan | None:
    """What a trial was laid out from; None where it was loaded from files."""
    with store.turns.reading() as cursor:
        return next((plans.KeptPlan(*plan) for plan in rows(cursor, "plan", trial=code)), None)


def ending_of(store: Store, code: str) -> Ending | None:
    """The end of a trial's season; None while it is open."""
    with store.turns.reading() as cursor:
        return next((Ending(*ending) for ending in rows(cursor, "closing", trial=code)), None)


def take_in(
    store: Store,
    code: str,
    batch: Batch,
    plan: plans.KeptPlan | None,
    ending: Ending | None,
    signed: Signed,
) -> Added:
    """Store a trial with its plan and its closing, all or nothing; what is held is left alone.

    Raises
    ------
    RecordsRefused
        A row clashes with what is held.
    TrialState
        The trial is held and closed, and the rows are not those it was closed with.
    """
    with store.turns.writing() as cursor:
        added = intake.add(cursor, batch, signed, What.LOAD)
        if plan is not None and not rows(cursor, "plan", trial=code):
            plans.keep(cursor, code, plan)
        if ending is not None and trial(cursor, code).closed_on is None:
            closings.close(cursor, code, ending.closed_on, ending.reason, signed)
        return added
