"""What the sliders ask of the season: a choice and a winter plan under other prices and limits."""

from __future__ import annotations

from dashboard.access.visitor import READERS, require
from dashboard.data import choose
from dashboard.kept import Kept, store_path
from trials import season as front
from trials.decide import Rules, Standing
from trials.decide.planted import WinterChoice
from trials.decide.winter import WinterPlan
from trials.decide.winter_if import WinterIf, plan_if


@Kept
def money_basis(crop: str) -> front.MoneyBasis | None:
    """What of the store a choice under other prices needs; None where it is not in money."""
    return front.money_basis(store_path(), choose(crop, None))


@Kept
def choose_if(crop: str, rules: Rules, price: float, bed_cost: float) -> tuple[Standing, ...]:
    """The standings of a crop under other prices."""
    basis = money_basis(crop)
    if basis is None:
        raise ValueError(f"the choice of {crop} is not in money")
    return front.choose_if(basis, front.MoneyIf(price, bed_cost), rules)


def winter_if(found: WinterChoice, what_if: WinterIf) -> WinterPlan:
    """The winter plan under other prices and limits."""
    require(READERS)
    return plan_if(found.plan, what_if)
