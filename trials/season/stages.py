"""What the records tell of each trial, from which its next steps follow."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from trials.errors import PlanRefused
from trials.layout.calendar import DateSource, Task
from trials.layout.next_steps import TrialNow
from trials.model.re_entry import Spray
from trials.model.trial import EventKind, Outcome, Trial, TrialStage
from trials.season.planning import calendar
from trials.store import Store

if TYPE_CHECKING:
    import pandas as pd


def trials_now(store: Path, day: date) -> dict[str, TrialNow]:
    """What the records tell of every trial on a day, by its code."""
    kept = Store.open(store)
    walk = kept.bed.walk(day)
    sprays: dict[str, dict[Spray, int]] = {}
    for plot in walk:
        for spray in plot.sprays:
            of_trial = sprays.setdefault(plot.trial, {})
            of_trial[spray] = of_trial.get(spray, 0) + 1
    seasons, planned = kept.seasons(), kept.planned()
    return {
        trial.code: _now(
            store, kept, trial, sprays.get(trial.code, {}), seasons, trial.code in planned
        )
        for trial in kept.trials()
    }


def _now(
    store: Path,
    kept: Store,
    trial: Trial,
    sprays: Mapping[Spray, int],
    seasons: pd.DataFrame,
    is_planned: bool,
) -> TrialNow:
    if trial.stage is TrialStage.CLOSED:
        return TrialNow(trial.stage)
    tasks = _tasks(store, trial.code) if is_planned else ()
    cuts, events = kept.cuts(trial.code), kept.events(trial.code)
    picked = cuts.loc[cuts["outcome"] == Outcome.PICKED, "cut_on"]
    run = seasons[(seasons["season"] == trial.season) & (seasons["site"] == trial.site)]
    (row,) = run.to_dict("records")
    return TrialNow(
        stage=trial.stage,
        uncounted=len(kept.completeness(trial.code).plots_without_stand),
        expected=tuple(
            (task.kind, task.on) for task in tasks if task.source is DateSource.EXPECTED
        ),
        harvests=tuple(sorted(set(picked))),
        sprays=tuple(sprays.items()),
        first_frost=row["first_autumn_frost"],
        frost_recorded=bool((events["kind"] == EventKind.FROST).any()),
        ends_on=row["ends_on"],
    )


def _tasks(store: Path, trial: str) -> tuple[Task, ...]:
    """The trial's calendar; none where its days are not in order, which page Plan explains."""
    try:
        return calendar(store, trial).tasks
    except PlanRefused:
        return ()
