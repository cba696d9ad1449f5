"""Choosing: a crop's varieties over all its closed trials, and what more a choice rests on."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from trials import decide, stats
from trials.errors import ComparisonRefused, Remedy, TrialState, UnknownName, Verb, quoted
from trials.model.trial import Measure, Trial
from trials.season import correcting as mending
from trials.season import net
from trials.season.comparing import (
    STEM_LENGTH,
    Asked,
    compare_plots,
    measure_named,
)
from trials.season.growing import growing
from trials.season.plot_values import plot_table, saleable_shares
from trials.season.vase_life import vase_lives
from trials.stats.design.table import Question

if TYPE_CHECKING:
    import pandas as pd

    from trials.store import Store

VARIETY = "variety"
STEMS_PER_PLANT = "stems_per_plant"


def choose(
    store: Path,
    crop: str,
    measure: str | None = None,
    rules: decide.Rules | None = None,
    as_known_at: datetime | int | None = None,
) -> decide.Choice:
    """The standings of a crop's varieties over all its closed trials.

    The net per metre decides where prices and costs are known, else the newest trial's primary
    measure, and the choice says what is lacking. The newest trial gives the check, the margin and
    the shortest saleable length. Trials that do not compare replicated varieties are passed over.
    ``as_known_at`` takes the records, closings and prices as they were known at a time, or when
    an entry was made.

    Raises
    ------
    TrialState
        No trial of the crop's varieties is closed, or the newest one is still open.
    """
    kept = mending.store_at(store, as_known_at).remembering()
    return choice_of(kept, crop, measure, rules or decide.Rules())


def choice_of(kept: Store, crop: str, measure: str | None, rules: decide.Rules) -> decide.Choice:
    """The same from an open store; see ``choose``."""
    found, newest, plots = ranked(kept, crop, measure, rules)
    in_money = found.measure.key == net.NET
    return replace(
        found,
        practices=_practices(newest, plots, found.measure),
        growing=growing(kept, newest, plots, found.reordered) if in_money else (),
        vase_life=vase_lives(kept, found.trials),
    )


def ranked(
    kept: Store, crop: str, measure: str | None, rules: decide.Rules
) -> tuple[decide.Choice, Trial, pd.DataFrame]:
    """The standings alone, and the newest trial with its plots; see ``choose``."""
    named = None if measure is None else measure_named(measure)
    # Money takes as long to read as all the rest: only where it may decide.
    may_pay = named is None or named.key == net.NET
    usable, plots, basis = read_basis(kept, crop, rules, kept.plots if may_pay else kept.yields)
    newest = basis.newest
    lacks = net.lacking(kept, usable, plots) if may_pay else ()
    deciding = named or measure_named(newest.primary_measure if lacks else net.NET)
    in_money = deciding.key == net.NET
    if in_money and lacks:
        raise ComparisonRefused(f"The net of {crop} cannot be calculated. {' '.join(lacks)}")
    outlook = outlook_of(usable, plots, deciding, basis)
    stems = measure_named(STEMS_PER_PLANT)
    poor = outlook if deciding == stems else outlook_of(usable, plots, stems, basis)
    cost = net.trial_cost(kept, crop, plots[newest.code]) if in_money else None
    found = decide.Choice(
        crop=crop,
        next_season=newest.season + 1,
        measure=net.in_currency(deciding, kept),
        check=newest.check,
        minimum_length_cm=newest.minimum_length_cm,
        trials=tuple(trial.code for trial in usable),
        outlook=outlook,
        standings=decide.standings(outlook, rules, cost),
        rules=rules,
        stems_in_a_poor_season={row.entry: row.low for row in poor.entries},
        trial_cost=cost,
        lacking=() if measure else lacks,
    )
    return found, newest, plots[newest.code]


@dataclass(frozen=True, slots=True)
class OutlookBasis:
    """What the outlooks of one choice share; ``others`` are the seasons of the other crops."""

    newest: Trial
    shortest: float
    saleable: Mapping[str, float]
    rules: decide.Rules
    others: Sequence[tuple[list[decide.SeasonMeans], float]]


def usable_trials(kept: Store, crop: str) -> tuple[Trial, ...]:
    """The trials that a choice of ``crop`` uses.

    Raises
    ------
    UnknownName
        The crop has no trial.
    ComparisonRefused
        None of its trials compared varieties.
    TrialState
        One of them is still open.
    """
    of_crop = [trial for trial in kept.trials() if trial.crop == crop]
    if not of_crop:
        raise UnknownName("crop", crop, sorted({trial.crop for trial in kept.trials()}))
    usable = tuple(trial for trial in of_crop if any(f.name == VARIETY for f in trial.factors))
    if not usable:
        raise ComparisonRefused(f"No trial of {crop} compared varieties, so none can be chosen.")
    for trial in usable:
        _require_closed(trial)
    return usable


def read_basis(
    kept: Store, crop: str, rules: decide.Rules, plots_of: Callable[[str, float], pd.DataFrame]
) -> tuple[tuple[Trial, ...], Mapping[str, pd.DataFrame], OutlookBasis]:
    """The trials that a choice of ``crop`` uses, their plots, and what its outlooks share.

    ``plots_of`` gives a trial's plots with another shortest saleable length (cm).
    """
    usable = usable_trials(kept, crop)
    newest = max(usable, key=lambda trial: (trial.season, trial.code))
    # Every season is read with what can be sold now, so that a variety's seasons compare.
    shortest = newest.minimum_length_cm
    plots = {trial.code: plots_of(trial.code, shortest) for trial in usable}
    saleable = _saleable([plots[trial.code] for trial in usable])
    basis = OutlookBasis(newest, shortest, saleable, rules, _others(kept, crop))
    return usable, plots, basis


def outlook_of(
    usable: Sequence[Trial],
    plots: Mapping[str, pd.DataFrame],
    deciding: Measure,
    asked: OutlookBasis,
) -> decide.Outlook:
    """The draws of next season of a measure, from each trial's plots by its code."""
    measured = [trial for trial in usable if plots[trial.code][STEM_LENGTH].notna().any()]
    length = measure_named(STEM_LENGTH)
    rows, known, usual = plots, {}, None
    if deciding.key == net.NET:
        in_order = sorted(usable, key=lambda trial: (trial.season, trial.code))
        known = net.seed_costs([plots[trial.code] for trial in in_order])
        usual = float(plots[asked.newest.code][net.GROSS].mean())
        rows = {code: net.before_seed(frame) for code, frame in plots.items()}
    return decide.outlook(
        [_season_means(trial, rows[trial.code], deciding) for trial in usable],
        better=deciding.better,
        check=asked.newest.check,
        lengths=[_season_means(trial, plots[trial.code], length) for trial in measured],
        shortest=asked.shortest if measured else None,
        saleable=asked.saleable,
        tall_chance=asked.rules.tall_chance,
        margin=asked.newest.margin_in(deciding),
        usual=usual,
        known=known,
        others=asked.others,
    )


