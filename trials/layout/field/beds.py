"""Bed arithmetic: how many plants really stand in a bed, and what the spacing formula says.

A bed holds whole plants in whole rows. The formula of one plant to each rectangle of spacings
covers ground without an edge; on a bed the two differ by its width and its ends, so both are given.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor

from trials.layout.plan import SPACING_UNIT_CM, Planting, TrialPlan
from trials.model.units import per_m_to_per_foot, per_sq_m_to_per_sq_foot
from trials.stats.what_was_tested import Levels

# Bed lengths are sums of spacings: what falls short of a whole plant by less is a whole plant.
STRAY = 1e-9


def plants_along(length_m: float, spacing_cm: float) -> int:
    """Plants that stand along one row of that length, each with its spacing to itself."""
    return floor(length_m * 100 / spacing_cm + STRAY)


def plants_in(length_m: float, planting: Planting) -> int:
    """Plants in a stretch of bed: rows x floor(length / spacing)."""
    return planting.rows * plants_along(length_m, planting.spacing_cm)


@dataclass(frozen=True, slots=True)
class Density:
    """Plants to ground, as counted on the bed and by the formula of the spacings.

    ``per_m_of_bed`` and ``per_m2_of_bed`` are of a long bed, paths left out. ``per_m2_by_formula``
    is 10,000 / (a x b) with both spacings in centimetres, 144 / (a x b) a square foot in inches.
    """

    per_m_of_bed: float
    per_m2_of_bed: float
    per_m2_by_formula: float

    @property
    def per_foot_of_bed(self) -> float:
        return per_m_to_per_foot(self.per_m_of_bed)

    @property
    def per_sq_foot_of_bed(self) -> float:
        return per_sq_m_to_per_sq_foot(self.per_m2_of_bed)

    @property
    def per_sq_foot_by_formula(self) -> float:
        return per_sq_m_to_per_sq_foot(self.per_m2_by_formula)


def density(
    planting: Planting, bed_width_m: float, between_rows_cm: float | None = None
) -> Density:
    """Plants to ground both ways; without ``between_rows_cm`` rows stand as far as plants do."""
    across = planting.spacing_cm if between_rows_cm is None else between_rows_cm
    per_m = planting.rows * 100 / planting.spacing_cm
    return Density(per_m, per_m / bed_width_m, 10_000 / (planting.spacing_cm * across))


@dataclass(frozen=True, slots=True)
class PlotGround:
    """A plot's stretch of bed: the net part that is picked, and the guards at either end."""

    net_length_m: float
    guard_length_m: float
    plants_set: int
    guards_set: int

    @property
    def length_m(self) -> float:
        return self.net_length_m + 2 * self.guard_length_m


def plot_ground(plan: TrialPlan, levels: Levels = ()) -> PlotGround:
    """The stretch of bed of a plot that carries ``levels``.

    All plots of a plan are equally long. The net part holds ``plants_per_plot`` at the plan's
    spacing, rounded up to whole ranks of one plant a row; guards take their number of the widest
    spacings. A plot with a spacing of its own gets as many plants as that length holds.
    """
    spacings = [plan.planting.spacing_cm, *spacings_cm(plan)]
    ranks = ceil(plan.plants_per_plot / plan.planting.rows)
    net_m = ranks * plan.planting.spacing_cm / 100
    guard_m = plan.guard_plants * max(spacings) / 100
    own = next(
        (float(level) * SPACING_UNIT_CM[name] for name, level in levels if name in SPACING_UNIT_CM),
        spacings[0],
    )
    planting = Planting(plan.planting.rows, own)
    return PlotGround(
        round(net_m, 6),
        round(guard_m, 6),
        plants_in(net_m, planting),
        2 * plants_in(guard_m, planting),
    )


def spacings_cm(plan: TrialPlan) -> list[float]:
    """The spacings that a plan compares; none where all plots have the planting's own."""
    return [
        float(level) * SPACING_UNIT_CM[factor.name]
        for factor in plan.factors
        if factor.name in SPACING_UNIT_CM
        for level in factor.levels
    ]
