"""Layouts that fit the beds the farm has: what each takes in plots, plants, seed and bed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import product
from math import ceil
from typing import TYPE_CHECKING

from trials.errors import PlanRefused
from trials.layout.beds import STRAY, plot_ground
from trials.layout.efficiency import efficiency_bound
from trials.layout.fitting import fits, fitted
from trials.layout.incomplete import block_sizes
from trials.layout.plan import TrialPlan
from trials.layout.soundness import plot_treatments, require_sound
from trials.layout.squares import best_shifts
from trials.layout.treatments import entry_factor
from trials.model import AppliedTo
from trials.stats.results import LayoutKind, Levels

if TYPE_CHECKING:
    from trials.layout.detectable import Detectable
    from trials.layout.spread import Spread

REPLICATES = (
    3,
    4,
    5,
    6,
)  # 3 at least, 4 by default, 5 to 6 advised on farms (Ohio State Extension)
FEWEST = 2  # proposed only where no more fit
# With fewer entries complete blocks are short enough to be even ground.
MANY_ENTRIES = 9
MOST_IN_SQUARE = 8


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

    ``plants_set`` are net, ``guards_set`` beside them. ``bed_m`` is the length of bed under plots,
    of ``bed_m_there``. ``efficiency`` of incomplete blocks is the most those blocks can reach, of
    rows and columns what they do reach; None for other layouts. ``tells`` is what the plan can
    tell, empty where no spread was given. One spread serves every kind, so what smaller blocks
    gain on uneven ground is not in it, only what they cost.
    """

    plan: TrialPlan
    plots: int
    plants_set: int
    guards_set: int
    entries: tuple[EntryNeeds, ...]
    bed_m: float
    bed_m_there: float
    efficiency: float | None = None
    tells: tuple[Detectable, ...] = ()

    @property
    def plants(self) -> int:
        """All plants, guards included."""
        return self.plants_set + self.guards_set

    @property
    def seeds(self) -> int:
        return sum(entry.seeds for entry in self.entries)


def proposals(
    plan: TrialPlan, spread: Spread | None = None, rates: SeedRates | None = None
) -> tuple[Proposal, ...]:
    """The layouts of the plan's question that fit its beds, its own kind first.

    Kinds that suit the factors are tried with 3 to 6 replicates and the plan's own number; with 2
    only where no more fit. ``spread`` says how much plots differ, for what each can tell.

    Raises
    ------
    PlanRefused
        Nothing fits; the text is that of the plan itself.
    """
    _require_sound_of_some_kind(plan)
    wanted = [each for each in _variants(plan, (*REPLICATES, plan.replicates)) if _holds(each)]
    if not wanted:
        wanted = [each for each in _variants(plan, (FEWEST,)) if _holds(each)]
    if not wanted:
        fitted(plan)
        raise PlanRefused("No layout of this plan fits the beds. Add bed, or grow fewer entries.")
    return tuple(_proposal(each, spread, rates or SeedRates()) for each in wanted)


def _require_sound_of_some_kind(plan: TrialPlan) -> None:
    """Faults of the plan are refused; a kind that does not suit its factors is only left out."""
    require_sound(replace(plan, kind=_kinds(plan)[0], replicates=max(plan.replicates, FEWEST)))


def _holds(plan: TrialPlan) -> bool:
    try:
        require_sound(plan)
    except PlanRefused:
        return False
    return fits(plan)


# --- which plans to try -----------------------------------------------------------------------


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


def _variants(plan: TrialPlan, replicates: tuple[int, ...]) -> Iterator[TrialPlan]:
    treatments = plot_treatments(plan)
    for kind in _kinds(plan):
        numbers = sorted({*replicates} - {1, 0})
        if kind is LayoutKind.LATIN_SQUARE:
            numbers = [treatments]
        for number in numbers:
            for size in _block_sizes(plan, kind, treatments):
                yield replace(plan, kind=kind, replicates=number, block_size=size)


def _block_sizes(plan: TrialPlan, kind: LayoutKind, treatments: int) -> tuple[int | None, ...]:
    if kind is not LayoutKind.INCOMPLETE_BLOCKS:
        return (None,)
    return (max(2, round(treatments**0.5)) if plan.block_size is None else plan.block_size,)


# --- what each takes --------------------------------------------------------------------------


def _proposal(plan: TrialPlan, spread: Spread | None, rates: SeedRates) -> Proposal:
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
    efficiency = _efficiency(plan)
    return Proposal(
        plan,
        sum(plots.values()),
        net,
        guards,
        tuple(
            EntryNeeds(entry, plots[entry], plants[entry], rates.seeds(entry, plants[entry]))
            for entry in plots
        ),
        round(sum(plots.values()) * plot_ground(plan).length_m, 6),
        sum(bed.length_m for bed in plan.beds),
        efficiency,
        () if spread is None else _told(plan, spread, efficiency),
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


def _told(plan: TrialPlan, spread: Spread, efficiency: float | None) -> tuple[Detectable, ...]:
    from trials.layout.detectable import detectable

    return detectable(plan, spread, efficiency=efficiency)
