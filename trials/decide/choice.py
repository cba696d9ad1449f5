"""What a season comes to: the standings a choice is made from, and the order that follows."""

from __future__ import annotations

from dataclasses import dataclass

from trials.decide.outlook import Outlook
from trials.decide.packets import SeedOrder
from trials.decide.practice import Practice
from trials.decide.rules import Advice, Rules
from trials.decide.sowing import Sowing, VarietyNeed
from trials.decide.standings import Standing
from trials.decide.substitutes import PassedOver, Substitute
from trials.model import Measure


@dataclass(frozen=True, slots=True)
class Choice:
    """The standings of a crop's varieties for next season, and what they were drawn from."""

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

    @property
    def reordered(self) -> tuple[str, ...]:
        """The varieties to reorder, best first."""
        return self._with(Advice.REORDER)

    @property
    def tried_again(self) -> tuple[str, ...]:
        """The varieties that deserve another trial, best first."""
        return self._with(Advice.TRY_AGAIN)

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
