"""The trials of the store, each as one value."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

from trials.errors import UnknownName
from trials.model.trial import AppliedTo, Factor, Margin, Trial, TrialStage
from trials.store.questions import rows

if TYPE_CHECKING:
    import duckdb

T = TypeVar("T")


def trials(cursor: duckdb.DuckDBPyConnection) -> tuple[Trial, ...]:
    """Every trial, by season and code; levels are numbers by value, then words by alphabet."""
    factors: dict[str, list[Factor]] = {}
    for code, name, applied_to, levels in rows(cursor, "trial_factors"):
        factors.setdefault(code, []).append(Factor(name, tuple(levels), AppliedTo(applied_to)))
    return tuple(
        Trial(
            code=code,
            season=season,
            site=site,
            crop=crop,
            question=asked,
            factors=tuple(factors[code]),
            check=check,
            primary_measure=primary_measure,
            alpha=alpha,
            margin=None if margin is None else Margin(margin, percent),
            minimum_length_cm=minimum_length_cm,
            stage=TrialStage(stage),
            plots=plots,
            closed_on=closed_on,
        )
        for (
            code,
            season,
            site,
            crop,
            asked,
            check,
            primary_measure,
            alpha,
            margin,
            percent,
            minimum_length_cm,
            stage,
            plots,
            closed_on,
        ) in rows(cursor, "trials")
    )


def trial(cursor: duckdb.DuckDBPyConnection, code: str) -> Trial:
    """The trial of that code.

    Raises
    ------
    UnknownName
        There is no such trial.
    """
    found = {each.code: each for each in trials(cursor)}
    if code not in found:
        raise UnknownName("trial", code, found)
    return found[code]


def require(cursor: duckdb.DuckDBPyConnection, code: str) -> None:
    """Refuse a code that no trial has, as ``trial`` does."""
    if not rows(cursor, "trial_known", trial=code):
        trial(cursor, code)


def of_trial(
    cursor: duckdb.DuckDBPyConnection, code: str, ask: Callable[[duckdb.DuckDBPyConnection, str], T]
) -> T:
    """What is asked of a trial that is held."""
    require(cursor, code)
    return ask(cursor, code)
