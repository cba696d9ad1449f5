"""What a grower plans, and what the planner lays out from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType

from trials.model.trial import Factor, Margin
from trials.model.units import CM_PER_INCH
from trials.stats.results import LayoutKind
from trials.stats.what_was_tested import Levels

# A factor of one of these names sets the spacing along the row; its levels are in that unit.
SPACING_UNIT_CM: Mapping[str, float] = MappingProxyType(
    {"spacing_cm": 1.0, "spacing_in": CM_PER_INCH}
)
# Treatments that reach over to the neighbouring plot, unless the plan says otherwise.
SPILLING = (*SPACING_UNIT_CM, "netting")


@dataclass(frozen=True, slots=True)
class Bed:
    """A bed of the farm: its name, its size, and the path to the next bed where it is known."""

    name: str
    length_m: float
    width_m: float
    path_m: float | None = None


@dataclass(frozen=True, slots=True)
class Planting:
    """How plants stand in a bed: so many rows, and a spacing along each row."""

    rows: int
    spacing_cm: float


@dataclass(frozen=True, slots=True)
class TrialPlan:
    """A trial before it is laid out, with everything that is fixed before data exist.

    ``plants_per_plot`` are net: the plants that are picked and counted. ``guard_plants`` stand at
    each end of a plot, in every row, and are never counted. ``entries`` are the levels of the
    factor that names the varieties; ``checks`` is one of them (or several, in augmented blocks).
    ``replicates`` counts the plots of each treatment: of the checks, in augmented blocks.
    ``block_size`` is the most plots of an incomplete block. A factor called ``spacing_cm`` or
    ``spacing_in`` sets the spacing of its plots. ``spilling`` names the factors that reach over to
    the plots beside them. ``first_number`` is the first plot number of the season that is still
    free.
    """

    code: str
    season: int
    site: str
    crop: str
    question: str
    kind: LayoutKind
    factors: tuple[Factor, ...]
    checks: tuple[str, ...]
    replicates: int
    beds: tuple[Bed, ...]
    planting: Planting
    plants_per_plot: int
    guard_plants: int
    primary_measure: str
    alpha: float
    margin: Margin | None
    minimum_length_cm: float
    grades_cm: tuple[int, ...]
    seed: int
    block_size: int | None = None
    sow_on: date | None = None
    transplant_on: date | None = None
    spilling: tuple[str, ...] = SPILLING
    first_number: int = 1


@dataclass(frozen=True, slots=True)
class PlannedPlot:
    """A plot on its bed: where it starts and ends along the bed, and what grows in it.

    ``start_m`` and ``length_m`` are gross, guards included; ``net_length_m`` is what is picked.
    ``start_m`` is measured from the head of the bed, the end where the walk enters the first bed.
    ``position`` counts the plots in walking order: up one bed and down the next. ``plants_set``
    are net; ``guards_set`` stand beside them. Parts the layout does not have are None.
    """

    code: str
    bed: str
    position: int
    start_m: float
    length_m: float
    net_length_m: float
    net_area_m2: float
    plants_set: int
    levels: Levels
    block: str | None = None
    whole_plot: str | None = None
    incomplete_block: str | None = None
    row: str | None = None
    column: str | None = None
    split_plot: str | None = None
    guards_set: int = 0


@dataclass(frozen=True, slots=True)
class PlannedLayout:
    """The plots of a trial in walking order, with the lot that was drawn.

    ``efficiency`` is the average efficiency factor of incomplete blocks (of the columns, in rows
    and columns), with the ``bound`` no design of that size can exceed; None for other layouts.
    """

    plan: TrialPlan
    plots: tuple[PlannedPlot, ...]
    efficiency: float | None = None
    bound: float | None = None
