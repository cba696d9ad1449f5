"""Layouts that fit the beds the farm has: what each takes in plots, plants, seed and bed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from itertools import product
from math import ceil, sqrt
from typing import TYPE_CHECKING

from trials.errors import PlanRefused
from trials.layout.designs.efficiency import efficiency_bound
from trials.layout.designs.incomplete import block_sizes
from trials.layout.designs.squares import best_shifts
from trials.layout.field.beds import STRAY, plot_ground
from trials.layout.fit_to_beds import fits, fitted
from trials.layout.plan import SPILLING, TrialPlan
from trials.layout.power.assumptions import Assumptions
from trials.layout.power.plot_size_variation import SizedSpread
from trials.layout.smaller_layouts import nearest_that_fit
from trials.layout.treatments import entry_factor
from trials.layout.validation import plot_treatments, require_sound
from trials.model.trial import AppliedTo
from trials.stats.results import LayoutKind
from trials.stats.what_was_tested import Levels

if TYPE_CHECKING:
    from trials.layout.power.detectable import Detectable

# 3 at least and 4 by default by judgement; 5 or 6 by "A Word About Statistics", Special Circular
# 166-99 of the Ohio State University Extension.
REPLICATES = (3, 4, 5, 6)
FEWEST = 2  # proposed only where no more fit
# With fewer entries complete blocks are short enough to be even ground.
MANY_ENTRIES = 9
MOST_IN_SQUARE = 8
SMALLER = (2 / 3, 1 / 2)  # shares of the written plants a plot, for more plots on the same bed
# Harder to change from plot to plot, so they are offered on larger ground first.
_ON_LARGER_GROUND = (*SPILLING, "pinch", "cover", "sowing")


class Way(StrEnum):
    """What a proposal changes in the plan as it is written."""

    AS_WRITTEN = "as written"
    REPLICATES = "other replicates"
    SMALLER_PLOTS = "smaller plots, more of them"
    OTHER_BLOCKS = "other blocks"
    SPLIT_PLOTS = "split plots"


@dataclass(frozen=True, slots=True)
class SeedRates:
    """Shares from seed to plant; ``germination`` gives an entry's own rate, else ``assumed``.

    ``usable`` seedlings of those germinated, and ``overage`` sown on top. Packets germinate at 70
    to 95 %, and 10 to 25 % more are sown (common practice).
    """

    germination: Mapping[str, float] = field(default_factory=dict)
    assumed: float = 0.75
    usable: float = 0.90
    overage: float = 0.10

    def seeds(self, entry: str, plants: int) -> int:
        """Seeds to sow for so many plants to set out, rounded up."""
        share = self.germination.get(entry, self.assumed) * self.usable
        return ceil(plants / share * (1 + self.overage) - STRAY)


@dataclass(frozen=True, slots=True)
class EntryNeeds:
    """What one variety takes; ``plants`` with the guards, which are of the plot's own variety."""

    entry: str
    plots: int
    plants: int
    seeds: int


@dataclass(frozen=True, slots=True)
class Proposal:
    """A plan that fits, ready for ``lay_out``, and what it takes.

    ``way`` is what it changes. ``plants_set`` are net, ``guards_set`` beside them. ``bed_m`` is
    the length of bed under plots, of ``bed_m_there``. ``efficiency`` of incomplete blocks is the
    most those blocks can reach, of rows and columns what they do reach; None for other layouts.
    ``tells`` is what the plan can tell, empty where no spread was given. One spread serves every
    kind, so what smaller blocks gain on uneven ground is not in it, only what they cost.
    """

    way: Way
    plan: TrialPlan
    plots: int
    plants_set: int
    guards_set: int
    plants: int
    seeds: int
    entries: tuple[EntryNeeds, ...]
    bed_m: float
    bed_m_there: float
    picking_hours_per_week: float
    efficiency: float | None = None
    tells: tuple[Detectable, ...] = ()


