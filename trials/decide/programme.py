"""The seed order as an integer programme: bundles of packs, price breaks, shipping, minimum orders.

A house's packs of one variety are chosen as one of its bundles (`bundles`), which makes the linear
relaxation tight. A bundle is the cheapest way to its seeds, and only a house whose goods must
reach an amount, its minimum order or its free shipping, can call for more. Such an amount may at
first be made up with money for nothing. If the solution does so at a house, the house's packs are
chosen one by one instead and the programme is solved again; if it does not, the solution is exact.

Needs are first rounded up to the common divisor of the packs' sizes. Packs sum to multiples of it,
so no order is lost, and the relaxation is tighter. All money is in cents, so that a solution of
scipy's HiGHS is rounded and then checked exactly.

Formula: minimise sum of packs × price + shipping, subject to seeds >= need for each variety, packs
    whole.
Limits: Stops after 60 s; the order then states by how much it may lie above the cheapest.
Source: Wolsey 1998, Integer Programming, chapters 1 and 9; solved by scipy.optimize.milp (HiGHS).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from math import gcd
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from trials.decide.bundles import bundles
from trials.decide.catalogue import Catalogue, HouseTerms
from trials.decide.packets import Need
from trials.errors import OrderImpossible

if TYPE_CHECKING:
    from scipy.optimize import LinearConstraint

Floats = NDArray[np.float64]
Terms = dict[int, float]
UNBOUNDED = np.inf
OPTIMAL, OUT_OF_TIME, INFEASIBLE = 0, 1, 2  # scipy.optimize.milp's codes
TIME_LIMIT_S = 60.0


@dataclass(frozen=True, slots=True)
class Packs:
    """Packs of each offer; ``over_cents`` is the most they can cost above the cheapest."""

    packs: tuple[int, ...]
    over_cents: int = 0


class Programme:
    """The packs of each offer that meet the needs at the lowest cost."""

    def __init__(self, offered: Catalogue, needs: Sequence[Need]) -> None:
        self._offered = offered
        self._needs = tuple(needs)

    def cheapest(self) -> Packs:
        """Packs of each offer, every need met, at the lowest cost."""
        return self._solve(None)

    def within(self, budget_cents: int) -> Packs:
        """Packs of each offer: the least weighted seed short the budget allows, then least cost."""
        return self._solve(budget_cents)

    def _solve(self, budget: int | None) -> Packs:
        one_by_one: frozenset[str] = frozenset()
        # A budget counts every seed short, so its needs stay as they are.
        needs = _in_whole_packs(self._needs, self._offered) if budget is None else self._needs
        while True:
            form = _Form(self._offered, needs, one_by_one)
            found = form.cheapest() if budget is None else form.within(budget)
            padded = form.padded(found.values)
            if not padded:
                return Packs(form.packs(found.values), found.over)
            one_by_one |= padded


def _in_whole_packs(needs: Sequence[Need], offered: Catalogue) -> tuple[Need, ...]:
    """The needs rounded up to seeds that packs can sum to, which tightens the linear relaxation.

    Every sum of packs is a multiple of their sizes' greatest common divisor.
    """
    units: dict[str, int] = {}
    for offer in offered.offers:
        units[offer.variety] = gcd(units.get(offer.variety, 0), offer.seeds)
    rounded = []
    for need in needs:
        unit = units.get(need.variety, 1)
        rounded.append(replace(need, seeds=-(-need.seeds // unit) * unit))
    return tuple(rounded)


@dataclass(frozen=True, slots=True)
class _Found:
    values: Floats
    over: int


@dataclass(slots=True)
class _Builder:
    """Unknowns by number, and rows ``low <= terms <= high`` among them."""

    most: list[float] = field(default_factory=list)
    whole: list[int] = field(default_factory=list)
    rows: list[tuple[Terms, float, float]] = field(default_factory=list)

    def unknown(self, most: float, *, whole: bool = True) -> int:
        self.most.append(most)
        self.whole.append(int(whole))
        return len(self.most) - 1

    def row(self, terms: Terms, low: float = -UNBOUNDED, high: float = UNBOUNDED) -> None:
        self.rows.append((terms, low, high))


class _Form:
    """The programme with the packs of the houses ``one_by_one`` chosen one by one."""

    def __init__(
        self, offered: Catalogue, needs: Sequence[Need], one_by_one: frozenset[str]
    ) -> None:
        self._offers, self._needs = offered.offers, needs
        self._builder = _Builder()
        self._cost: Terms = {}
        # The packs of each offer are the sum of these unknowns, each times a number of packs.
        self._packs: list[Terms] = [{} for _ in offered.offers]
        self._padding: dict[str, int] = {}
        self._short = [self._builder.unknown(need.seeds) for need in needs]
        self._seeds: list[Terms] = [{short: 1} for short in self._short]
        used = {house.name: self._builder.unknown(1) for house in offered.houses}
        goods: dict[str, Terms] = {house.name: {} for house in offered.houses}
        for of_need, need in enumerate(needs):
            for house in offered.houses:
                here = [
                    place
                    for place, offer in enumerate(offered.offers)
                    if (offer.house, offer.variety) == (house.name, need.variety)
                ]
                add = self._add_tiers if house.name in one_by_one else self._add_bundles
                add(here, of_need, goods[house.name], used[house.name])
            self._builder.row(self._seeds[of_need], low=need.seeds)
        for house in offered.houses:
            padded = house.name not in one_by_one
            self._charge(house, used[house.name], goods[house.name], padded=padded)
        self._tie = self._tie_breaking(used)

    def _add_bundles(self, here: list[int], of_need: int, goods: Terms, house_used: int) -> None:
        chosen = []
        for bundle in bundles([self._offers[i] for i in here], self._needs[of_need].seeds):
            unknown = self._builder.unknown(1)
            self._cost[unknown] = goods[unknown] = bundle.cents
            self._seeds[of_need][unknown] = bundle.seeds
            for place, packs in zip(here, bundle.packs, strict=True):
                if packs:
                    self._packs[place][unknown] = packs
            chosen.append(unknown)
        if chosen:
            self._builder.row({**dict.fromkeys(chosen, 1), house_used: -1}, high=0)

    def _add_tiers(self, here: list[int], of_need: int, goods: Terms, house_used: int) -> None:
        for place in here:
            offer, chosen = self._offers[place], []
            for tier in offer.tiers:
                packs, reached = self._builder.unknown(tier.most), self._builder.unknown(1)
                self._builder.row({packs: 1, reached: -tier.least}, low=0)
                self._builder.row({packs: 1, reached: -tier.most}, high=0)
                self._cost[packs] = goods[packs] = tier.cents
                self._seeds[of_need][packs] = offer.seeds
                self._packs[place][packs] = 1
                chosen.append(reached)
            self._builder.row({**dict.fromkeys(chosen, 1), house_used: -1}, high=0)

    def _charge(self, house: HouseTerms, used: int, goods: Terms, *, padded: bool) -> None:
        self._cost[used] = house.shipping
        free_pays = house.free_from is not None and house.shipping > 0
        reached = dict(goods)
        if padded and (house.minimum or free_pays):
            padding = self._builder.unknown(UNBOUNDED, whole=False)
            self._cost[padding] = reached[padding] = 1
            self._padding[house.name] = padding
        self._builder.row({**reached, used: -house.minimum}, low=0)
        if house.free_from is not None and house.shipping:
            free = self._builder.unknown(1)
            self._cost[free] = -house.shipping
            self._builder.row({**reached, free: -house.free_from}, low=0)
            self._builder.row({free: 1, used: -1}, high=0)

    def _tie_breaking(self, house_used: dict[str, int]) -> Terms:
        """Costs of less than half a cent in all: fewer and earlier houses and items first."""
        ranks = 1 + len(house_used) + len(self._offers)
        each = 0.5 / (2 * ranks * (ranks + 1))
        tie: Terms = {used: each * (ranks + i) for i, used in enumerate(house_used.values())}
        for place, packs in enumerate(self._packs, start=len(house_used)):
            for unknown in packs:
                # A pack chosen one by one costs its part of the most there can be.
                share = each / max(self._builder.most[unknown], 1)
                tie[unknown] = tie.get(unknown, 0) + share * (ranks + place)
        return tie

    def packs(self, values: Floats) -> tuple[int, ...]:
        """Packs of each offer in a solution."""
        return tuple(int(_value(terms, np.rint(values))) for terms in self._packs)

    def padded(self, values: Floats) -> frozenset[str]:
        """The houses whose amounts are reached with money for nothing."""
        return frozenset(house for house, n in self._padding.items() if values[n] > 1e-4)

    def cheapest(self) -> _Found:
        return self._solve(_summed(self._cost, self._tie), short_allowed=False)

    def within(self, budget: int) -> _Found:
        weights = {n: float(need.weight) for n, need in zip(self._short, self._needs, strict=True)}
        spend = (self._cost, -UNBOUNDED, float(budget))
        first = self._solve(weights, short_allowed=True, extra=[spend])
        keep = (weights, -UNBOUNDED, round(_value(weights, first.values)))
        objective = _summed(self._cost, self._tie)
        return self._solve(objective, short_allowed=True, extra=[spend, keep])

    def _solve(
        self,
        objective: Terms,
        *,
        short_allowed: bool,
        extra: Sequence[tuple[Terms, float, float]] = (),
    ) -> _Found:
        unknowns = len(self._builder.most)
        if not self._offers:
            return _Found(np.zeros(unknowns), 0)
        from scipy.optimize import Bounds, milp

        most = np.array(self._builder.most, dtype=np.float64)
        if not short_allowed:
            most[self._short] = 0
        rows = [*self._builder.rows, *extra]
        whole = np.array(self._builder.whole)
        found = milp(
            _dense(objective, unknowns),
            integrality=whole,
            bounds=Bounds(np.zeros(unknowns), most),
            constraints=_constraint(rows, unknowns),
            options={"mip_rel_gap": 0.0, "time_limit": TIME_LIMIT_S},
        )
        if found.status == INFEASIBLE:
            raise OrderImpossible(
                "No mix of packets reaches the minimum orders of the seed houses that have the "
                "seed. Order more, or from other seed houses."
            )
        if found.status == OUT_OF_TIME and found.x is None:
            raise OrderImpossible(
                f"No order was found in {TIME_LIMIT_S:.0f} seconds: too many packets to choose "
                "from at once. Order in two parts, or from fewer houses."
            )
        if found.x is None or found.status not in (OPTIMAL, OUT_OF_TIME):
            raise RuntimeError(f"the order's integer programme was not solved: {found.message}")
        values = np.where(whole == 1, np.rint(found.x), found.x)
        if any(not low - 1e-3 <= _value(terms, values) <= high + 1e-3 for terms, low, high in rows):
            raise RuntimeError("the order's integer programme was solved with rounding faults")
        # Costs are whole cents, and all ties together less than one.
        return _Found(values, int(found.fun - found.mip_dual_bound))


def _summed(a: Terms, b: Terms) -> Terms:
    return {unknown: a.get(unknown, 0) + b.get(unknown, 0) for unknown in a | b}


def _value(terms: Terms, values: Floats) -> float:
    return float(sum(number * values[unknown] for unknown, number in terms.items()))


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
