"""What the crew sees at the bed: the plots of a day in walking order, and one plot on that day."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any

from trials.errors import UnknownName
from trials.model.plot_day import GradesAndReasons, PlotOfWalk, PlotOnDay
from trials.model.re_entry import Spray
from trials.model.trial import EventKind, Outcome
from trials.store import intake
from trials.store.early_cuts import spray_of
from trials.store.history.changes import What, entry_of
from trials.store.questions import rows

if TYPE_CHECKING:
    import duckdb

    from trials.model.rows import Batch, Known, Signed

    Unit = Callable[[], AbstractContextManager[duckdb.DuckDBPyConnection]]


@dataclass(frozen=True, slots=True)
class Before:
    """What stands before a plot is tallied: its trial, what to compare with, what is recorded."""

    trial: str
    known: Known
    held: PlotOnDay


@dataclass(frozen=True, slots=True)
class Bed:
    """The bed's side of a store; each call is one unit of work. Get it from ``Store.bed``."""

    reading: Unit
    writing: Unit

    def walk(self, day: date) -> tuple[PlotOfWalk, ...]:
        """The plots of open trials in the season of that day, trial by trial in walking order."""
        with self.reading() as cursor:
            sprays: dict[str, list[Spray]] = {}
            for plot, *told in rows(cursor, "re_entries", day=day):
                sprays.setdefault(plot, []).append(spray_of(*told))
            return tuple(
                replace(plot, sprays=tuple(sprays.get(plot.plot, ())))
                for plot in map(_plot, rows(cursor, "tally_plots", day=day))
            )

    def plot_on_day(self, trial: str, plot: str, day: date) -> PlotOnDay:
        """What is recorded of a plot on a day, and what its trial counts by."""
        with self.reading() as cursor:
            return _plot_on_day(cursor, trial, plot, day)

    def counts_by(self, trial: str) -> GradesAndReasons:
        """The grades and the reasons for culling that a trial has used."""
        with self.reading() as cursor:
            return _counts_by(cursor, trial)

    def is_recorded(self, signed: Signed) -> bool:
        """Whether a submission with that token was recorded before."""
        with self.reading() as cursor:
            return entry_of(cursor, signed) is not None

    def before(self, plot: str, day: date, signed: Signed) -> Before | None:
        """What stands before a plot is tallied; None where that submission was recorded before.

        One unit of work: opening the file costs more than any of these questions.

        Raises
        ------
        UnknownName
            No trial has such a plot.
        """
        with self.reading() as cursor:
            if entry_of(cursor, signed) is not None:
                return None
            trial = _trial_of(cursor, plot)
            known = intake.known_of_trial(cursor, trial, plot)
            return Before(trial, known, _plot_on_day(cursor, trial, plot, day))

    def record(
        self,
        batch: Batch,
        signed: Signed,
        of: tuple[str, str, date],
        refuse: Callable[[PlotOnDay], None],
    ) -> bool:
        """Record what was told of a trial's plot and day; True where that submission was before.

        ``refuse`` raises where what is held by now leaves no room for it: asked in the very turn
        in which it is stored, so that of two processes the second meets what the first recorded.
        """
        with self.writing() as cursor:
            if entry_of(cursor, signed) is not None:
                return True
            refuse(_plot_on_day(cursor, *of))
            intake.add(cursor, batch, signed, What.TALLY)
            return False

    def trial_of(self, plot: str) -> str:
        """The trial that a plot belongs to.

        Raises
        ------
        UnknownName
            No trial has such a plot.
        """
        with self.reading() as cursor:
            return _trial_of(cursor, plot)

    def known(self, trial: str, plot: str | None = None) -> Known:
        """What new records of a trial, or of one plot of it, are judged against."""
        with self.reading() as cursor:
            return intake.known_of_trial(cursor, trial, plot)

    def plants_of(self, trial: str) -> dict[str, str]:
        """The plots that got another plot's plants at planting, and whose."""
        with self.reading() as cursor:
            return {
                plot: plants_of for of, plot, plants_of in rows(cursor, "exchanges") if of == trial
            }

    def stakes_in(self, trial: str, day: date) -> dict[str, str]:
        """The plots in which another plot's stake stands on a day, and whose."""
        with self.reading() as cursor:
            return {
                plot: stake
                for of, stake, plot, first, back in rows(cursor, "stakes")
                if of == trial and first <= day and (back is None or day < back)
            }


def _trial_of(cursor: duckdb.DuckDBPyConnection, plot: str) -> str:
    for (trial,) in rows(cursor, "trial_of_plot", plot=plot):
        return str(trial)
    raise UnknownName("plot", plot, [str(code) for (code,) in rows(cursor, "every_plot")])


def _plot(row: tuple[Any, ...]) -> PlotOfWalk:
    *told, outcome, stems, culls, sprayed_on = row
    trial, crop, shortest, plot, bed, position, grows, lost = told
    return PlotOfWalk(
        trial=trial,
        crop=crop,
        minimum_length_cm=shortest,
        plot=plot,
        bed=bed,
        position=position,
        treatment=grows,
        lost_reason=lost,
        outcome=None if outcome is None else Outcome(outcome),
        stems=stems,
        culls=culls,
        sprayed_on=sprayed_on,
    )


def _counts_by(cursor: duckdb.DuckDBPyConnection, trial: str) -> GradesAndReasons:
    used = rows(cursor, "tally_choices", trial=trial)
    return GradesAndReasons(
        tuple(grade for grade, _ in used if grade is not None),
        tuple(reason for _, reason in used if reason is not None),
    )


def _plot_on_day(cursor: duckdb.DuckDBPyConnection, trial: str, plot: str, day: date) -> PlotOnDay:
    lines = rows(cursor, "tally_lines", plot=plot, day=day)
    counts_by = _counts_by(cursor, trial)
    outcome, who, entry, recorded_at, tallied_at = None, None, None, None, None
    for told, by, number, at, tallied in rows(cursor, "tally_day", plot=plot, day=day):
        outcome, who, entry, recorded_at, tallied_at = Outcome(told), by, number, at, tallied
    ((sprayed_on,),) = rows(cursor, "last_sprayed", plot=plot, day=day)
    ((last_entry,),) = rows(cursor, "last_entry")
    ((plot_recorded_at,),) = rows(cursor, "plot_recorded_at", plot=plot)
    return PlotOnDay(
        plot=plot,
        day=day,
        outcome=outcome,
        stems=tuple((grade, stems) for grade, _, stems in lines if grade is not None),
        culls=tuple((reason, stems) for _, reason, stems in lines if reason is not None),
        lengths_cm=tuple(length for (length,) in rows(cursor, "tally_lengths", plot=plot, day=day)),
        events=tuple(
            (EventKind(kind), reason)
            for kind, reason in rows(cursor, "tally_events", plot=plot, day=day)
        ),
        grades_cm=counts_by.grades_cm,
        cull_reasons=counts_by.cull_reasons,
        sprayed_on=sprayed_on,
        who=who,
        entry=entry,
        last_entry=last_entry,
        recorded_at=recorded_at,
        plot_recorded_at=plot_recorded_at,
        tallied_at=tallied_at,
    )
