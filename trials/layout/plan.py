"""What a grower plans, and what the planner lays out from it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from trials.model import Factor, Margin
from trials.stats.results import LayoutKind, Levels


@dataclass(frozen=True, slots=True)
class Bed:
    """A bed of the farm: its bearing along the walk and its size."""

    name: str
    length_m: float
    width_m: float


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
    factor that names the varieties; ``check`` is one of them (or several, in augmented blocks).
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
    shortest_length_cm: float
    grades_cm: tuple[int, ...]
    seed: int
    block_size: int | None = None
    sow_on: date | None = None
    transplant_on: date | None = None


@dataclass(frozen=True, slots=True)
class PlannedPlot:
    """A plot on its bed: where it starts and ends along the bed, and what grows in it.

    ``start_m`` and ``length_m`` are gross, guards included; ``net_length_m`` is what is picked.
    ``position`` counts the plots in walking order. Parts the layout does not have are None.
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


@dataclass(frozen=True, slots=True)
class PlannedLayout:
    """The plots of a trial in walking order, with the lot that was drawn.

    ``efficiency`` is the average efficiency factor of incomplete blocks, with the ``bound`` no
    design of that size can exceed; None for other layouts.
    """

    plan: TrialPlan
    plots: tuple[PlannedPlot, ...]
    efficiency: float | None = None
    bound: float | None = None
