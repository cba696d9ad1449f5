"""The seed order as an integer programme: packs, price breaks, carriage and minimum orders.

Unknowns: packs of each offer at each of its prices, whether that price is used, whether a house is
used, whether its carriage is free, and the seeds short of each need. All are whole numbers and all
money is in cents, so that a solution of scipy's HiGHS is rounded and then checked exactly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from trials.decide.catalogue import Catalogue, HouseTerms
from trials.decide.packets import Need
from trials.errors import OrderImpossible

if TYPE_CHECKING:
    from scipy.optimize import LinearConstraint

Floats = NDArray[np.float64]
Terms = dict[int, float]
UNBOUNDED = np.inf
OPTIMAL, OUT_OF_TIME, INFEASIBLE = 0, 1, 2  # scipy.optimize.milp's codes
TIME_LIMIT_S = 180.0


@dataclass(slots=True)
class _Builder:
    """Unknowns by number, and rows ``low <= terms <= high`` among them."""

    most: list[float] = field(default_factory=list)
    rows: list[tuple[Terms, float, float]] = field(default_factory=list)

    def unknown(self, most: float) -> int:
        self.most.append(most)
        return len(self.most) - 1

    def row(self, terms: Terms, low: float = -UNBOUNDED, high: float = UNBOUNDED) -> None:
        self.rows.append((terms, low, high))


class Programme:
    """The packs of each offer that meet the needs at the lowest cost."""

    def __init__(self, offered: Catalogue, needs: Sequence[Need]) -> None:
        self._offers = offered.offers
        self._needs = tuple(needs)
        self._builder = _Builder()
        self._cost: Terms = {}
        self._packs: list[list[int]] = []
        self._used: list[list[int]] = []
        goods: dict[str, Terms] = {house.name: {} for house in offered.houses}
        house_used = {house.name: self._builder.unknown(1) for house in offered.houses}
        for offer in self._offers:
            packs, used = [], []
            for tier in offer.tiers:
                n, chosen = self._builder.unknown(tier.most), self._builder.unknown(1)
                self._builder.row({n: 1, chosen: -tier.least}, low=0)
                self._builder.row({n: 1, chosen: -tier.most}, high=0)
                self._cost[n] = tier.cents
                goods[offer.house][n] = tier.cents
                packs.append(n)
                used.append(chosen)
            self._builder.row({**dict.fromkeys(used, 1), house_used[offer.house]: -1}, high=0)
            self._packs.append(packs)
            self._used.append(used)
        for house in offered.houses:
            self._charge(house, house_used[house.name], goods[house.name])
        self._short = [self._cover(need) for need in self._needs]
        self._tie = self._tie_breaking(house_used)

    def _charge(self, house: HouseTerms, used: int, goods: Terms) -> None:
        self._cost[used] = house.carriage
        self._builder.row({**goods, used: -house.minimum}, low=0)
        if house.free_from is not None and house.carriage:
            free = self._builder.unknown(1)
            self._cost[free] = -house.carriage
            self._builder.row({**goods, free: -house.free_from}, low=0)
            self._builder.row({free: 1, used: -1}, high=0)

    def _cover(self, need: Need) -> int:
        short = self._builder.unknown(need.seeds)
        seeds: Terms = {short: 1}
        for offer, packs in zip(self._offers, self._packs, strict=True):
            if offer.variety == need.variety:
                seeds |= dict.fromkeys(packs, offer.seeds)
        self._builder.row(seeds, low=need.seeds)
        return short

    def _tie_breaking(self, house_used: dict[str, int]) -> Terms:
        """Costs of less than half a cent in all: fewer and earlier houses and items first."""
        preferred = [[unknown] for unknown in house_used.values()] + self._used
        rank_sum = len(preferred) * (len(preferred) + 1)
        return {
            unknown: 0.5 * (len(preferred) + place) / (2 * rank_sum)
            for place, unknowns in enumerate(preferred)
            for unknown in unknowns
        }

    def cheapest(self) -> tuple[int, ...]:
        """Packs of each offer, every need met, at the lowest cost."""
        return self._solve(_summed(self._cost, self._tie), short_allowed=False)

    def within(self, budget_cents: int) -> tuple[int, ...]:
        """Packs of each offer: the least weighted seed short the budget allows, then least cost."""
        weights = {
            short: float(need.weight) for short, need in zip(self._short, self._needs, strict=True)
        }
        spend = (self._cost, -UNBOUNDED, float(budget_cents))
        first = self._solve(weights, short_allowed=True, extra=[spend])
        least = sum(need.weight * self._shortage(need, first) for need in self._needs)
        keep = (weights, -UNBOUNDED, float(least))
        objective = _summed(self._cost, self._tie)
        return self._solve(objective, short_allowed=True, extra=[spend, keep])

    def _shortage(self, need: Need, packs: Sequence[int]) -> int:
        bought = sum(
            n * offer.seeds
            for n, offer in zip(packs, self._offers, strict=True)
            if offer.variety == need.variety
        )
        return max(need.seeds - bought, 0)

    def _solve(
        self,
        objective: Terms,
        *,
        short_allowed: bool,
        extra: Sequence[tuple[Terms, float, float]] = (),
    ) -> tuple[int, ...]:
        if not self._offers:
            return ()
        from scipy.optimize import Bounds, milp

        unknowns = len(self._builder.most)
        most = np.array(self._builder.most, dtype=np.float64)
        if not short_allowed:
            most[self._short] = 0
        rows = [*self._builder.rows, *extra]
        found = milp(
            _dense(objective, unknowns),
            integrality=np.ones(unknowns),
            bounds=Bounds(np.zeros(unknowns), most),
            constraints=_constraint(rows, unknowns),
            options={"mip_rel_gap": 0.0, "time_limit": TIME_LIMIT_S},
        )
        if found.status == INFEASIBLE:
            raise OrderImpossible(
                "No mix of packets reaches the minimum orders of the houses that have the seed."
            )
        if found.status == OUT_OF_TIME:
            # The best so far would depend on the machine's speed.
            raise OrderImpossible(
                f"The cheapest order was not found in {TIME_LIMIT_S:.0f} seconds: too many "
                "packets to choose from at once. Order in two parts, or from fewer houses."
            )
        if found.x is None or found.status != OPTIMAL:
            raise RuntimeError(f"the order's integer programme was not solved: {found.message}")
        whole = np.rint(found.x).astype(int)
        if any(not low <= _value(terms, whole) <= high for terms, low, high in rows):
            raise RuntimeError("the order's integer programme was solved with rounding faults")
        return tuple(int(whole[packs].sum()) for packs in self._packs)


def _summed(a: Terms, b: Terms) -> Terms:
    return {unknown: a.get(unknown, 0) + b.get(unknown, 0) for unknown in a | b}


def _value(terms: Terms, whole: NDArray[np.int_]) -> float:
    return sum(number * int(whole[unknown]) for unknown, number in terms.items())


def _dense(terms: Terms, unknowns: int) -> Floats:
    dense = np.zeros(unknowns)
    dense[list(terms)] = list(terms.values())
    return dense


def _constraint(rows: Sequence[tuple[Terms, float, float]], unknowns: int) -> LinearConstraint:
    from scipy.optimize import LinearConstraint
    from scipy.sparse import csr_array

    columns = [column for terms, _, _ in rows for column in terms]
    numbers = [number for terms, _, _ in rows for number in terms.values()]
    places = np.repeat(np.arange(len(rows)), [len(terms) for terms, _, _ in rows])
    matrix = csr_array((numbers, (places, columns)), shape=(len(rows), unknowns))
    return LinearConstraint(matrix, [low for _, low, _ in rows], [high for _, _, high in rows])
