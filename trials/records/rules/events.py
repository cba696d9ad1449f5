"""Rules of events: what happened to a plot, or to a whole trial, beside the picking."""

from __future__ import annotations

import re

import numpy as np

from trials.model.rows import Sheet
from trials.model.trial import EventKind
from trials.records.faults import Faults, Wrong, shown
from trials.records.rules.picking import filled, outside_season, trial_of
from trials.records.rules.reference_data import TrialFacts, World, records
from trials.records.rules.validation import Judged


def plot_is_of_the_trial(judged: Judged, world: World, faults: Faults) -> None:
    """The plots of an event lie in the trial of the event."""
    for column in ("plot", "other_plot"):
        _of_the_trial(judged, world, faults, column)


def _of_the_trial(judged: Judged, world: World, faults: Faults, column: str) -> None:
    elsewhere = []
    for trial, plot in records(judged.frame, "trial", column):
        facts = world.plots.get(plot)
        elsewhere.append(
            trial is not None
            and facts is not None
            and facts.trial is not None
            and facts.trial.code != trial
        )

    def words(record: int) -> Wrong:
        plot = judged.cell(record, column)
        return Wrong(
            f"Plot {shown(plot)} belongs to the trial {shown(trial_of(world.plots[plot]).code)}.",
            "Correct the plot or the trial.",
        )

    judged.fault(faults, np.array(elsewhere, dtype=bool), column, words)


def event_within_season(judged: Judged, world: World, faults: Faults) -> None:
    """An event happens in the season of its trial."""
    outside: dict[int, TrialFacts] = {}
    for record, (code, day) in enumerate(records(judged.frame, "trial", "happened_on")):
        trial = world.trials.get(code)
        if trial is None or trial.starts_on is None or trial.ends_on is None or day is None:
            continue
        if not trial.starts_on <= day <= trial.ends_on:
            outside[record] = trial
    judged.fault(
        faults,
        np.isin(np.arange(len(judged)), list(outside)),
        "happened_on",
        lambda record: outside_season(judged, record, "happened_on", outside[record]),
    )


def loss_has_plot_and_reason(judged: Judged, world: World, faults: Faults) -> None:
    """A loss says which plot was lost, and why."""
    lost = (judged.frame["kind"] == EventKind.LOST.value).to_numpy(dtype=bool)
    for column, remedy in (
        ("plot", "Write the plot that was lost. For a whole trial, write one row per plot."),
        ("reason", "Write why the plot was lost. The comparison leaves it out for that reason."),
    ):
        wrong = Wrong("A plot was lost, but this cell is empty.", remedy)
        judged.fault(
            faults,
            lost & ~filled(judged, column) & judged.clear(column),
            column,
            wrong,
        )


_TIME = re.compile(r"(?:[01]\d|2[0-3]):[0-5]\d", re.ASCII)
SPRAY_FACTS = ("product", "sprayed_at", "re_entry_hours")


def spray_is_told_whole(judged: Judged, world: World, faults: Faults) -> None:
    """Only a spray has a product and a re-entry time, and a re-entry time names its product."""
    sprayed = (judged.frame["kind"] == EventKind.SPRAYED.value).to_numpy(dtype=bool)
    for column in SPRAY_FACTS:
        wrong = Wrong(
            "Only a spray has this, and this row is not a spray.",
            "Empty the cell, or write sprayed as the kind.",
        )
        misplaced = ~sprayed & filled(judged, column) & judged.clear("kind")
        judged.fault(faults, misplaced, column, wrong)
    unnamed = sprayed & filled(judged, "re_entry_hours") & ~filled(judged, "product")
    judged.fault(
        faults,
        unnamed & judged.clear("product"),
        "product",
        Wrong("The row has a re-entry time but no product.", "Write the product as on its label."),
    )
    no_time = judged.columns["sprayed_at"].where(lambda said: _TIME.fullmatch(said) is None)
    judged.fault(
        faults,
        no_time & filled(judged, "sprayed_at"),
        "sprayed_at",
        lambda record: Wrong(
            f"{shown(judged.cell(record, 'sprayed_at'))} is not a time of day.",
            "Write when spraying ended, such as 07:30 or 18:05.",
        ),
    )


def planted_once(judged: Judged, world: World, faults: Faults) -> None:
    """A plot is planted on one day; a planting of the whole trial is of the plots still bare."""
    plots = world.frames[Sheet.PLOTS]
    of_trial: dict[str, set[str]] = {}
    planted: set[str] = set()
    for trial, plot, day in records(plots, "trial", "plot", "transplanted_on"):
        of_trial.setdefault(trial, set()).add(plot)
        if day is not None:
            planted.add(plot)
    every = world.frames[Sheet.EVENTS]
    first_new = len(every) - len(judged)
    for place, (kind, trial, plot) in enumerate(records(every, "kind", "trial", "plot")):
        if kind != EventKind.PLANTED:
            continue
        meant = {plot} if plot is not None else of_trial.get(trial, set())
        if meant and meant <= planted and place >= first_new:
            file, row = judged.place(place - first_new)
            what = f"Plot {shown(plot)}" if plot is not None else f"Every plot of {shown(trial)}"
            faults.add(
                file,
                row,
                "kind",
                Wrong(
                    f"{what} is planted already.",
                    "Leave the row out. If the stored day is wrong, correct it.",
                ),
            )
        planted |= meant
