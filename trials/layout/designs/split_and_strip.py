"""Layouts with units larger than the plot: whole plots, split plots in them, crossing strips."""

from __future__ import annotations

from collections.abc import Sequence

from trials.errors import PlanRefused
from trials.layout.designs.orders import ordered
from trials.layout.designs.random_numbers import Lot
from trials.layout.designs.randomised import Drawn, Kind
from trials.layout.field.plot_order import Spot
from trials.layout.plan import TrialPlan
from trials.layout.treatments import factors_on, joined, lettered, treatment_count, treatments_on
from trials.model.trial import AppliedTo, Factor
from trials.stats.what_was_tested import Levels

# --- whole plots, split plots, plots ----------------------------------------------------------


def _whole_plots(plan: TrialPlan) -> tuple[Spot, ...]:
    """Block by block, whole plots side by side along the bed, split plots and plots inside."""
    wholes, splits, plots = _counts(plan)
    has_splits = bool(factors_on(plan, AppliedTo.SPLIT_PLOT))
    return tuple(
        Spot(
            block=str(block + 1),
            whole_plot=f"{block + 1}{lettered(whole)}",
            split_plot=f"{block + 1}{lettered(whole)}{split + 1}" if has_splits else None,
        )
        for block in range(plan.replicates)
        for whole in range(wholes)
        for split in range(splits)
        for _ in range(plots)
    )


def _in_whole_plots(plan: TrialPlan, spots: Sequence[Spot], lot: Lot) -> Drawn:
    """Whole plots by lot in each block, split plots in each whole plot, plots in each of those."""
    wholes, splits, plots = _counts(plan)
    blocks = plan.replicates
    on_whole = treatments_on(plan, AppliedTo.WHOLE_PLOT)
    on_split = treatments_on(plan, AppliedTo.SPLIT_PLOT)
    on_plot = treatments_on(plan, AppliedTo.PLOT)
    whole_order = ordered(lot, [range(wholes)] * blocks)
    split_order = ordered(lot, [range(splits)] * (blocks * wholes))
    plot_order = ordered(lot, [range(plots)] * (blocks * wholes * splits))
    levels: list[Levels] = []
    for block in range(blocks):
        for w, whole in enumerate(whole_order[block]):
            here = block * wholes + w
            for s, split in enumerate(split_order[here]):
                levels += [
                    joined(plan, (on_whole[whole], on_split[split], on_plot[plot]))
                    for plot in plot_order[here * splits + s]
                ]
    return Drawn(tuple(levels))


def _counts(plan: TrialPlan) -> tuple[int, int, int]:
    wholes, splits, plots = (
        treatment_count(plan, unit)
        for unit in (AppliedTo.WHOLE_PLOT, AppliedTo.SPLIT_PLOT, AppliedTo.PLOT)
    )
    return wholes, splits, plots


# --- strips crossing strips -------------------------------------------------------------------


def _crossing(plan: TrialPlan) -> tuple[Spot, ...]:
    """Blocks of beds side by side: one strip factor changes from bed to bed, the other along."""
    beds, along = strip_factors(plan)
    plots = treatment_count(plan, AppliedTo.PLOT)
    return tuple(
        Spot(
            block=str(block + 1),
            rectangle=block,
            across=bed,
            along=strip * plots + plot,
        )
        for block in range(plan.replicates)
        for bed in range(len(beds.levels))
        for strip in range(len(along.levels))
        for plot in range(plots)
    )


def _in_strips(plan: TrialPlan, spots: Sequence[Spot], lot: Lot) -> Drawn:
    """Both sets of strips by lot in each block, and the plots in each crossing."""
    beds, along = strip_factors(plan)
    on_plot = treatments_on(plan, AppliedTo.PLOT)
    blocks = plan.replicates
    bed_order = ordered(lot, [range(len(beds.levels))] * blocks)
    along_order = ordered(lot, [range(len(along.levels))] * blocks)
    crossings = blocks * len(beds.levels) * len(along.levels)
    plot_order = iter(ordered(lot, [range(len(on_plot))] * crossings))
    return Drawn(
        tuple(
            joined(
                plan,
                (
                    ((beds.name, beds.levels[bed]), (along.name, along.levels[strip])),
                    on_plot[plot],
                ),
            )
            for block in range(blocks)
            for bed in bed_order[block]
            for strip in along_order[block]
            for plot in next(plot_order)
        )
    )


def strip_factors(plan: TrialPlan) -> tuple[Factor, Factor]:
    """The factor that changes from bed to bed, and the one that changes along the beds.

    The first of the plan goes to the beds where there are enough, else the second.
    """
    strips = factors_on(plan, AppliedTo.STRIP)
    if len(strips) != 2:
        raise PlanRefused(
            f"Crossing strips take two factors, one each way; the plan gives {len(strips)} to "
            "strips. Give further factors to plots, or use a split-plot."
        )
    first, second = strips
    if len(first.levels) > len(plan.beds) >= len(second.levels):
        return second, first
    return first, second


SPLIT_PLOT = Kind(_whole_plots, _in_whole_plots)
STRIPS = Kind(_crossing, _in_strips)
