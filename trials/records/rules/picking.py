"""Rules of what is counted and measured in plots: cuts, samples, stands and scores."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from trials.errors import Remedy, Verb, quoted
from trials.model.columns import Mask
from trials.model.rows import Sheet
from trials.model.trial import EventKind, Outcome
from trials.records.faults import Faults, Wrong, shown
from trials.records.rules.field import is_closed
from trials.records.rules.reference_data import PlotFacts, TrialFacts, World, records
from trials.records.rules.validation import Judged


@dataclass(frozen=True, slots=True, eq=False)
class Plots:
    """The plot of each row: its place among those named, and what is known of each of these."""

    code: NDArray[np.int32]
    facts: list[PlotFacts | None]

    @property
    def known(self) -> Iterator[PlotFacts]:
        """What is known of each plot that is named."""
        return (fact for fact in self.facts if fact is not None)

    def each(self, figure: Callable[[PlotFacts], float | None]) -> NDArray[np.float64]:
        """A figure of the plot of each row, NaN where it is not known."""
        figures = [np.nan if fact is None else figure(fact) for fact in self.facts]
        return np.array([np.nan if x is None else x for x in figures], dtype=float)[self.code]

    def where(self, true: Callable[[PlotFacts], bool]) -> Mask:
        """The rows whose plot is known and fulfils a condition."""
        return np.array([fact is not None and true(fact) for fact in self.facts])[self.code]

    def of(self, judged: Judged, record: int) -> PlotFacts:
        """What is known of the plot of one row, which is known."""
        fact = self.facts[int(self.code[record])]
        if fact is None:
            raise KeyError(judged.cell(record, "plot"))
        return fact


def plots_of(judged: Judged, world: World) -> Plots:
    """The plot of each row and what is known of it."""
    plots = judged.columns["plot"]
    # An empty cell has the code -1, which is the last place.
    return Plots(plots.codes, [*map(world.plots.get, plots.values), None])


def trial_of(facts: PlotFacts) -> TrialFacts:
    """The trial of a plot, which is known."""
    if facts.trial is None:
        raise KeyError("trial")
    return facts.trial


def trial_is_open(judged: Judged, world: World, faults: Faults) -> None:
    """A plot of a closed trial takes no more records."""
    plots = plots_of(judged, world)
    closed = plots.where(lambda plot: plot.trial is not None and plot.trial.closed)
    judged.fault(
        faults,
        closed,
        "plot",
        lambda record: is_closed(trial_of(plots.of(judged, record)).code),
    )


def outside_season(judged: Judged, record: int, column: str, trial: TrialFacts) -> Wrong:
    """The words for a day that its trial's season does not hold."""
    return Wrong(
        f"{judged.cell(record, column)} is outside the season {trial.season} of {trial.site}.",
        f"That season runs from {trial.starts_on} to {trial.ends_on}. Correct the day or the plot.",
    )


def plot_is_planted(judged: Judged, world: World, faults: Faults) -> None:
    """Nothing is recorded of a plot before its planting is."""
    plots = plots_of(judged, world)
    # A plot of no known trial is a fault of its own.
    bare = plots.where(lambda plot: plot.planted is False and plot.trial is not None)

    def words(record: int) -> Wrong:
        plot = judged.cell(record, "plot")
        trial = trial_of(plots.of(judged, record)).code
        return Wrong.mended_by(
            f"Plot {shown(plot)} is not planted yet.",
            Remedy(
                "Load an event of the kind 'planted', or record the day first",
                Verb.PLANTED,
                f"{quoted(trial)} --on DATE",
            ),
        )

    judged.fault(faults, bare, "plot", words)


def _is(judged: Judged, outcome: Outcome) -> Mask:
    return judged.columns["outcome"].where(lambda said: said == outcome.value)


def filled(judged: Judged, column: str) -> Mask:
    """The rows whose cell of the column is not empty."""
    return judged.columns[column].filled


def missed_has_nothing(judged: Judged, world: World, faults: Faults) -> None:
    """A missed day has no stems, grade or reason."""
    for column in ("grade_cm", "stems", "cull_reason"):
        wrong = Wrong(
            "The plot was missed that day, but this cell is filled.",
            "Empty the cell. If somebody picked the plot, write picked.",
        )
        judged.fault(
            faults,
            _is(judged, Outcome.MISSED) & filled(judged, column),
            column,
            wrong,
        )


