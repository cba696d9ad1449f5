"""The story of a season: one short function for each thing a grower does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trials import (
    decide,
    field,
    loading,
    mending,
    planning,
    plot_rows,
    printing,
    proposing,
    safekeeping,
    stats,
    tallying,
)
from trials import package as trial_package
from trials.batch import NOBODY
from trials.errors import ComparisonRefused, FileRefused, TrialState, UnknownName
from trials.model import MEASURES, Better, Margin, Measure, Trial
from trials.plot_rows import plot_conduct, plot_table
from trials.records import plan_file
from trials.records import plan_text as plan_words
from trials.records.any_table import TableColumns, read_table
from trials.stats.conduct import conduct_cautions
from trials.stats.results import Comparison
from trials.stats.table import Question, Scale
from trials.store import Store
from trials.units import PaperSize

if TYPE_CHECKING:
    import pandas as pd

    from trials.batch import Signed
    from trials.errors import Fault
    from trials.model import Closing, Completeness
    from trials.stats.length_grades import GradeShare

VARIETY = "variety"

# A plan from its file or a form: its text, what fits, and the one that is laid out and stored.
plan_text = plan_file.plan_text
plan_text_of = plan_words.plan_text_of
propose = proposing.propose
plan_from_text = planning.plan_from_text
# The crew at the bed.
tally = tallying.tally
correct_tally = tallying.correct_tally
walk = tallying.walk
plot_on_day = tallying.plot_on_day
plan = planning.plan
planned = planning.planned
calendar = planning.calendar
check = safekeeping.check
backup = safekeeping.backup
restore = safekeeping.restore
planted = field.planted

# A trial as an open data package, out and in.
package = trial_package.package
unpack = trial_package.unpack

# What was recorded wrongly, and what was changed when.
correct = mending.correct
withdraw = mending.withdraw
undo = mending.undo
history = mending.history
submission = mending.submission
records_digest = mending.records_digest


def sheets(store: Path, trial: str, into: Path, how: printing.Printing) -> tuple[Path, ...]:
    """Write a planned trial's map, stakes, picking sheets, page with its days, and workbook."""
    from trials.report.calendar_page import days_to_print

    days = days_to_print(planning.calendar(store, trial).tasks)
    return printing.sheets(store, trial, into, how, days)


# Files to stored records, and how sheets of somebody's own are read.
load = loading.load
guesses = loading.guesses


@dataclass(frozen=True, slots=True)
class Asked:
    """What the grower asks differently from what the trial's plan fixed; None keeps the plan.

    ``second_opinions`` are the randomisation test, the count model and leaving plots out: slower
    than the comparison itself.
    """

    alpha: float | None = None
    check: str | None = None
    better: Better | None = None
    margin: Margin | None = None
    scale: Scale = Scale.IDENTITY
    leave_out_missed: bool = False
    second_opinions: bool = True


def trials(store: Path) -> tuple[Trial, ...]:
    """The trials of a store, by season and code."""
    return Store.open(store).trials()


def close(store: Path, trial: str, on: date, reason: str, signed: Signed = NOBODY) -> Closing:
    """End a trial's season; from then on its records are fixed."""
    return Store.open(store).close(trial, on, reason, signed)


def measure_named(key: str) -> Measure:
    """The measure of that key or label."""
    for measure in MEASURES:
        if key in (measure.key, measure.label):
            return measure
    raise UnknownName("measure", key, [measure.key for measure in MEASURES])


def compare(
    store: Path,
    trial: str,
    measure: str | None = None,
    asked: Asked | None = None,
    as_known_at: datetime | int | None = None,
) -> Comparison:
    """The comparison of one measure of one trial, by default of its primary measure.

    ``as_known_at`` takes the records as they were known at a time, or when an entry was made.
    """
    kept = mending.store_at(store, as_known_at)
    held = kept.trial(trial)
    field.require_planted(held)
    return compare_plots(held, kept.plots(held.code), measure, asked or Asked())


def plots(store: Path, trial: str) -> pd.DataFrame:
    """One row a plot with every measure a column."""
    return Store.open(store).plots(trial)


def grades(store: Path, trial: str) -> pd.DataFrame:
    """Marketable stems by plot and length grade."""
    return Store.open(store).grades(trial)


