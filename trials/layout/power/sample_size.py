"""A wanted difference against the beds: what the plan can tell, and what the wish would take."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from trials.errors import PlanRefused
from trials.layout.field.beds import plot_ground
from trials.layout.fit_to_beds import fits
from trials.layout.plan import TrialPlan
from trials.layout.power.detectable import (
    Detectable,
    ReplicatesNeeded,
    Wanted,
    replicates_needed,
)
from trials.layout.power.differences import Between
from trials.layout.power.plot_size import PlantsChoice, plants_against_plots
from trials.layout.power.plot_size_variation import SizedSpread
from trials.layout.power.power import Family, joint_power
from trials.layout.proposals import Proposal, with_block_size
from trials.layout.treatments import entry_factor
from trials.layout.validation import plot_treatments
from trials.stats.results import LayoutKind

MOST_PLANTS = 60


@dataclass(frozen=True, slots=True)
class OnTheBeds:
    """Plots of one size, as many of each treatment as the beds hold, and what those find."""

    plants_per_plot: int
    replicates: int
    found_percent: float | None
    chance: float | None


@dataclass(frozen=True, slots=True)
class Possible:
    """What is possible where a difference is wanted.

    ``needs`` has what the plan as written finds, and the replicates the wish takes. ``fits`` says
    whether those fit the beds; ``bed_m_needed`` is their length of bed, None where no number is
    enough. ``most_here`` are the most replicates of the written size that the beds hold.
    ``best_here`` are plots of the best size for the same bed, None where that is no better.
    ``weighing`` is plants against plots on one treatment's share of the beds, the best first;
    empty where treatments are not all repeated alike. ``joint_chance`` is
    the chance that the test of all entries together notices two that are the wanted difference
    apart, the others midway; None where the plan can judge nothing.
    """

    needs: ReplicatesNeeded
    fits: bool
    bed_m_needed: float | None
    bed_m_there: float
    most_here: OnTheBeds | None
    best_here: OnTheBeds | None
    weighing: tuple[PlantsChoice, ...]
    joint_chance: float | None


def family_of(plan: TrialPlan, asked: Family | None = None) -> Family:
    """The family a plan is judged by: the one asked for, with the check, or all pairs.

    Refuses (PlanRefused) comparisons with a check that the plan does not name.
    """
    if asked is Family.WITH_CHECK and not plan.checks:
        raise PlanRefused(
            "The plan compares with the check and names none. Name it in checks, or write "
            f"family = {Family.ALL_PAIRS.value!r}."
        )
    if asked is not None:
        return asked
    return Family.WITH_CHECK if plan.checks else Family.ALL_PAIRS


def wanted_of(plan: TrialPlan, percent: float, chance: float, family: Family) -> Wanted:
    """A difference wanted between two of the plan's varieties."""
    between = None
    if plan.kind is LayoutKind.AUGMENTED_BLOCKS:
        between = Between.ENTRY_AND_CHECK if family is Family.WITH_CHECK else None
        between = between or Between.DIFFERENT_BLOCKS
    return Wanted(percent, chance, family, entry_factor(plan).name, (), between)


def headline(plan: TrialPlan, tells: Sequence[Detectable]) -> Detectable | None:
    """The row that says most of a plan: varieties by themselves, a new entry with a check."""
    name = entry_factor(plan).name
    rows = [row for row in tells if row.difference.comparing == name and not row.difference.within]
    best = (Between.ANY, Between.ENTRY_AND_CHECK)
    return next((row for row in rows if row.difference.between in best), next(iter(rows), None))


def possible(
    plan: TrialPlan,
    spread: SizedSpread,
    wanted: Wanted,
    offered: Sequence[Proposal] = (),
) -> Possible:
    """What ``wanted`` takes, what the beds hold of it, and what is possible instead.

    Nothing impossible is refused. ``offered`` are the proposals that fit: their efficiency is
    used where the plan's own blocks are incomplete.
    """
    efficiency = next((p.efficiency for p in offered if p.plan.kind is plan.kind), None)
    here = _that_can_be(plan)
    needs = replicates_needed(here, spread.at(plan.plants_per_plot), wanted, efficiency)
    there = sum(bed.length_m for bed in plan.beds)
    most = _most_that_fit(here)
    return Possible(
        needs,
        needs.needed is not None and fits(replace(here, replicates=needs.needed)),
        None if needs.needed is None else _bed_m(replace(here, replicates=needs.needed)),
        there,
        None if most is None else _on_beds(most, spread, wanted, efficiency),
        *_smaller_or_larger(here, most, spread, wanted, efficiency),
        _joint_chance(here, spread, wanted, efficiency),
    )


