"""Whether a plan's plots fit the beds the farm has."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from trials.errors import PlanRefused
from trials.layout.designs.blocks import (
    AUGMENTED_BLOCKS,
    COMPLETE_BLOCKS,
    COMPLETELY_RANDOMISED,
    INCOMPLETE_BLOCKS,
)
from trials.layout.designs.randomised import Kind
from trials.layout.designs.split_and_strip import SPLIT_PLOT, STRIPS
from trials.layout.designs.squares import LATIN_SQUARE, ROW_COLUMN
from trials.layout.field.beds import PlotGround, plot_ground
from trials.layout.field.plot_order import Place, Spot, capacities, places
from trials.layout.plan import TrialPlan
from trials.layout.smaller_layouts import what_would_fit
from trials.layout.validation import CALLED, require_sound
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
        raise PlanRefused(f"{_lacking(plan, spots, ground)} {what_would_fit(plan, fits)}")
    return Fitted(spots, found, ground)


def fits(plan: TrialPlan) -> bool:
    """Whether ``fitted`` would not refuse."""
    try:
        require_sound(plan)
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
