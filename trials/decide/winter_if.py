"""A winter plan made again with other prices or limits, to be compared with the plan there is.

Formula: the plan of `winter_programme` with every stem's price multiplied by one factor, and with
    another budget and floor; the drawn seasons, beds, sowings and wishes stay the same.
Limits: Markets take as many stems at another price as before, and missing stems cost as much.
Source: Van Slyke & Wets 1969, SIAM J. Appl. Math. 17:638, as `winter_programme`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from trials.decide.winter import Outlet, WinterPlan
from trials.decide.winter_programme import winter_plan


@dataclass(frozen=True, slots=True)
class WinterIf:
    """What is different: ``price`` multiplies each stem's price; a limit of None is none."""

    price: float = 1.0
    budget: float | None = None
    floor: float | None = None


def plan_if(plan: WinterPlan, what_if: WinterIf) -> WinterPlan:
    """The best plan under the changed prices and limits; the same plan where nothing differs.

    Parameters
    ----------
    plan : WinterPlan
        The plan there is, with its crops, markets, beds and limits.
    what_if : WinterIf
        The factor on prices (> 0), the budget for seed and raising, and the least mean net of the
        worst fifth of the seasons; both in the farm's currency.

    Raises
    ------
    OrderImpossible
        No plan keeps to these limits.
    """
    winter = plan.winter
    if what_if == WinterIf(1.0, winter.limits.budget, winter.limits.floor):
        return plan
    return winter_plan(
        replace(
            winter,
            outlets=tuple(_priced(outlet, what_if.price) for outlet in winter.outlets),
            limits=replace(winter.limits, budget=what_if.budget, floor=what_if.floor),
        )
    )


def _priced(outlet: Outlet, factor: float) -> Outlet:
    return replace(outlet, prices={crop: factor * table for crop, table in outlet.prices.items()})