def _others(kept: Store, crop: str) -> list[tuple[list[decide.SeasonMeans], float]]:
    """The farm's other crops with varieties in two closed trials or more, in stems per plant.

    They tell how far a season moves a variety, as a share of its yield. Trials that cannot say
    (no replication, no shared varieties, too few degrees of freedom) are passed over.
    """
    by_crop: dict[str, list[Trial]] = {}
    for trial in kept.trials():
        if trial.crop != crop and trial.closed_on and any(f.name == VARIETY for f in trial.factors):
            by_crop.setdefault(trial.crop, []).append(trial)
    stems = measure_named(STEMS_PER_PLANT)
    found = []
    for trials in by_crop.values():
        try:
            means = [_season_means(trial, kept.yields(trial.code), stems) for trial in trials]
            decide.require_joined(means)
        except ComparisonRefused:
            continue
        size = float(np.mean([season.means.mean() for season in means]))
        if len(means) > 1 and size > 0:
            found.append((means, size))
    return found


def choose_again(choice: decide.Choice, rules: decide.Rules) -> decide.Choice:
    """The same draws of next season judged by other rules."""
    standings = decide.standings(choice.outlook, rules, choice.trial_cost)
    return replace(choice, rules=rules, standings=standings)


def _practices(
    newest: Trial, plots: pd.DataFrame, deciding: Measure
) -> tuple[decide.Practice, ...]:
    keys = (STEM_LENGTH, "saleable_length_share", "marketable_share")
    measures = [deciding, *(measure_named(key) for key in keys if key != deciding.key)]
    quick = Asked(second_opinions=False)
    recorded = [measure for measure in measures if plots[measure.key].notna().any()]
    return decide.practices(
        newest.code,
        VARIETY,
        [(measure, compare_plots(newest, plots, measure.key, quick)) for measure in recorded],
    )


def _saleable(of_trials: Sequence[pd.DataFrame]) -> dict[str, float]:
    """The marketable part of each variety's graded stems over all trials."""
    import pandas as pd

    columns = [VARIETY, "marketable_stems", "short_stems"]
    return saleable_shares(pd.concat([plots[columns].dropna() for plots in of_trials]), VARIETY)


def _require_closed(trial: Trial) -> None:
    if trial.closed_on is None:
        raise TrialState(
            f"Trial {trial.code} is still open, so its totals may grow.",
            Remedy("Close it first", Verb.CLOSE, f"{quoted(trial.code)} --on DATE"),
        )


def _season_means(trial: Trial, plots: pd.DataFrame, measure: Measure) -> decide.SeasonMeans:
    question = Question(alpha=trial.alpha, check=trial.check, better=measure.better)
    found = stats.adjusted_means(plot_table(trial, plots, measure), question, VARIETY)
    return decide.SeasonMeans(
        trial.season, trial.code, found.levels, found.means, found.cov, found.df
    )
