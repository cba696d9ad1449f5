"""A plot on one day, as the crew meets it: what grows there and what is recorded."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from trials.errors import TrialState
from trials.model.re_entry import Spray
from trials.model.trial import EventKind, Outcome


@dataclass(frozen=True, slots=True)
class PlotOfWalk:
    """A plot on a picking day: where it is, what grows there, and what is done of it so far.

    ``outcome`` is None where nothing is recorded yet; ``stems`` and ``culls`` are None unless it
    was picked. ``sprays`` are those with a re-entry time about that day; ``sprayed_on`` is the
    last spray of any kind up to then.
    """

    trial: str
    crop: str
    minimum_length_cm: float
    plot: str
    bed: str
    position: int
    treatment: str | None
    lost_reason: str | None
    outcome: Outcome | None
    stems: int | None
    culls: int | None
    sprays: tuple[Spray, ...] = ()
    sprayed_on: date | None = None

    @property
    def is_left(self) -> bool:
        """Whether somebody has yet to go there."""
        return self.outcome is None and self.lost_reason is None


@dataclass(frozen=True, slots=True)
class GradesAndReasons:
    """What a trial counts by: the grades and the reasons for culling that it has used.

    ``planned_grades_cm`` are those of its plan, empty where it was not planned here.
    """

    grades_cm: tuple[int, ...]
    cull_reasons: tuple[str, ...]
    planned_grades_cm: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class PlotOnDay:
    """What is recorded of a plot on a day, and the grades and reasons its trial has used.

    ``planned_grades_cm`` are those of the trial's plan, empty where it was not planned here.
    ``entry`` brought the picking day at ``recorded_at`` (UTC; None where nothing is recorded).
    ``last_entry`` is the newest of the whole history: a correction names it, so that no other
    change is lost. ``tallied_at`` is before ``recorded_at`` where a phone sent it later (UTC).
    ``plot_recorded_at`` is when any picking day of the plot was recorded last.
    """

    plot: str
    day: date
    outcome: Outcome | None
    stems: tuple[tuple[int, int], ...]
    culls: tuple[tuple[str, int], ...]
    lengths_cm: tuple[float, ...]
    events: tuple[tuple[EventKind, str | None], ...]
    grades_cm: tuple[int, ...]
    cull_reasons: tuple[str, ...]
    sprayed_on: date | None
    who: str | None
    entry: int | None
    last_entry: int
    recorded_at: datetime | None = None
    plot_recorded_at: datetime | None = None
    planned_grades_cm: tuple[int, ...] = ()
    tallied_at: datetime | None = None


class RecordedMeanwhile(TrialState):
    """A plot's picking day is recorded already; ``held`` is what stands there."""

    def __init__(self, text: str, held: PlotOnDay) -> None:
        self.held = held
        super().__init__(text)
