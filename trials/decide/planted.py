"""What a winter plan plants: where, when, how many plants and seeds, and on what grounds."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from trials.decide.curve import Curve
from trials.decide.packets import SeedOrder
from trials.decide.sold import Sold
from trials.decide.sowing import OnHand, VarietyNeed
from trials.decide.substitutes import PassedOver, Substitute
from trials.decide.winter import Winter, WinterPlan


@dataclass(frozen=True, slots=True)
class Days:
    """The days of one sowing; ``sow`` is None where the crop's days in trays are not known.

    Plants that are bought are not sown: for them ``plugs_arrive`` is the day of their delivery.
    """

    sow: date | None
    plant_out: date
    first_cut: date
    last_cut: date
    pinch: date | None = None
    net: date | None = None
    plugs_arrive: date | None = None

    @property
    def begins(self) -> date | None:
        """The day on which it is sown, or on which its plugs arrive."""
        return self.sow if self.plugs_arrive is None else self.plugs_arrive


@dataclass(frozen=True, slots=True, eq=False)
class Planting:
    """One line of the plan: what, where, when, how many seeds, and the curve that it rests on.

    With ``plugs`` its plants are bought, and ``seeds`` counts them.
    """

    crop: str
    variety: str
    treatment: str
    colour: str
    bed: str
    metres: float
    plants: int
    seeds: int
    stems: float  # expected, per metre of bed

    days: Days
    curve: Curve
    plugs: bool = False


@dataclass(frozen=True, slots=True)
class NotTaken:
    """The varieties that a market does not take for their vase life (days).

    ``outlet`` are the market and its crops. ``least`` is what it asks for, None where it asks for
    nothing; ``untested`` varieties are not
    taken either, as nothing shows how long they last.
    """

    outlet: str
    least: float | None
    too_short_lived: tuple[tuple[str, float], ...]
    untested: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Earned:
    """Mean sales and costs of a variety over all its sowings, over the drawn seasons."""

    crop: str
    variety: str
    metres: float
    sales: float
    costs: float

    @property
    def net(self) -> float:
        return self.sales - self.costs


@dataclass(frozen=True, slots=True, eq=False)
class WinterChoice:
    """A winter plan, what is planted by it, and the one order of seed for all of it.

    ``left_out`` says by variety why it was no candidate, ``shelf`` is the stock of the varieties
    needed, ``sold`` where the stems go. ``not_taken`` says of each market what it refuses,
    ``passed_over`` and ``substitutes`` what to turn to for items sold out and for varieties to
    reorder that cannot be had.
    """

    season: int
    winter: Winter
    plan: WinterPlan
    plantings: tuple[Planting, ...]
    needs: tuple[VarietyNeed, ...]
    order: SeedOrder
    left_out: tuple[tuple[str, str], ...]
    currency: str
    shelf: tuple[OnHand, ...]
    sold: Sold
    not_taken: tuple[NotTaken, ...] = ()
    passed_over: tuple[PassedOver, ...] = ()
    substitutes: tuple[Substitute, ...] = ()

    @property
    def paid(self) -> float:
        """What the budget pays for in the plan: seed and raising, in the farm's currency."""
        return sum(self.winter.crops[each.place].cash * each.metres for each in self.plan.lines)

    @property
    def not_grown(self) -> tuple[str, ...]:
        """The candidates of which the plan has no planting."""
        grown = {each.variety for each in self.plantings}
        return tuple(sorted({crop.variety for crop in self.winter.crops} - grown))

    @property
    def earned(self) -> tuple[Earned, ...]:
        """What each variety of the plan earns, the most first."""
        metres = self.plan.metres
        found: dict[tuple[str, str], Earned] = {}
        for crop, length, sales in zip(self.winter.crops, metres, self.sold.by_crop, strict=True):
            if length > 0:
                key = (crop.crop, crop.variety)
                before = found.get(key, Earned(*key, 0.0, 0.0, 0.0))
                found[key] = Earned(
                    *key,
                    before.metres + float(length),
                    before.sales + float(sales),
                    before.costs + float(length) * crop.cost,
                )
        return tuple(sorted(found.values(), key=lambda one: (-one.net, one.variety)))
