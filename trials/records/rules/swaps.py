"""Rules of swaps: two plots that got each other's plants, or stood under each other's stakes.

A swap recorded a second time takes the first one back.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from itertools import zip_longest

import numpy as np

from trials.model.rows import Sheet
from trials.model.trial import AppliedTo, EventKind
from trials.records.faults import Faults, Wrong, shown
from trials.records.rules.reference_data import TrialFacts, World, records
from trials.records.rules.validation import Judged, as_objects

SWAPS = (EventKind.PLANTS_SWAPPED, EventKind.LABELS_SWAPPED)

Pair = frozenset[str]
Span = tuple[date, date]  # from the first day to the day before the second


def swap_has_two_plots_and_reason(judged: Judged, world: World, faults: Faults) -> None:
    """A swap names two different plots and says why; no other event has a second plot."""
    swap = judged.frame["kind"].isin(SWAPS).to_numpy(dtype=bool)
    cells = {name: judged.frame[name].notna().to_numpy(dtype=bool) for name in _NEEDED}
    for column, wrong in _NEEDED.items():
        judged.fault(faults, swap & ~cells[column] & judged.clear(column), column, wrong)
    judged.fault(
        faults,
        ~swap & cells["other_plot"] & judged.clear("kind"),
        "other_plot",
        Wrong(
            "Only a swap has another plot.",
            "Empty the cell, or write 'plants swapped' or 'labels swapped' as the kind.",
        ),
    )
    same = [plot == other for plot, other in records(judged.frame, "plot", "other_plot")]
    judged.fault(
        faults,
        swap & np.array(same, dtype=bool) & cells["plot"],
        "other_plot",
        Wrong("A plot cannot be swapped with itself.", "Write the other one of the two plots."),
    )


_NEEDED: Mapping[str, Wrong] = {
    "plot": Wrong("Two plots were swapped, but this cell is empty.", "Write one of the two plots."),
    "other_plot": Wrong(
        "Two plots were swapped, but this cell is empty.", "Write the other one of the two plots."
    ),
    "reason": Wrong(
        "Two plots were swapped, but this cell is empty.",
        "Write how it happened. The comparison takes the swap into account.",
    ),
}


def swaps_can_be_followed(judged: Judged, world: World, faults: Faults) -> None:
    """A swap leaves no doubt what stood where, and a plot that is swapped was not lost."""
    every = _Swaps(world)
    for record, (kind, trial, plot, other, day) in enumerate(
        records(judged.frame, "kind", "trial", "plot", "other_plot", "happened_on")
    ):
        if None in (trial, plot, other, day) or plot == other or kind not in SWAPS:
            continue
        facts = [world.plots.get(each) for each in (plot, other)]
        if any(fact is None or fact.trial is None or fact.trial.code != trial for fact in facts):
            continue  # noted already
        found = every.lost(kind, (plot, other), day) or every.entangled(kind, (plot, other))
        if found is None and kind == EventKind.PLANTS_SWAPPED:
            found = _moves_nothing(world, world.trials[trial], (plot, other))
        if found is not None:
            file, row = judged.place(record)
            faults.add(file, row, "other_plot", found)


def loss_under_its_own_stake(judged: Judged, world: World, faults: Faults) -> None:
    """A plot is not lost while its stake stands elsewhere: nobody could tell which one it was."""
    every = _Swaps(world)
    for record, (kind, plot, day) in enumerate(
        records(judged.frame, "kind", "plot", "happened_on")
    ):
        if kind != EventKind.LOST or plot is None or day is None:
            continue
        for pair, spans in every.spans.items():
            if plot in pair and any(first <= day < last for first, last in spans):
                (other,) = pair - {plot}
                file, row = judged.place(record)
                faults.add(
                    file,
                    row,
                    "plot",
                    Wrong(
                        f"On {day} the stakes of plots {shown(plot)} and {shown(other)} stood in "
                        "each other's plots, so either may have been lost.",
                        "First record the swap back: a second 'labels swapped' on that day or "
                        "earlier.",
                    ),
                )


class _Swaps:
    """Every swap and every loss, of the store and of the new rows."""

    def __init__(self, world: World) -> None:
        days: dict[tuple[str, Pair], list[date]] = {}
        self._lost: dict[str, date] = {}
        for kind, plot, other, day in records(
            world.frames[Sheet.EVENTS], "kind", "plot", "other_plot", "happened_on"
        ):
            if None in (plot, day):
                continue
            if kind == EventKind.LOST:
                self._lost[plot] = min(day, self._lost.get(plot, day))
            elif kind in SWAPS and other not in (None, plot):
                days.setdefault((kind, frozenset((plot, other))), []).append(day)
        self._exchanged = [
            pair
            for (kind, pair), swaps in days.items()
            if kind == EventKind.PLANTS_SWAPPED and len(swaps) % 2
        ]
        self.spans: dict[Pair, list[Span]] = {
            pair: _spans(swaps)
            for (kind, pair), swaps in days.items()
            if kind == EventKind.LABELS_SWAPPED
        }

    def lost(self, kind: str, plots: Sequence[str], day: date) -> Wrong | None:
        """A plot that was lost by that day, or while its stake was away."""
        spans = self.spans.get(frozenset(plots), []) if kind == EventKind.LABELS_SWAPPED else []
        for plot in plots:
            lost_on = self._lost.get(plot)
            if lost_on is None:
                continue
            if lost_on <= day or any(first <= lost_on < last for first, last in spans):
                return Wrong(
                    f"Plot {shown(plot)} was lost on {lost_on}, so it cannot have been swapped "
                    f"on {day}.",
                    "Correct the plots or the day. If the other plot was lost, withdraw the loss.",
                )
        return None

    def entangled(self, kind: str, plots: Sequence[str]) -> Wrong | None:
        """A plot that is swapped with a third one at the same time."""
        mine = frozenset(plots)
        if kind == EventKind.PLANTS_SWAPPED:
            others = [pair for pair in self._exchanged if pair != mine and mine in self._exchanged]
        else:
            others = [
                pair
                for pair, spans in self.spans.items()
                if pair != mine and _overlap(spans, self.spans.get(mine, []))
            ]
        for pair in others:
            for plot in sorted(mine & pair):
                (third,) = pair - {plot}
                return Wrong(
                    f"Plot {shown(plot)} is swapped with plot {shown(third)} at the same time.",
                    "A plot can be swapped with one other at a time. Correct the plots, or first "
                    "record that the same two plots were swapped back.",
                )
        return None


def _spans(days: Sequence[date]) -> list[Span]:
    ordered = sorted(days)
    return list(zip_longest(ordered[::2], ordered[1::2], fillvalue=date.max))


def _overlap(some: Sequence[Span], others: Sequence[Span]) -> bool:
    return any(a < d and c < b for a, b in some for c, d in others)


def _moves_nothing(world: World, trial: TrialFacts, plots: Sequence[str]) -> Wrong | None:
    """Plots whose swap exchanges nothing: they differ at most in what larger ground was given."""
    if trial.factors is None:
        return None
    frame = world.frames[Sheet.PLOTS]
    rows = [frame[frame["plot"] == plot] for plot in plots]
    differ = [
        (name, unit)
        for name, unit in trial.factors
        if name in frame.columns
        and as_objects(rows[0][name]).tolist() != as_objects(rows[1][name]).tolist()
    ]
    if any(unit is AppliedTo.PLOT for _, unit in differ):
        return None
    both = f"Plots {shown(plots[0])} and {shown(plots[1])}"
    if not differ:
        return Wrong(
            f"{both} have the same treatments, so a swap changes nothing.",
            "Correct the plots, or leave the row out.",
        )
    larger = " and ".join(f"{name}, which was given to {unit.value}s" for name, unit in differ)
    return Wrong(
        f"{both} differ only in {larger}. Swapped plants take only their plot's own treatment "
        "with them.",
        "If a larger unit got the wrong level, enter its plots as lost with that reason, or load "
        "the trial again as it was grown.",
    )
