"""A plan on this farm: the layouts that fit, what the store has to say, and the one laid out."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from trials.errors import PlanRefused, Remedy, Verb
from trials.layout.calendar import Frost, Task
from trials.layout.crops import CropFigures
from trials.layout.field.neighbours import Neighbours
from trials.layout.plan import PlannedLayout
from trials.layout.power.detectable import Detectable
from trials.layout.power.plot_size_variation import SizedSpread
from trials.layout.power.power import Family
from trials.layout.power.sample_size import Possible
from trials.layout.proposals import Proposal, Way
from trials.model.money import TrialGain
from trials.records.plan.file import WrittenPlan


class NoteKind(StrEnum):
    """What the store has to say about a plan."""

    NO_STORE = "no store"
    NEW_SEASON = "new season"
    UNKNOWN_VARIETIES = "unknown varieties"
    OF_OTHER_CROPS = "of other crops"
    PASSED_OVER = "trials passed over"
    NO_FROST = "no frost dates"
    FROST_OF_OTHER_YEAR = "frost dates of another year"
    NO_CROP_FIGURES = "no figures of the crop"
    CROP_FIGURES_LEFT_OUT = "figures of the crop left out"
    SEASON_TOO_SHORT = "season too short"
    FEWER_SOWINGS = "fewer sowings"
    NO_SOWING_FITS = "no sowing fits"
    NOT_DIRECT_SOWN = "not sown direct"


@dataclass(frozen=True, slots=True)
class Note:
    """Something to know before planting, with the names (and days and numbers) it concerns."""

    kind: NoteKind
    names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Dates:
    """A calendar with the frosts and figures it is made from; no tasks where one is missing."""

    tasks: tuple[Task, ...]
    frost: Frost | None
    notes: tuple[Note, ...]
    crop: str = ""
    figures: CropFigures = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Proposed:
    """A plan on this farm before it is laid out.

    ``offers`` are the layouts that fit, to be taken by their number, the first being 1; the one
    whose ``way`` is AS_WRITTEN is the plan itself. ``refused`` says why the plan as written is not
    among them. ``spread`` is how much plots differ, by whose figures, and from which trials;
    ``family`` the comparisons judged by. ``possible`` answers a wanted difference, None where
    none was named. ``dates`` is the calendar. ``gains`` follow ``offers``: what deciding after each
    is expected to earn, in ``currency`` ('' = not known which).
    """

    written: WrittenPlan
    offers: tuple[Proposal, ...]
    refused: str | None
    spread: SizedSpread
    family: Family
    possible: Possible | None
    dates: Dates
    notes: tuple[Note, ...]
    gains: tuple[TrialGain, ...] = ()
    currency: str = ""

    @property
    def as_written(self) -> int | None:
        """The number of the plan as written; None where it does not fit."""
        ways = [offer.way for offer in self.offers]
        return 1 + ways.index(Way.AS_WRITTEN) if Way.AS_WRITTEN in ways else None

    def taken(self, number: int | None) -> Proposal:
        """The proposal of that number; of none, the plan as written.

        Raises
        ------
        PlanRefused
            There is no such number, or the plan as written does not fit.
        """
        number = self.as_written if number is None else number
        if number is None:
            raise PlanRefused(
                f"{self.refused} {len(self.offers)} layouts fit.",
                Remedy(
                    "Compare them, then use one by its number",
                    Verb.PLAN,
                    "PLAN.toml --propose, then --take NUMBER",
                ),
            )
        if not 1 <= number <= len(self.offers):
            raise PlanRefused(
                f"There is no proposal {number}. They are numbered 1 to {len(self.offers)}.",
                Remedy("See them", Verb.PLAN, "PLAN.toml --propose"),
            )
        return self.offers[number - 1]


@dataclass(frozen=True, slots=True)
class Planned:
    """A layout with its digest and what it will be able to tell.

    ``proposed`` holds what the plan could have been, its spread, calendar and notes, and
    ``number`` which of its offers was laid out. ``beside`` says how the neighbours fell.
    ``store_made`` is whether there was no store before.
    """

    layout: PlannedLayout
    digest: str
    tells: tuple[Detectable, ...]
    proposed: Proposed
    number: int
    beside: Neighbours
    store_made: bool

    @property
    def taken(self) -> Proposal:
        """The proposal that was laid out."""
        return self.proposed.offers[self.number - 1]