def proposals(
    plan: TrialPlan,
    spread: SizedSpread | None = None,
    rates: SeedRates | None = None,
    assumed: Assumptions | None = None,
) -> tuple[Proposal, ...]:
    """The layouts of the plan's question that fit its beds, the plan as written first if it fits.

    Then its own kind with 3 to 6 replicates, with smaller plots and more of them, the other kinds
    of blocks that suit, and, where plots carry several factors, split plots. 2 replicates only
    where no more fit, or as written. Where the plan as written does not fit, the nearest changes
    that do are among them.
    ``spread`` says how much plots differ, for what each can tell.

    Raises
    ------
    PlanRefused
        Nothing fits; the text is that of the plan itself.
    """
    _require_sound_of_some_kind(plan)
    wanted = _that_hold(plan, REPLICATES)
    if all(each.replicates <= FEWEST for _, each in wanted):
        wanted += _that_hold(plan, (FEWEST,))
    found: dict[TrialPlan, Way] = {}
    for way, each in wanted:
        found.setdefault(each, way)
    if not fits(plan):
        own = with_block_size(replace(plan, kind=_kinds(plan)[0]))
        # The refusal of the plan as written names the first of these.
        nearest = nearest_that_fit(plan, fits) or (() if found else nearest_that_fit(own, fits))
        for each in nearest:
            found.setdefault(each, _way(plan, each))
    if not found:
        fitted(plan)
        raise PlanRefused("No layout of this plan fits the beds. Add bed, or grow fewer entries.")
    rates, assumed = rates or SeedRates(), assumed or Assumptions()
    return tuple(proposal(each, way, spread, rates, assumed) for each, way in found.items())


def _way(plan: TrialPlan, changed: TrialPlan) -> Way:
    if changed.kind is not plan.kind:
        return Way.OTHER_BLOCKS
    fewer = changed.plants_per_plot < plan.plants_per_plot
    return Way.SMALLER_PLOTS if fewer else Way.REPLICATES


def _require_sound_of_some_kind(plan: TrialPlan) -> None:
    """Faults of the plan are refused; a kind that does not suit its factors is only left out."""
    require_sound(replace(plan, kind=_kinds(plan)[0], replicates=max(plan.replicates, FEWEST)))


def _that_hold(plan: TrialPlan, replicates: tuple[int, ...]) -> list[tuple[Way, TrialPlan]]:
    return [(way, each) for way, each in _variants(plan, replicates) if fits(each)]


# --- which plans to try -----------------------------------------------------------------------


def _variants(plan: TrialPlan, replicates: tuple[int, ...]) -> Iterator[tuple[Way, TrialPlan]]:
    kinds = _kinds(plan)
    own = with_block_size(replace(plan, kind=kinds[0]))
    yield Way.AS_WRITTEN, plan
    if plan.kind is not LayoutKind.LATIN_SQUARE:
        for number in replicates:
            yield Way.REPLICATES, replace(own, replicates=number)
        yield from _smaller_plots(own, max(replicates))
    wanted = plan.replicates if plan.replicates in replicates else replicates[0]
    for kind in kinds[1:]:
        number = plot_treatments(plan) if kind is LayoutKind.LATIN_SQUARE else wanted
        yield Way.OTHER_BLOCKS, with_block_size(replace(plan, kind=kind, replicates=number))
    yield from _split(plan, wanted)


def _smaller_plots(plan: TrialPlan, most: int) -> Iterator[tuple[Way, TrialPlan]]:
    """Plots of fewer plants, each with the most replicates the beds then hold."""
    rows = plan.planting.rows
    written = ceil(plan.plants_per_plot / rows)
    for share in SMALLER:
        plants = max(round(written * share), 1) * rows
        if plants >= plan.plants_per_plot:
            continue
        tried = (
            replace(plan, plants_per_plot=plants, replicates=number)
            for number in range(most, FEWEST, -1)
        )
        fitting = next((each for each in tried if fits(each)), None)
        if fitting is not None:
            yield Way.SMALLER_PLOTS, fitting


def _split(plan: TrialPlan, replicates: int) -> Iterator[tuple[Way, TrialPlan]]:
    """A factor on whole plots, the others inside: for plots that carry several factors."""
    several = [factor for factor in plan.factors if factor.applied_to is AppliedTo.PLOT]
    if len(several) < 2 or len(several) < len(plan.factors):
        return
    others = [factor for factor in several if factor is not entry_factor(plan)]
    whole = next((f for f in others if f.name in _ON_LARGER_GROUND), others[0])
    factors = tuple(
        replace(factor, applied_to=AppliedTo.WHOLE_PLOT) if factor is whole else factor
        for factor in plan.factors
    )
    split = replace(plan, kind=LayoutKind.SPLIT_PLOT, factors=factors, block_size=None)
    yield Way.SPLIT_PLOTS, replace(split, replicates=replicates)


