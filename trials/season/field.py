"""What happened to a trial's ground after it was laid out: its planting, and what stands where."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from trials.errors import Remedy, TrialState, UnknownName, Verb, quoted
from trials.layout.field.as_planted import as_labelled, as_planted
from trials.layout.plan import PlannedLayout
from trials.model.rows import NOBODY, Added, Batch, Sheet, Signed
from trials.model.trial import EventKind, Trial, TrialStage
from trials.records.rules.forms import FORMS
from trials.store import Store


def planted(
    store: Path, trial: str, on: date, plots: Sequence[str] = (), signed: Signed = NOBODY
) -> Added:
    """Record that a trial was planted out, or some of its plots; its layout is fixed by that.

    Without ``plots`` all are meant that are not planted yet.

    Raises
    ------
    UnknownName
        There is no such trial, or it has no such plot.
    TrialState
        They are planted already, the trial is closed, or the day lies outside its season.
    """
    import pandas as pd

    kept = Store.open(store)
    held = kept.trial(trial)
    days = dict(
        zip(*(kept.plots(trial)[name] for name in ("plot", "transplanted_on")), strict=True)
    )
    for plot in plots:
        if plot not in days:
            raise UnknownName("plot", plot, days)
    done = [plot for plot in plots or days if days[plot] is not None]
    if done and (plots or len(done) == len(days)):
        what = f"Plot {done[0]}" if plots else f"Every plot of {trial}"
        raise TrialState(f"{what} is planted already, since {days[done[0]]}. Nothing was changed.")
    _require_in_season(kept, held.season, held.site, on)
    rows = [
        {"trial": trial, "plot": plot, "happened_on": on, "kind": EventKind.PLANTED.value}
        for plot in plots or (None,)
    ]
    columns = FORMS[Sheet.EVENTS].names
    frame = pd.DataFrame(rows, columns=columns, dtype=object)
    return kept.add(Batch({Sheet.EVENTS: frame}, (), {}), signed)


def _require_in_season(kept: Store, season: int, site: str, on: date) -> None:
    seasons = kept.seasons()
    (run,) = seasons[(seasons["season"] == season) & (seasons["site"] == site)].to_dict("records")
    if not run["starts_on"] <= on <= run["ends_on"]:
        raise TrialState(
            f"{on} is outside the season {season} of {site}, which runs from {run['starts_on']} "
            f"to {run['ends_on']}. Correct the day."
        )


def as_it_stands(store: Path, layout: PlannedLayout) -> PlannedLayout:
    """A planned layout with the plants that its plots really got."""
    return as_planted(layout, Store.open(store).bed.plants_of(layout.plan.code))


def as_staked(store: Path, layout: PlannedLayout, on: date) -> PlannedLayout:
    """A layout by the stakes that stand in its plots on that day."""
    return as_labelled(layout, Store.open(store).bed.stakes_in(layout.plan.code, on))


def require_planted(trial: Trial) -> None:
    """Refuse a trial whose plots are laid out and bare."""
    if trial.stage is TrialStage.LAID_OUT and trial.plots:
        raise TrialState(
            f"Trial {trial.code} is planned but not planted yet, so there is nothing to compare.",
            Remedy(
                "When it is planted, record it", Verb.PLANTED, f"{quoted(trial.code)} --on DATE"
            ),
        )


def plants_per_metre(kept: Store, trials_used: Sequence[str]) -> float:
    """How densely the newest of the trials was planted: the median over its plots."""
    newest = max((kept.trial(code) for code in trials_used), key=lambda trial: trial.season)
    plots = kept.plots(newest.code)
    return round(float((plots["plants_set"] / plots["net_length_m"]).median()), 2)


def survival(kept: Store, trials_used: Sequence[str]) -> float:
    """The share of the newest trial's plants set that lived at the first cut, lost plots left out.

    Raises
    ------
    TrialState
        No plot's living plants were counted.
    """
    newest = max((kept.trial(code) for code in trials_used), key=lambda trial: trial.season)
    plots = kept.plots(newest.code)
    counted = plots[plots["living"].notna() & plots["lost_reason"].isna()]
    if counted.empty or not counted["living"].sum():
        raise TrialState(
            f"No living plants were counted in {newest.code}, so the share that survives is not "
            "known. Give the metres of bed instead."
        )
    return float(min(counted["living"].sum() / counted["plants_set"].sum(), 1.0))