def picked_has_stems(judged: Judged, world: World, faults: Faults) -> None:
    """A picked row counts stems of a grade or of a reason for culling; nothing at all is 0."""
    picked = _is(judged, Outcome.PICKED)
    grade, reason = filled(judged, "grade_cm"), filled(judged, "cull_reason")
    some = judged.columns["stems"].where(lambda stems: stems > 0)
    judged.fault(
        faults,
        picked & ~filled(judged, "stems") & judged.clear("stems"),
        "stems",
        Wrong(
            "The plot was picked, but the number of stems is missing.",
            "Write the number of stems, 0 if there were none. If nobody picked, write missed.",
        ),
    )
    judged.fault(
        faults,
        grade & reason & judged.clear("grade_cm", "cull_reason"),
        "cull_reason",
        Wrong(
            "The row has both a grade and a reason for culling.",
            "Write marketable stems and culled stems in separate rows.",
        ),
    )
    # Nothing at all found needs neither; stems that were cut need one of them.
    judged.fault(
        faults,
        picked & ~grade & ~reason & some & judged.clear("grade_cm", "cull_reason"),
        "grade_cm",
        lambda record: Wrong(
            f"{judged.cell(record, 'stems')} stems were picked, but neither their grade nor a "
            "reason for culling is given.",
            "For stems that were not culled, write the length grade (its shortest length in cm). "
            "For culled stems, write the reason.",
        ),
    )


def picked_or_missed(judged: Judged, world: World, faults: Faults) -> None:
    """A plot is either picked or missed on a day."""
    held = world.held[Sheet.CUTS]
    missed = np.concatenate(
        (
            (held["outcome"] == Outcome.MISSED.value).to_numpy(dtype=bool),
            _is(judged, Outcome.MISSED),
        )
    )
    if missed.all() or not missed.any():
        return
    day = np.concatenate(judged.alike(("plot", "cut_on"), held))
    first = np.zeros(day.max(initial=0) + 1, dtype=bool)
    first[day[::-1]] = missed[::-1]  # the first row of a day is written last, and stays
    torn = (missed != first[day])[len(held) :]
    judged.fault(
        faults,
        torn & judged.clear("plot", "cut_on", "outcome"),
        "outcome",
        lambda record: Wrong(
            f"Plot {shown(judged.cell(record, 'plot'))} was both picked and missed on "
            f"{judged.cell(record, 'cut_on')}.",
            "Leave only the rows that are true. A plot that was picked and had nothing is picked "
            "with 0 stems.",
        ),
    )


def nothing_after_loss(judged: Judged, world: World, faults: Faults) -> None:
    """A lost plot gives no stems from the day after its loss."""
    lost: dict[str, pd.Timestamp] = {}
    for plot, kind, day in records(world.frames[Sheet.EVENTS], "plot", "kind", "happened_on"):
        if kind == EventKind.LOST and plot is not None and day is not None:
            lost[plot] = min(day, lost.get(plot, day))
    if not lost:
        return
    stems = judged.columns["stems"].where(lambda stems: stems > 0)
    suspect = judged.columns["plot"].where(lost.__contains__) & stems
    after = np.zeros(len(judged), dtype=bool)
    for record in np.flatnonzero(suspect):
        day = judged.cell(int(record), "cut_on")
        after[record] = day is not None and day > lost[judged.cell(int(record), "plot")]

    def words(record: int) -> Wrong:
        plot = judged.cell(record, "plot")
        return Wrong(
            f"Stems were cut from plot {shown(plot)}, which was lost on {lost[plot]}.",
            "Correct the day or the plot. If the plot was not lost, withdraw the loss.",
        )

    judged.fault(faults, after, "plot", words)


def sample_has_a_cut(judged: Judged, world: World, faults: Faults) -> None:
    """Stems are measured on a day their plot was picked: the stems cut that day weight them."""
    if Sheet.CUTS in world.unsure:
        return
    cuts = world.frames[Sheet.CUTS]
    days = set(records(cuts[cuts["outcome"] != Outcome.MISSED.value], "plot", "cut_on"))
    lone = np.array(
        [
            plot in world.plots and day is not None and (plot, day) not in days
            for plot, day in records(judged.frame, "plot", "cut_on")
        ],
        dtype=bool,
    )
    judged.fault(
        faults,
        lone,
        "cut_on",
        lambda record: Wrong(
            f"Plot {shown(judged.cell(record, 'plot'))} has no cut on "
            f"{judged.cell(record, 'cut_on')}.",
            "Correct the day, or load the cuts of that day first or together with this file.",
        ),
    )