def _kinds(plan: TrialPlan) -> tuple[LayoutKind, ...]:
    """Kinds that suit the ground the factors are given to, the plan's own first."""
    units = {factor.applied_to for factor in plan.factors}
    if AppliedTo.STRIP in units:
        return (LayoutKind.STRIPS,)
    if AppliedTo.SPLIT_PLOT in units:
        return (LayoutKind.SPLIT_SPLIT_PLOT,)
    if AppliedTo.WHOLE_PLOT in units:
        return (LayoutKind.SPLIT_PLOT,)
    treatments = plot_treatments(plan)
    suiting = [LayoutKind.COMPLETE_BLOCKS]
    if treatments <= MOST_IN_SQUARE:
        suiting.append(LayoutKind.LATIN_SQUARE)
    suiting.append(LayoutKind.ROW_COLUMN)
    if treatments >= MANY_ENTRIES:
        suiting.append(LayoutKind.INCOMPLETE_BLOCKS)
    if len(plan.checks) > 1 and treatments >= MANY_ENTRIES:
        suiting.append(LayoutKind.AUGMENTED_BLOCKS)
    own = [] if plan.kind is LayoutKind.SIDE_BY_SIDE else [plan.kind]
    return tuple(dict.fromkeys((*own, *suiting)))


def with_block_size(plan: TrialPlan) -> TrialPlan:
    """Incomplete blocks of the written size, or of about the root of the entries; others none."""
    if plan.kind is LayoutKind.INCOMPLETE_BLOCKS:
        return replace(plan, block_size=plan.block_size or _usual_block(plot_treatments(plan)))
    return plan if plan.kind is LayoutKind.AUGMENTED_BLOCKS else replace(plan, block_size=None)


def _usual_block(treatments: int) -> int:
    """About the root, and the nearest size that leaves no plot alone in a block."""
    root = max(2, round(sqrt(treatments)))
    return next(
        size for size in (root, root + 1, root + 2) if block_sizes(treatments, size)[-1] > 1
    )


# --- what each takes --------------------------------------------------------------------------


def proposal(
    plan: TrialPlan,
    way: Way,
    spread: SizedSpread | None,
    rates: SeedRates,
    assumed: Assumptions,
) -> Proposal:
    """What one plan takes and can tell; whether it fits is not asked."""
    entries = entry_factor(plan).name
    plots: dict[str, int] = {}
    plants: dict[str, int] = {}
    net = guards = 0
    for levels, times in _treatments_with_plots(plan):
        entry, ground = dict(levels)[entries], plot_ground(plan, levels)
        plots[entry] = plots.get(entry, 0) + times
        each = ground.plants_set + ground.guards_set
        plants[entry] = plants.get(entry, 0) + times * each
        net += times * ground.plants_set
        guards += times * ground.guards_set
    needs = tuple(
        EntryNeeds(entry, plots[entry], plants[entry], rates.seeds(entry, plants[entry]))
        for entry in plots
    )
    total = sum(plots.values())
    efficiency = _efficiency(plan)
    return Proposal(
        way,
        plan,
        total,
        net,
        guards,
        net + guards,
        sum(entry.seeds for entry in needs),
        needs,
        round(total * plot_ground(plan).length_m, 6),
        sum(bed.length_m for bed in plan.beds),
        assumed.hours_per_week(plan.crop, total, net),
        efficiency,
        () if spread is None else told(plan, spread, efficiency),
    )


def _treatments_with_plots(plan: TrialPlan) -> Iterator[tuple[Levels, int]]:
    augmented = plan.kind is LayoutKind.AUGMENTED_BLOCKS
    for levels in product(*([(f.name, level) for level in f.levels] for f in plan.factors)):
        once = augmented and levels[0][1] not in plan.checks
        yield levels, 1 if once else plan.replicates


def _efficiency(plan: TrialPlan) -> float | None:
    treatments = plot_treatments(plan)
    if plan.kind is LayoutKind.ROW_COLUMN:
        return best_shifts(treatments, plan.replicates)[1]
    if plan.kind is LayoutKind.INCOMPLETE_BLOCKS and plan.block_size is not None:
        sizes = block_sizes(treatments, plan.block_size)
        return efficiency_bound(treatments, plan.replicates, sizes)
    return None


def told(plan: TrialPlan, spread: SizedSpread, efficiency: float | None) -> tuple[Detectable, ...]:
    """What the plan can tell with plots of its size."""
    from trials.layout.power.detectable import detectable

    return detectable(plan, spread.at(plan.plants_per_plot), efficiency=efficiency)
