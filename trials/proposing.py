"""What a plan could be on this farm: its spread, seed and frost, and the layouts that fit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

from trials.errors import ComparisonRefused, PlanRefused, Remedy, Verb
from trials.layout.calendar import Frost, Happened, Task
from trials.layout.fitting import fitted
from trials.layout.plan import TrialPlan
from trials.layout.possible import Possible, family_of, possible, wanted_of
from trials.layout.power import Family
from trials.layout.proposals import Proposal, SeedRates, Way, proposals
from trials.layout.season_dates import Timing, crop_days, frost_of, planned_calendar
from trials.layout.sized_spread import SizedSpread, TrialSpread, sized_spread
from trials.layout.spread import Spread, SpreadSource, pooled_spread
from trials.layout.treatments import entry_factor
from trials.model import MEASURES, Trial
from trials.plot_rows import plot_table
from trials.records.plan_file import WrittenPlan, written_plan
from trials.stats.comparison import compare
from trials.stats.results import Comparison
from trials.stats.table import Question
from trials.store import Store

if TYPE_CHECKING:
    import pandas as pd


class NoteKind(StrEnum):
    """What the store has to say about a plan."""

    NO_STORE = "no store"
    NEW_SEASON = "new season"
    UNKNOWN_VARIETIES = "unknown varieties"
    OF_OTHER_CROPS = "of other crops"
    PASSED_OVER = "trials passed over"
    NO_FROST = "no frost dates"
    FROST_OF_OTHER_YEAR = "frost dates of another year"
    NO_DAYS_TO_BLOOM = "no days to bloom"


@dataclass(frozen=True, slots=True)
class Note:
    """Something to know before planting, with the names it concerns."""

    kind: NoteKind
    names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Dates:
    """A calendar with the frosts it is made from; no tasks where something is not known."""

    tasks: tuple[Task, ...]
    frost: Frost | None
    notes: tuple[Note, ...]


@dataclass(frozen=True, slots=True)
class Proposed:
    """A plan on this farm before it is laid out.

    ``offers`` are the layouts that fit, to be taken by their number, the first being 1; the one
    whose ``way`` is AS_WRITTEN is the plan itself. ``refused`` says why the plan as written is not
    among them. ``spread`` is how much plots differ, by whose figures, and from which trials;
    ``family`` the comparisons judged by. ``possible`` answers a wanted difference, None where
    none was named. ``dates`` is the calendar.
    """

    written: WrittenPlan
    offers: tuple[Proposal, ...]
    refused: str | None
    spread: SizedSpread
    family: Family
    possible: Possible | None
    dates: Dates
    notes: tuple[Note, ...]

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
                    "Look at them, and take one by its number",
                    Verb.PLAN,
                    "PLAN.toml --propose, then --take NUMBER",
                ),
            )
        if not 1 <= number <= len(self.offers):
            raise PlanRefused(
                f"There is no proposal {number}. They are numbered 1 to {len(self.offers)}.",
                Remedy("Look at them", Verb.PLAN, "PLAN.toml --propose"),
            )
        return self.offers[number - 1]


def propose(store: Path, text: str, file: str = "the plan") -> Proposed:
    """What the plan in ``text`` could be on this farm; nothing is stored.

    ``text`` is that of a plan's file (``season.plan_text`` reads one, ``season.plan_text_of``
    makes one from a form's values); ``file`` is what faults call it. A store need not be there.

    Raises
    ------
    FileRefused, RecordsRefused
        The text cannot be read as a plan or cannot be right; faults carry the keys.
    PlanRefused
        The parts of the plan do not agree, or no layout of it fits the beds.
    """
    kept = Store.open(store) if store.exists() else None
    return proposed(kept, written_plan(text, file))


def proposed(kept: Store | None, written: WrittenPlan) -> Proposed:
    """``propose`` for a plan that is read already, in a store that is open."""
    plan, assumed = written.plan, written.assumed
    spread, passed_over = farm_spread(kept, written)
    rates = SeedRates(
        {} if kept is None else {str(name): rate for name, rate in kept.germination().items()},
        assumed.germination,
        assumed.usable,
        assumed.overage,
    )
    offers = proposals(plan, spread, rates, assumed)
    family = family_of(plan, written.family)
    asked = None
    if written.detect_percent is not None:
        wanted = wanted_of(plan, written.detect_percent, written.chance, family)
        asked = possible(plan, spread, wanted, offers)
    dates = plan_dates(kept, written)
    notes = [*_store_notes(kept, plan, written.timing)]
    if passed_over:
        notes.append(Note(NoteKind.PASSED_OVER, passed_over))
    return Proposed(
        written, offers, _refusal(plan), spread, family, asked, dates, (*notes, *dates.notes)
    )


def _refusal(plan: TrialPlan) -> str | None:
    try:
        fitted(plan)
    except PlanRefused as refusal:
        return str(refusal)
    return None


# --- the farm's own spread --------------------------------------------------------------------


def farm_spread(kept: Store | None, written: WrittenPlan) -> tuple[SizedSpread, tuple[str, ...]]:
    """How much plots differ, and the closed trials that could not say.

    As the plan states; else as the farm's closed trials of the crop showed in the plan's measure;
    else as usual.
    """
    plan, assumed = written.plan, written.assumed
    plants = plan.plants_per_plot
    if assumed.cv_percent is not None:
        stated = Spread(assumed.cv_percent, SpreadSource.STATED)
        return sized_spread(stated, plants, (), assumed.plant_cv_percent), ()
    found: list[tuple[Comparison, TrialSpread]] = []
    passed_over = []
    for trial in () if kept is None else kept.trials():
        if trial.crop != plan.crop or trial.closed_on is None or kept is None:
            continue
        plots = kept.plots(trial.code)
        comparison = _compared(trial, plots, plan.primary_measure)
        if comparison is None or not comparison.cv_percent or not comparison.residual_df:
            passed_over.append(trial.code)
            continue
        own = TrialSpread(
            trial.code,
            comparison.cv_percent,
            comparison.residual_df,
            float(plots["plants_set"].median()),
        )
        found.append((comparison, own))
    pooled = pooled_spread([comparison for comparison, _ in found])
    trials = [own for _, own in found]
    return sized_spread(pooled, plants, trials, assumed.plant_cv_percent), tuple(passed_over)


def _compared(trial: Trial, plots: pd.DataFrame, measure: str) -> Comparison | None:
    chosen = next(each for each in MEASURES if each.key == measure)
    question = Question(alpha=trial.alpha, check=None, better=chosen.better)
    try:
        return compare(plot_table(trial, plots, chosen), question)
    except ComparisonRefused:
        return None


# --- the calendar -----------------------------------------------------------------------------


def plan_dates(kept: Store | None, written: WrittenPlan, seen: Happened | None = None) -> Dates:
    """The calendar of a plan; what ``happened`` by its file or was ``seen`` moves later dates.

    Raises
    ------
    PlanRefused
        Its days are not in order.
    """
    plan, timing = written.plan, written.timing
    notes = []
    site = None if kept is None else _site_frost(kept, plan)
    last, first, year = (None, None, None) if site is None else site
    try:
        frost = frost_of(timing, last, first)
        crop = crop_days(plan, timing)
        if frost is None:
            notes.append(Note(NoteKind.NO_FROST, (plan.site,)))
        elif year not in (None, plan.season) and timing.last_spring_frost is None:
            notes.append(Note(NoteKind.FROST_OF_OTHER_YEAR, (str(year),)))
        if crop is None:
            notes.append(Note(NoteKind.NO_DAYS_TO_BLOOM, (plan.crop,)))
        if frost is None or crop is None:
            return Dates((), frost, tuple(notes))
        happened = {**(seen or {}), **written.happened}
        tasks = planned_calendar(plan, timing, crop, frost, happened)
    except ValueError as wrong:
        raise PlanRefused(f"The calendar does not hold: {wrong}. Mend [calendar].") from None
    return Dates(tasks, frost, tuple(notes))


def _site_frost(kept: Store, plan: TrialPlan) -> tuple[date, date, int] | None:
    """The site's frosts of the plan's season, else those of its newest season, moved to it."""
    held = [
        (int(row["season"]), row["last_spring_frost"], row["first_autumn_frost"])
        for row in kept.seasons().to_dict("records")
        if row["site"] == plan.site
        and isinstance(row["last_spring_frost"], date)
        and isinstance(row["first_autumn_frost"], date)
    ]
    if not held:
        return None
    year, last, first = max(held, key=lambda row: (row[0] == plan.season, row[0]))
    moved = (
        day.replace(year=plan.season, day=min(day.day, 28) if day.month == 2 else day.day)
        for day in (last, first)
    )
    return next(moved), next(moved), year


# --- what the store has to say ----------------------------------------------------------------


def _store_notes(kept: Store | None, plan: TrialPlan, timing: Timing) -> Iterator[Note]:
    if kept is None:
        yield Note(NoteKind.NO_STORE)
    elif has_season(kept, plan):
        pass
    elif timing.season_starts_on is not None and timing.season_ends_on is not None:
        yield Note(NoteKind.NEW_SEASON, (str(plan.season), plan.site))
    entries = entry_factor(plan)
    if kept is None or entries.name != "variety":
        return
    held = kept.varieties()
    crops = dict(zip(held["variety"], held["crop"], strict=True))
    unknown = tuple(name for name in entries.levels if name not in crops)
    other = tuple(name for name in entries.levels if crops.get(name, plan.crop) != plan.crop)
    if unknown:
        yield Note(NoteKind.UNKNOWN_VARIETIES, unknown)
    if other:
        yield Note(NoteKind.OF_OTHER_CROPS, other)


def has_season(kept: Store, plan: TrialPlan) -> bool:
    """Whether the store holds the plan's season at its site."""
    seasons = kept.seasons()
    return (plan.season, plan.site) in set(zip(seasons["season"], seasons["site"], strict=True))
