"""What a plan could be on this farm: its spread, seed and frost, and the layouts that fit."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from trials.errors import ComparisonRefused, PlanRefused
from trials.layout.calendar import Frost, Happened
from trials.layout.crops import CropFigure, CropFigures, figures_of
from trials.layout.fit_to_beds import fitted
from trials.layout.plan import TrialPlan
from trials.layout.power.plot_size_variation import SizedSpread, TrialSpread, sized_spread
from trials.layout.power.sample_size import family_of, possible, wanted_of
from trials.layout.power.variation import Spread, SpreadSource, pooled_spread
from trials.layout.proposals import SeedRates, proposals
from trials.layout.season_dates import (
    SeasonDates,
    Timing,
    crop_days,
    figures_for,
    frost_of,
    left_out,
    planned_calendar,
    without_calendar,
)
from trials.layout.treatments import entry_factor
from trials.model.crop_facts import Fact, FactSource
from trials.model.trial import MEASURES, Trial
from trials.records.plan.file import WrittenPlan, written_plan
from trials.records.plan.proposed import Dates, Note, NoteKind, Proposed
from trials.season import net
from trials.season.plan_gains import trial_gains
from trials.season.plan_names import new_varieties
from trials.season.plot_values import plot_table
from trials.stats.comparison import compare
from trials.stats.design.table import Question
from trials.stats.results import Comparison
from trials.store import Store

if TYPE_CHECKING:
    import pandas as pd


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
    new_varieties(kept, written)  # refused here, while the plan can still be changed
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
        written,
        offers,
        _refusal(plan),
        spread,
        family,
        asked,
        dates,
        (*notes, *dates.notes),
        trial_gains(kept, plan, offers, spread),
        "" if kept is None else net.own_currency(kept).replace(net.MONEY, ""),
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
    notes: list[Note] = []
    site = None if kept is None else _site_frost(kept, plan)
    last, first, year = (None, None, None) if site is None else site
    known = figures_of(plan.crop, {} if kept is None else own_figures(kept))
    figures = figures_for(plan, timing, known)
    try:
        frost = frost_of(timing, last, first)
        crop = crop_days(plan, timing, figures)
        if frost is None:
            notes.append(Note(NoteKind.NO_FROST, (plan.site,)))
        elif year not in (None, plan.season) and timing.last_spring_frost is None:
            notes.append(Note(NoteKind.FROST_OF_OTHER_YEAR, (str(year),)))
        notes += _figure_notes(plan, timing, figures, known)
        if frost is None or crop is None:
            return Dates((), frost, tuple(notes), plan.crop, figures)
        happened = {**(seen or {}), **written.happened}
        every = figures.get(Fact.DAYS_BETWEEN_SOWINGS)
        dates = planned_calendar(
            plan, timing, crop, frost, happened, 1 if every is None else round(every.low)
        )
    except ValueError as wrong:
        raise PlanRefused(
            f"The calendar's days are not in order: {wrong}. Correct the plan's days, or your own "
            "figures for the crop."
        ) from None
    notes += _season_notes(plan, timing, frost, dates)
    return Dates(dates.tasks, frost, tuple(notes), plan.crop, figures)


def _figure_notes(
    plan: TrialPlan, timing: Timing, figures: CropFigures, known: CropFigures
) -> Iterator[Note]:
    missing = without_calendar(plan, timing, figures)
    if missing:
        yield Note(NoteKind.NO_CROP_FIGURES, (plan.crop, *missing))
        return
    absent = left_out(plan, timing, figures)
    if absent:
        yield Note(NoteKind.CROP_FIGURES_LEFT_OUT, (plan.crop, *absent))
    usual = known.get(Fact.DIRECT_SOWN)
    if timing.direct_sown and usual is not None and not usual.low:
        yield Note(NoteKind.NOT_DIRECT_SOWN, (plan.crop,))


def own_figures(kept: Store) -> dict[str, CropFigures]:
    """The farm's own figures for the calendar, by crop."""
    found: dict[str, dict[Fact, CropFigure]] = {}
    for row in kept.crops().to_dict("records"):
        if row["figure"] not in set(Fact):
            continue
        value, source = float(row["value"]), FactSource(row["source"])
        found.setdefault(row["crop"], {})[Fact(row["figure"])] = CropFigure(value, value, source)
    return dict(found)


def _season_notes(
    plan: TrialPlan, timing: Timing, frost: Frost, dates: SeasonDates
) -> Iterator[Note]:
    last, ends = dates.last_useful.isoformat(), frost.cutting_ends.isoformat()
    weeks = str(timing.weeks_of_cutting)
    if dates.too_short:
        first = dates.first_sowing.isoformat()
        yield Note(NoteKind.SEASON_TOO_SHORT, (plan.crop, first, weeks, ends, last))
    if not dates.sowings:
        yield Note(NoteKind.NO_SOWING_FITS, (str(dates.asked), ends))
    elif dates.sowings < dates.asked:
        counts = (str(dates.asked), str(dates.sowings))
        # Sowings closer together cannot help where the first one is already too late.
        helps = () if dates.too_short else (Fact.DAYS_BETWEEN_SOWINGS.value,)
        names = (*counts, weeks, ends, last, *helps, "weeks_of_cutting")
        yield Note(NoteKind.FEWER_SOWINGS, names)


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
