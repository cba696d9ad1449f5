"""What a season comes to: the standings a choice is made from, and the order that follows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from trials.decide.growing import Growing
from trials.decide.outlook import Outlook
from trials.decide.packets import SeedOrder
from trials.decide.practice import Practice
from trials.decide.rules import Advice, Rules
from trials.decide.sowing import Sowing, VarietyNeed
from trials.decide.standings import Standing
from trials.decide.substitutes import PassedOver, Substitute
from trials.decide.trial_value import TrialCost
from trials.model.trial import Measure


@dataclass(frozen=True, slots=True)
class Choice:
    """The standings of a crop's varieties for next season, and what they were drawn from.

    ``stems_in_a_poor_season`` is the low end of each variety's stems per plant. ``lacking`` says
    what a choice in money would need, where it was not made in money for want of it.
    """

    crop: str
    next_season: int
    measure: Measure
    check: str | None
    shortest_length_cm: float
    trials: tuple[str, ...]
    outlook: Outlook
    standings: tuple[Standing, ...]
    rules: Rules
    practices: tuple[Practice, ...]
    stems_in_a_poor_season: Mapping[str, float]
    trial_cost: TrialCost | None = None
    lacking: tuple[str, ...] = ()
    growing: tuple[Growing, ...] = ()

    @property
    def reordered(self) -> tuple[str, ...]:
        """The varieties to reorder, best first."""
        return self._with(Advice.REORDER)

    @property
    def grown_again(self) -> tuple[str, ...]:
        """The varieties that deserve another trial, best first."""
        return self._with(Advice.GROW_AGAIN)

    @property
    def too_short(self) -> tuple[str, ...]:
        """The varieties that are no candidates, as their stems are too short to sell."""
        return tuple(s.entry for s in self.standings if s.chance_best is None)

    def _with(self, verdict: Advice) -> tuple[str, ...]:
        return tuple(s.entry for s in self.standings if s.verdict is verdict)


@dataclass(frozen=True, slots=True)
class Ordering:
    """A crop's seed order, the steps that led to it, and what to turn to where seed is gone."""

    crop: str
    next_season: int
    sowing: Sowing
    plants_per_metre: float
    needs: tuple[VarietyNeed, ...]
    order: SeedOrder
    passed_over: tuple[PassedOver, ...] = ()
    substitutes: tuple[Substitute, ...] = ()
    too_short: tuple[str, ...] = ()  # ordered all the same
    price_lists: tuple[tuple[str, int], ...] = ()  # (house, the year of its list)
