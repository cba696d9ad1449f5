"""Layouts whose plots stand in a run along the walk: without blocks, or in blocks of any kind."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from trials.errors import PlanRefused
from trials.layout.designs.incomplete import block_sizes, incomplete_blocks
from trials.layout.designs.orders import DRAWS, neighbour_score, ordered
from trials.layout.designs.random_numbers import Lot
from trials.layout.designs.randomised import Drawn, Kind
from trials.layout.field.plot_order import Spot
from trials.layout.plan import TrialPlan
from trials.layout.treatments import entry_factor, lettered, treatments_on
from trials.model.trial import AppliedTo
from trials.stats.what_was_tested import Levels

# --- completely randomised --------------------------------------------------------------------


def _plots(plan: TrialPlan) -> tuple[Spot, ...]:
    return (Spot(),) * (plan.replicates * len(_treatments(plan)))


def _without_blocks(plan: TrialPlan, spots: Sequence[Spot], lot: Lot) -> Drawn:
    """Every order of all plots may fall; of several lots the one with the freshest neighbours."""
    treatments = _treatments(plan)
    plots = list(range(len(treatments))) * plan.replicates
    walks = (lot.shuffled(plots) for _ in range(DRAWS))
    # In runs of one plot only what stands side by side makes a difference to the score.
    walk = min(walks, key=lambda each: neighbour_score([[plot] for plot in each]))
    return Drawn(tuple(treatments[number] for number in walk))


# --- complete blocks --------------------------------------------------------------------------


def _complete(plan: TrialPlan) -> tuple[Spot, ...]:
    return tuple(
        Spot(block=str(block + 1)) for block in range(plan.replicates) for _ in _treatments(plan)
    )


def _complete_blocks(plan: TrialPlan, spots: Sequence[Spot], lot: Lot) -> Drawn:
    treatments = _treatments(plan)
    runs = ordered(lot, [range(len(treatments))] * plan.replicates)
    return Drawn(tuple(treatments[number] for run in runs for number in run))


# --- incomplete blocks ------------------------------------------------------------------------


def _incomplete(plan: TrialPlan) -> tuple[Spot, ...]:
    sizes = block_sizes(len(_treatments(plan)), _block_size(plan))
    return tuple(
        Spot(block=str(replicate + 1), incomplete_block=f"{replicate + 1}{lettered(block)}")
        for replicate in range(plan.replicates)
        for block, size in enumerate(sizes)
        for _ in range(size)
    )


def _block_size(plan: TrialPlan) -> int:
    count, size = len(_treatments(plan)), plan.block_size
    advised = max(2, round(count**0.5))
    if count < 4:
        raise PlanRefused(
            f"{count} treatments are too few for incomplete blocks. Use complete blocks."
        )
    if size is None:
        raise PlanRefused(
            f"Incomplete blocks need a block size. For {count} treatments about {advised} plots "
            "per block work well."
        )
    if size < 2:
        raise PlanRefused(
            f"A block of {size} plot has nothing to compare. Use blocks of 2 or more; for {count} "
            f"treatments about {advised} work well."
        )
    if size >= count:
        raise PlanRefused(
            f"Blocks of {size} plots have room for all {count} treatments. Use complete blocks, or "
            f"blocks of fewer than {count} plots, about {advised}."
        )
    if block_sizes(count, size)[-1] < 2:
        raise PlanRefused(
            f"{count} treatments in blocks of {size} leave one plot alone in its block. Use "
            f"blocks of {size + 1}."
        )
    return size


def _incomplete_blocks(plan: TrialPlan, spots: Sequence[Spot], lot: Lot) -> Drawn:
    """Replicates, blocks of one size, varieties and the plots of a block each fall by lot."""
    treatments = _treatments(plan)
    design = incomplete_blocks(len(treatments), plan.replicates, _block_size(plan))
    if not design.efficiency > 0:
        raise PlanRefused(
            f"{plan.replicates} replicates in blocks of {_block_size(plan)} do not link all "
            f"{len(treatments)} treatments. Add a replicate, or use larger blocks."
        )
    names = lot.shuffled(treatments)
    runs: list[tuple[int, ...]] = []
    for replicate in lot.shuffled(design.replicates):
        for _, alike in groupby(replicate, key=len):
            runs += lot.shuffled(alike)
    walk = ordered(lot, runs)
    return Drawn(
        tuple(names[number] for run in walk for number in run), design.efficiency, design.bound
    )


# --- augmented blocks -------------------------------------------------------------------------


def _augmented(plan: TrialPlan) -> tuple[Spot, ...]:
    return tuple(
        Spot(block=str(block + 1))
        for block, size in enumerate(_augmented_sizes(plan))
        for _ in range(size)
    )


def _augmented_sizes(plan: TrialPlan) -> list[int]:
    """Plots of each block: all checks, and the new entries shared evenly, more of them first."""
    checks, blocks = len(plan.checks), plan.replicates
    if len(plan.factors) > 1:
        raise PlanRefused(
            "Augmented blocks compare entries only. Leave only the factor that names them, or use "
            "complete blocks."
        )
    if checks < 2:
        raise PlanRefused(
            f"In augmented blocks the error is estimated from the checks only, and {checks} "
            "is too few. Name at least 2 checks; 3 in 5 blocks work well."
        )
    new = len(plan.factors[0].levels) - checks
    if new < blocks:
        raise PlanRefused(
            f"{new} new entries are too few for {blocks} blocks. Use {max(new, 2)} blocks, or "
            "complete blocks, where every entry is repeated."
        )
    each, over = divmod(new, blocks)
    sizes = [checks + each + (block < over) for block in range(blocks)]
    if plan.block_size is not None and sizes[0] > plan.block_size:
        fewest = -(-new // max(plan.block_size - checks, 1))
        raise PlanRefused(
            f"Blocks of {plan.block_size} plots are too small for {new} new entries and {checks} "
            f"checks in {blocks} blocks, which need {sizes[0]}. Use {fewest} blocks, or larger "
            "ones."
        )
    return sizes


def _augmented_blocks(plan: TrialPlan, spots: Sequence[Spot], lot: Lot) -> Drawn:
    """New entries over all blocks by lot; checks one to each equal stretch of a block."""
    factor = entry_factor(plan)
    checks = len(plan.checks)
    new = lot.shuffled(entry for entry in factor.levels if entry not in plan.checks)
    names = [*plan.checks, *new]
    runs, taken = [], checks
    for size in _augmented_sizes(plan):
        fresh = size - checks
        runs.append([*range(checks), *range(taken, taken + fresh)])
        taken += fresh

    def spread(lot: Lot, run: Sequence[int]) -> list[int]:
        others = lot.shuffled(run[checks:])
        order = []
        for turn, check in enumerate(lot.shuffled(run[:checks])):
            start, end = (len(run) * t // checks for t in (turn, turn + 1))
            at = start + lot.below(end - start)
            order += [check if place == at else others.pop() for place in range(start, end)]
        return order

    walk = ordered(lot, runs, spread)
    return Drawn(tuple(((factor.name, names[number]),) for run in walk for number in run))


def _treatments(plan: TrialPlan) -> tuple[Levels, ...]:
    return treatments_on(plan, AppliedTo.PLOT)


COMPLETELY_RANDOMISED = Kind(_plots, _without_blocks)
COMPLETE_BLOCKS = Kind(_complete, _complete_blocks)
INCOMPLETE_BLOCKS = Kind(_incomplete, _incomplete_blocks)
AUGMENTED_BLOCKS = Kind(_augmented, _augmented_blocks)
