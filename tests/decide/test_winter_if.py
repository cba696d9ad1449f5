"""A winter plan under other prices and limits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from trials.decide.winter import Bed, Crop, Limits, Outlet, Winter, WinterPlan
from trials.decide.winter_if import WinterIf, plan_if
from trials.decide.winter_programme import winter_plan
from trials.errors import OrderImpossible

WEEKS = 2


def farm() -> Winter:
    """One bed of 10 m; a metre gives 4 stems a week at 0.50, in one season of two only 2."""
    every = np.ones(WEEKS, dtype=bool)
    stems = np.stack([np.full((1, WEEKS), 4.0), np.full((1, WEEKS), 2.0)])
    crop = Crop("c", "v", "", "s", "white", stems, 1.0, 0.5, np.zeros(WEEKS), every)
    outlet = Outlet("m", {"c": np.full((1, WEEKS), 0.5)}, np.zeros(WEEKS), np.full(WEEKS, 100.0))
    return Winter((crop,), (outlet,), (Bed("one", 10.0, every),), Limits(2.0))


def planned() -> WinterPlan:
    return winter_plan(farm())


def test_the_price_of_every_stem_is_multiplied() -> None:
    # 10 m in two weeks: 80 or 40 stems, 60 on average; at 0.50 they bring 30, and cost 10.
    assert plan_if(planned(), WinterIf()).expected == pytest.approx(20.0)
    assert plan_if(planned(), WinterIf(price=2.0)).expected == pytest.approx(50.0)
    # At a tenth of the price, 3 for 10 m, nothing pays.
    assert plan_if(planned(), WinterIf(price=0.1)).lines == ()


def test_a_budget_and_a_floor_are_kept_and_replace_those_there_were() -> None:
    # 0.50 is paid per metre before the first sale: 2 is enough for 4 m.
    assert plan_if(planned(), WinterIf(budget=2.0)).metres[0] == pytest.approx(4.0)
    bound = replace(farm(), limits=Limits(2.0, budget=2.0))
    assert plan_if(winter_plan(bound), WinterIf()).metres[0] == pytest.approx(10.0)
    # The poor season brings 40 x 0.50 - 10 = 10 at most.
    assert plan_if(planned(), WinterIf(floor=9.0)).poor >= 9.0
    with pytest.raises(OrderImpossible):
        plan_if(planned(), WinterIf(floor=11.0))


def test_the_plan_there_is_stays_as_it_is() -> None:
    plan = planned()
    assert plan_if(plan, WinterIf()) is plan
    plan_if(plan, WinterIf(price=3.0, budget=1.0))
    assert float(plan.winter.outlets[0].prices["c"][0, 0]) == 0.5
    assert plan.winter.limits.budget is None