def _that_can_be(plan: TrialPlan) -> TrialPlan:
    """The plan, or the nearest to it that figures exist for."""
    if plan.kind is LayoutKind.SIDE_BY_SIDE:
        return replace(plan, kind=LayoutKind.COMPLETE_BLOCKS)
    size = plot_treatments(plan)
    if plan.kind is LayoutKind.LATIN_SQUARE and plan.replicates % size:
        return replace(plan, replicates=size)
    return with_block_size(plan)


def _bed_m(plan: TrialPlan) -> float:
    plots = plan.replicates * plots_a_replicate(plan)
    if plan.kind is LayoutKind.AUGMENTED_BLOCKS:
        new = len(entry_factor(plan).levels) - len(plan.checks)
        plots = new + plan.replicates * len(plan.checks)
    return round(plots * plot_ground(plan).length_m, 6)


def plots_a_replicate(plan: TrialPlan) -> int:
    """How many plots a replicate has: every combination of levels."""
    count = 1
    for factor in plan.factors:
        count *= len(factor.levels)
    return count


def _most_that_fit(plan: TrialPlan) -> TrialPlan | None:
    """The plan with the most replicates its beds hold."""
    step = plot_treatments(plan) if plan.kind is LayoutKind.LATIN_SQUARE else 1
    best = None
    for replicates in range(max(2, step), 61, step):
        tried = replace(plan, replicates=replicates)
        if fits(tried):
            best = tried
        elif best is not None:
            break
    return best


def _on_beds(
    plan: TrialPlan, spread: SizedSpread, wanted: Wanted, efficiency: float | None
) -> OnTheBeds:
    figures = replicates_needed(
        plan, spread.at(plan.plants_per_plot), wanted, efficiency, most=plan.replicates
    )
    return OnTheBeds(plan.plants_per_plot, plan.replicates, figures.found_percent, figures.chance)


def _smaller_or_larger(
    plan: TrialPlan,
    most: TrialPlan | None,
    spread: SizedSpread,
    wanted: Wanted,
    efficiency: float | None,
) -> tuple[OnTheBeds | None, tuple[PlantsChoice, ...]]:
    """Plots of the best size for a treatment's share of the beds, and how sizes compare."""
    every_treatment_repeated = plan.kind not in (
        LayoutKind.AUGMENTED_BLOCKS,
        LayoutKind.LATIN_SQUARE,
    )
    if not every_treatment_repeated:
        return None, ()
    ground, rows = plot_ground(plan), plan.planting.rows
    spacing_m = plan.planting.spacing_cm / 100
    weighing = plants_against_plots(
        lambda plants: spread.at(plants).cv_percent,
        # Without guards a plot still costs the gap that tells it from the next.
        plot_cost=2 * ground.guard_length_m or spacing_m,
        plant_cost=spacing_m / rows,
        cost=sum(bed.length_m for bed in plan.beds) / plots_a_replicate(plan),
        most_plants=MOST_PLANTS,
    )
    for choice in (each for each in weighing if each.plants_per_plot % rows == 0):
        fitting = _most_that_fit(replace(plan, plants_per_plot=choice.plants_per_plot))
        if fitting is not None:
            found = _on_beds(fitting, spread, wanted, efficiency)
            now = None if most is None else _on_beds(most, spread, wanted, efficiency)
            better = now is None or (found.chance or 0.0) > (now.chance or 0.0)
            return (found if better else None), weighing
    return None, weighing


def _joint_chance(
    plan: TrialPlan, spread: SizedSpread, wanted: Wanted, efficiency: float | None
) -> float | None:
    from trials.layout.power.detectable import detectable

    if plan.replicates < 2:
        return None
    rows = detectable(plan, spread.at(plan.plants_per_plot), efficiency=efficiency)
    row = headline(plan, rows)
    if row is None or row.joint_percent is None:
        return None
    it, half = row.difference, wanted.difference_percent / 2
    pattern = [-half, *[0.0] * (it.levels - 2), half]
    return joint_power(pattern, it.sed_percent, it.df, plan.alpha)
