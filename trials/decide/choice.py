"""What a season comes to: the standings a choice is made from, and the order that follows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from trials.decide.growing import Growing
from trials.decide.outlook import Outlook
from trials.decide.packets import NOTHING, SeedOrder
from trials.decide.practice import Practice
from trials.decide.rules import Advice, Rules
from trials.decide.sowing import OnHand, Sowing, VarietyNeed
from trials.decide.standings import Standing
from trials.decide.substitutes import PassedOver, Substitute
from trials.decide.trial_value import TrialCost
from trials.decide.vase_life import VaseLife
from trials.model.trial import Measure


@dataclass(frozen=True, slots=True)
class Choice:
    """The standings of a crop's varieties for next season, and what they were drawn from.

    ``stems_in_a_poor_season`` is the low end of each variety's stems per plant. ``lacking`` says
    what a choice in money would need, where it was not made in money for want of it. ``vase_life``
    has the varieties whose stems were tested.
    """

    crop: str
    next_season: int
    measure: Measure
    check: str | None
    minimum_length_cm: float
    trials: tuple[str, ...]
    outlook: Outlook
    standings: tuple[Standing, ...]
    rules: Rules
    stems_in_a_poor_season: Mapping[str, float]
    trial_cost: TrialCost | None = None
    lacking: tuple[str, ...] = ()
    practices: tuple[Practice, ...] = ()
    growing: tuple[Growing, ...] = ()
    vase_life: tuple[VaseLife, ...] = ()

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
    shelf: tuple[OnHand, ...] = ()  # the stock of the varieties needed


@dataclass(frozen=True, slots=True)
class JointOrdering:
    """One seed order for several crops: each crop's part holds the same ``order``.

    ``apart`` is what the same seed would cost ordered crop by crop; None where that is not to be
    compared, as one crop is ordered, something is missing, or a house is in another currency.
    """

    crops: tuple[Ordering, ...]
    order: SeedOrder
    apart: Decimal | None = None


def cost_apart(together: SeedOrder, alone: Sequence[SeedOrder]) -> Decimal | None:
    """What orders that each buy a part of the seed cost in all; None where that says nothing."""
    alike = all(each.currency == together.currency and not each.unfilled for each in alone)
    if not alone or not alike or together.unfilled:
        return None
    return sum((each.total for each in alone), NOTHING)
