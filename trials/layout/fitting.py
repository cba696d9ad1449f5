"""Whether a plan's plots fit the beds the farm has; where they do not, what would."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

from trials.errors import PlanRefused
from trials.layout.beds import PlotGround, plot_ground
from trials.layout.blocks import (
    AUGMENTED_BLOCKS,
    COMPLETE_BLOCKS,
    COMPLETELY_RANDOMISED,
    INCOMPLETE_BLOCKS,
)
from trials.layout.drawn import Kind
from trials.layout.larger_units import SPLIT_PLOT, STRIPS
from trials.layout.plan import TrialPlan
from trials.layout.soundness import CALLED, require_sound
from trials.layout.squares import LATIN_SQUARE, ROW_COLUMN
from trials.layout.walk import Place, Spot, capacities, places
from trials.stats.results import LayoutKind

KINDS: Mapping[LayoutKind, Kind] = {
    LayoutKind.COMPLETELY_RANDOMISED: COMPLETELY_RANDOMISED,
    LayoutKind.COMPLETE_BLOCKS: COMPLETE_BLOCKS,
    LayoutKind.LATIN_SQUARE: LATIN_SQUARE,
    LayoutKind.ROW_COLUMN: ROW_COLUMN,
    LayoutKind.INCOMPLETE_BLOCKS: INCOMPLETE_BLOCKS,
    LayoutKind.AUGMENTED_BLOCKS: AUGMENTED_BLOCKS,
    LayoutKind.SPLIT_PLOT: SPLIT_PLOT,
    LayoutKind.SPLIT_SPLIT_PLOT: SPLIT_PLOT,
    LayoutKind.STRIPS: STRIPS,
}


@dataclass(frozen=True, slots=True)
class Fitted:
    """A plan's plots with their ground, before any treatment is drawn."""

    spots: tuple[Spot, ...]
    places: tuple[Place, ...]
    ground: PlotGround


def fitted(plan: TrialPlan) -> Fitted:
    """The plan's plots on its beds.

    Raises
    ------
    PlanRefused
        The plan's parts do not agree, or the beds do not hold its plots.
    """
    require_sound(plan)
    spots = KINDS[plan.kind].spots(plan)
    ground = plot_ground(plan)
    found = places(spots, capacities(plan.beds, ground.length_m))
    if found is None:
        raise PlanRefused(f"{_lacking(plan, spots, ground)} {_what_would(plan)}")
    return Fitted(spots, found, ground)


def fits(plan: TrialPlan) -> bool:
    """Whether ``fitted`` would not refuse."""
    try:
        fitted_spots = KINDS[plan.kind].spots(plan)
    except PlanRefused:
        return False
    room = capacities(plan.beds, plot_ground(plan).length_m)
    return places(fitted_spots, room) is not None


def _lacking(plan: TrialPlan, spots: tuple[Spot, ...], ground: PlotGround) -> str:
    there = sum(bed.length_m for bed in plan.beds)
    each = f"{len(spots)} plots of {ground.length_m:.4g} m"
    if any(spot.across is not None for spot in spots):
        wide = 1 + max(spot.across or 0 for spot in spots)
        deep = 1 + max(spot.along for spot in spots)
        groups = 1 + max(spot.rectangle for spot in spots)
        times = "" if groups == 1 else f", {groups} times"
        return (
            f"For {CALLED[plan.kind]} {wide} beds side by side are needed, "
            f"{deep * ground.length_m:.4g} m of each{times}; the plan has {len(plan.beds)} beds "
            f"with {there:.4g} m in all."
        )
    needed = len(spots) * ground.length_m
    if needed > there:
        return f"{each} need {needed:.4g} m of bed; the beds have {there:.4g} m."
    whole = "whole plots" if spots[0].whole_plot is not None else "plots"
    return (
        f"{each} need {needed:.4g} m of bed, and the beds have {there:.4g} m, but no {whole} fit "
        "in what is left at their ends."
    )


def _what_would(plan: TrialPlan) -> str:
    """The nearest changes that fit, one of each sort, in words."""
    found = [
        text
        for text in (
            next((words(each) for each in changes(plan) if fits(each)), None)
            for changes, words in _CHANGES
        )
        if text is not None
    ]
    if found:
        return f"What would fit: {', or '.join(found)}."
    return "Neither fewer replicates nor smaller plots would fit: add bed, or grow fewer entries."


def _fewer_replicates(plan: TrialPlan) -> Iterator[TrialPlan]:
    for replicates in range(plan.replicates - 1, 1, -1):
        yield replace(plan, replicates=replicates)


def _smaller_plots(plan: TrialPlan) -> Iterator[TrialPlan]:
    rows = plan.planting.rows
    for ranks in range((plan.plants_per_plot - 1) // rows, 0, -1):
        yield replace(plan, plants_per_plot=ranks * rows)


def _in_blocks(plan: TrialPlan) -> Iterator[TrialPlan]:
    if plan.kind in (LayoutKind.LATIN_SQUARE, LayoutKind.ROW_COLUMN):
        yield replace(plan, kind=LayoutKind.COMPLETE_BLOCKS)


_CHANGES: tuple[
    tuple[Callable[[TrialPlan], Iterator[TrialPlan]], Callable[[TrialPlan], str]], ...
] = (
    (_in_blocks, lambda plan: f"complete blocks with {plan.replicates} replicates"),
    (_fewer_replicates, lambda plan: f"{plan.replicates} replicates"),
    (_smaller_plots, lambda plan: f"{plan.plants_per_plot} plants a plot"),
)