def length_grades(
    store: Path, trial: str, factor: str, *, leave_out_missed: bool = False
) -> tuple[GradeShare, ...]:
    """Each level's marketable stems per plant by length grade."""
    kept = Store.open(store)
    known = [known.name for known in kept.trial(trial).factors]
    if factor not in known:
        raise UnknownName("factor", factor, known)
    plots, counted = kept.plots(trial), kept.grades(trial)
    if leave_out_missed:
        plots = plot_rows.picked_throughout(plots)
    return plot_rows.length_grades(plots, counted, factor)


def culls(store: Path, trial: str) -> pd.DataFrame:
    """Culled stems by treatment and reason."""
    return Store.open(store).culls(trial)


def completeness(store: Path, trial: str) -> Completeness:
    """What a trial's records hold and lack so far."""
    return Store.open(store).completeness(trial)


def closing(store: Path, trial: str) -> Closing | None:
    """When and why a trial's season ended; None while it is open."""
    return Store.open(store).closing(trial)


def compare_plots(
    trial: Trial, plots: pd.DataFrame, measure: str | None, asked: Asked
) -> Comparison:
    """The comparison of one measure from the trial's plots (one row a plot)."""
    chosen = measure_named(measure or trial.primary_measure)
    if asked.leave_out_missed:
        plots = plot_rows.picked_throughout(plots)
    question = Question(
        alpha=asked.alpha or trial.alpha,
        check=asked.check or trial.check,
        better=asked.better or chosen.better,
        margin=asked.margin or _planned_margin(trial, chosen),
        scale=asked.scale,
    )
    table = plot_table(trial, plots, chosen)
    comparison = stats.compare(table, question)
    if asked.second_opinions:
        comparison = stats.second_opinions(table, question, comparison)
    cautions = conduct_cautions(plot_conduct(plots))
    return replace(comparison, cautions=(*comparison.cautions, *cautions))


def _planned_margin(trial: Trial, measure: Measure) -> Margin | None:
    """The trial's margin; one in a unit holds for the primary measure only."""
    margin = trial.margin
    if margin is None or margin.percent or measure.key == trial.primary_measure:
        return margin
    return None


def compare_table(path: Path, columns: TableColumns, asked: Asked) -> Comparison:
    """The comparison of a measure of any CSV table, without a store."""
    question = Question(
        alpha=asked.alpha or 0.05,
        check=asked.check,
        better=asked.better or Better.HIGHER,
        margin=asked.margin,
        scale=asked.scale,
    )
    table = read_table(path, columns)
    return stats.second_opinions(table, question, stats.compare(table, question))


def choose(
    store: Path,
    crop: str,
    measure: str | None = None,
    rules: decide.Rules | None = None,
    as_known_at: datetime | int | None = None,
) -> decide.Choice:
    """The standings of a crop's varieties over all its closed trials.

    The newest trial gives the deciding measure, the check, the margin and the shortest saleable
    length. Trials that do not compare replicated varieties are passed over. ``as_known_at`` takes
    the records, closings and prices as they were known at a time, or when an entry was made.

    Raises
    ------
    TrialState
        No trial of the crop's varieties is closed, or the newest one is still open.
    """
    kept = mending.store_at(store, as_known_at)
    of_crop = [trial for trial in kept.trials() if trial.crop == crop]
    if not of_crop:
        raise UnknownName("crop", crop, sorted({trial.crop for trial in kept.trials()}))
    usable = [trial for trial in of_crop if any(f.name == VARIETY for f in trial.factors)]
    if not usable:
        raise ComparisonRefused(f"No trial of {crop} compared varieties, so none can be chosen.")
    for trial in usable:
        _require_closed(trial)
    newest = max(usable, key=lambda trial: (trial.season, trial.code))
    deciding = measure_named(measure or newest.primary_measure)
    length = measure_named("stem_length_cm")
    plots = {trial.code: kept.plots(trial.code) for trial in usable}
    rules = rules or decide.Rules()
    outlook = decide.outlook(
        [_season_means(trial, plots[trial.code], deciding) for trial in usable],
        better=deciding.better,
        check=newest.check,
        lengths=[_season_means(trial, plots[trial.code], length) for trial in usable],
        shortest=newest.shortest_length_cm,
        tall_chance=rules.tall_chance,
        margin=_planned_margin(newest, deciding),
    )
    return decide.Choice(
        crop=crop,
        next_season=newest.season + 1,
        measure=deciding,
        check=newest.check,
        shortest_length_cm=newest.shortest_length_cm,
        trials=tuple(trial.code for trial in usable),
        outlook=outlook,
        standings=decide.standings(outlook, rules, decide.seed_prices(kept.seed_items(crop))),
        rules=rules,
        practices=_practices(newest, plots[newest.code], deciding),
    )


