"""Choosing: a crop's varieties over all its closed trials, and what more a choice rests on."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trials import decide, mending, stats
from trials.comparing import STEM_LENGTH, Asked, compare_plots, measure_named, planned_margin
from trials.errors import ComparisonRefused, Remedy, TrialState, UnknownName, Verb
from trials.model import Measure, Trial
from trials.plot_rows import plot_table
from trials.stats.table import Question

if TYPE_CHECKING:
    import pandas as pd

VARIETY = "variety"


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
    length = measure_named(STEM_LENGTH)
    plots = {trial.code: kept.plots(trial.code) for trial in usable}
    rules = rules or decide.Rules()
    outlook = decide.outlook(
        [_season_means(trial, plots[trial.code], deciding) for trial in usable],
        better=deciding.better,
        check=newest.check,
        lengths=[_season_means(trial, plots[trial.code], length) for trial in usable],
        shortest=newest.shortest_length_cm,
        tall_chance=rules.tall_chance,
        margin=planned_margin(newest, deciding),
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
    keys = (deciding.key, STEM_LENGTH, "tall_share", "marketable_share")
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
            f"Trial {trial.code} is still open, so its totals may grow.",
            Remedy("Close it first", Verb.CLOSE, f"{trial.code} --on DATE"),
        )


def _season_means(trial: Trial, plots: pd.DataFrame, measure: Measure) -> decide.SeasonMeans:
    question = Question(alpha=trial.alpha, check=trial.check, better=measure.better)
    found = stats.adjusted_means(plot_table(trial, plots, measure), question, VARIETY)
    return decide.SeasonMeans(
        trial.season, trial.code, found.levels, found.means, found.cov, found.df
    )
