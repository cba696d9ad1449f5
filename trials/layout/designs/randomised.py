"""What a kind of layout hands on: the treatment of each of its plots, drawn by lot."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from trials.layout.designs.random_numbers import Lot
from trials.layout.field.plot_order import Spot
from trials.layout.plan import TrialPlan
from trials.stats.what_was_tested import Levels


@dataclass(frozen=True, slots=True)
class Drawn:
    """Levels of the plots in the order of their spots; efficiency where blocks are incomplete."""

    levels: tuple[Levels, ...]
    efficiency: float | None = None
    bound: float | None = None


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of layout.

    ``spots`` says which plots in which units a plan comes to, and refuses (PlanRefused) what the
    kind cannot be; ``draw`` gives them their treatments.
    """

    spots: Callable[[TrialPlan], tuple[Spot, ...]]
    draw: Callable[[TrialPlan, Sequence[Spot], Lot], Drawn]