def choose_again(choice: decide.Choice, rules: decide.Rules) -> decide.Choice:
    """The same draws of next season judged by other rules."""
    prices = {s.entry: s.seed_price for s in choice.standings if s.seed_price is not None}
    return replace(choice, rules=rules, standings=decide.standings(choice.outlook, rules, prices))


def _practices(
    newest: Trial, plots: pd.DataFrame, deciding: Measure
) -> tuple[decide.Practice, ...]:
    keys = (deciding.key, "stem_length_cm", "tall_share", "marketable_share")
    measures = [measure_named(key) for key in dict.fromkeys(keys)]
    quick = Asked(second_opinions=False)
    recorded = [measure for measure in measures if plots[measure.key].notna().any()]
    return decide.practices(
        newest.code,
        VARIETY,
        [(measure, compare_plots(newest, plots, measure.key, quick)) for measure in recorded],
    )


def _require_closed(trial: Trial) -> None:
    if trial.closed_on is None:
        raise TrialState(
            f"Trial {trial.code} is still open, so its totals may grow. "
            f"Close it first: tallybed close {trial.code} --on DATE"
        )


def _season_means(trial: Trial, plots: pd.DataFrame, measure: Measure) -> decide.SeasonMeans:
    question = Question(alpha=trial.alpha, check=trial.check, better=measure.better)
    found = stats.adjusted_means(plot_table(trial, plots, measure), question, VARIETY)
    return decide.SeasonMeans(
        trial.season, trial.code, found.levels, found.means, found.cov, found.df
    )


def order(
    store: Path,
    choice: decide.Choice,
    sowing: decide.Sowing,
    budget: float | None = None,
) -> decide.Ordering:
    """The cheapest seed order for the beds to be sown, over all seed houses of the store."""
    kept = Store.open(store)
    known = sorted(kept.varieties(choice.crop)["variety"])
    for name in sowing.varieties:
        if name not in known:
            raise UnknownName("variety", name, known)
    varieties = sowing.varieties or choice.reordered[: sowing.most]
    if not varieties:
        raise TrialState(
            f"No variety of {choice.crop} is to be reordered. Name the varieties you want."
        )
    density = sowing.plants_per_metre or field.plants_per_metre(kept, choice.trials)
    germination = {str(variety): rate for variety, rate in kept.germination().items()}
    again = [name for name in choice.tried_again if name not in varieties]
    needs = (
        *decide.bed_needs(sowing, varieties, density, germination),
        *decide.trial_needs(sowing, again, germination),
    )
    bought = decide.order(
        [decide.Need(need.variety, need.seeds) for need in needs],
        kept.seed_items(choice.crop),
        kept.seed_houses(),
        budget,
        allow_unfilled=True,
    )
    return decide.Ordering(choice.crop, choice.next_season, sowing, density, needs, bought)


def write_faults(files: Sequence[Path], faults: Sequence[Fault], path: Path) -> int:
    """Write the rows that faults stand in to a CSV file or workbook, and say how many they are.

    Mended there and loaded together with the files, they take the place of the faulty rows.
    """
    from trials.records.mended import faulty_rows
    from trials.report.faults_file import write_faults_file

    found = faulty_rows(files, faults)
    write_faults_file(found, path)
    return sum(len(table.rows) for table in found)


def write_order_csv(ordering: decide.Ordering, path: Path) -> None:
    """Write the order's lines for a spreadsheet."""
    from trials.report.order_csv import order_csv

    try:
        path.write_text(order_csv(ordering.order), encoding="utf-8")
    except OSError as problem:
        raise FileRefused(f"{path}: {problem.strerror}. Choose another place.") from None


def write_order_pdf(
    ordering: decide.Ordering, path: Path, *, farm: str, on: date, size: PaperSize = PaperSize.A4
) -> None:
    """Write the order to print and tick off."""
    from trials.paper import write_order_sheet

    title = f"Seed order {ordering.crop} {ordering.next_season}"
    write_order_sheet(ordering.order, title, farm, path, on=on, size=size)
