"""The winter plan of the highest expected net, by linear bounds around a mixed-integer programme.

What a plan sells for is concave in its metres, so it is bounded by planes that touch it (L-shaped
method: Van Slyke & Wets 1969, SIAM J. Appl. Math. 17:638), one family for each week and group of
markets. The programme over the planes bounds every plan's net from above; each of its solutions is
priced exactly and adds planes, until the best plan priced is within the gap of the bound.

Formula: maximise sum over weeks and seasons of theta - cost · metres, with theta <= value(m0) +
    slope(m0) · (metres - m0) for each plane; gap = (bound - net of the best plan) / |bound|.
Limits: Within the gap of the best for the seasons drawn, not for all seasons, and after the time
    limit within the gap that is said; markets take what was stated.
Source: Van Slyke & Wets 1969, SIAM J. Appl. Math. 17:638.
"""

from __future__ import annotations

from dataclasses import dataclass
from time import monotonic

import numpy as np
from numpy.typing import NDArray

from trials.decide.beds import laid_out, pooled
from trials.decide.sales import sales
from trials.decide.winter import Winter, WinterPlan, poor_seasons, worst_fifth
from trials.errors import OrderImpossible

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]
GAP = 0.0095
MOST_ROUNDS = 200
TIME_LIMIT_S = 60.0  # after that the best plan so far is given, with its gap
LEAST_S = 5.0  # for a programme that is begun near that limit
DIVES = 5  # so often others are tried beside the plan that was reached: judgement
FEW_SHORT = 6  # so few are made long enough, as each that is given up costs more: judgement
_NOTHING_M = 1e-6


def winter_plan(winter: Winter, gap: float = GAP) -> WinterPlan:
    """The metres of every crop and bed with the highest expected net over the drawn seasons.

    Refuses (`OrderImpossible`) where no plan keeps to the limits.
    """
    search = _Search(winter)
    split, bound = search.relax(gap / 4)
    search.dive(split, gap, bound)
    open_places = split > _NOTHING_M
    # Sowings that the relaxed plan leaves out are rarely missed: the bound tells.
    if open_places.any() and not open_places.all():
        search.settle(gap, open_places, bound)
    return search.settle(gap, np.ones(len(search.places), dtype=bool), bound)


@dataclass(frozen=True, slots=True)
class _Plane:
    """``theta[of] <= constant + slopes x metres``; with ``of`` -1 this is not negative."""

    of: int
    constant: float
    places: Ints
    slopes: Floats


class _Search:
    """Planes gathered so far, and the best plan priced."""

    def __init__(self, winter: Winter) -> None:
        self.winter = winter
        self.weeks = sales(winter)
        self.cost = np.array([crop.cost for crop in winter.crops])
        self.pools = pooled(winter.beds)
        self.places = [
            (j, b)
            for j, crop in enumerate(winter.crops)
            for b, pool in enumerate(self.pools)
            if bool(np.all(pool[0].free[crop.takes]))
        ]
        self.lengths = [sum(bed.metres for bed in self.pools[b]) for _, b in self.places]
        self.of_crop: list[list[int]] = [[] for _ in winter.crops]
        for i, (j, _) in enumerate(self.places):
            self.of_crop[j].append(i)
        self.rows = self._limit_rows()  # of metres by place, and a theta of each week
        self.best: WinterPlan | None = None
        self.until = monotonic() + TIME_LIMIT_S
        nothing = np.zeros(len(winter.crops))
        self._touch(nothing)
        plenty = np.full(len(winter.crops), sum(bed.metres for bed in winter.beds))
        self._touch(plenty)

    def relax(self, gap: float) -> tuple[Floats, float]:
        """The plan with sowings of any length allowed, and a bound on every plan."""
        for _ in range(MOST_ROUNDS):
            solved = self._relaxed(np.zeros(len(self.places)), np.array(self.lengths))
            if solved is None:
                raise OrderImpossible(_NO_PLAN)
            split, bound = solved
            net_of = self._touch(self._by_crop(split))
            if not self._short(net_of) and self._near(bound, float(net_of.mean()), gap):
                break
        return split, bound

    def dive(self, split: Floats, gap: float, bound: float) -> None:
        """A plan of sowings long enough from one of any length, where linear programmes reach it.

        Of the sowings that are too short the shorter half is given up and the rest solved again;
        the last few are made long enough instead, where that is possible. Then the plan that was
        reached stays, all others may be sown beside it once more, and so on. It spares large farms
        most of the search.
        """
        lengths = np.array(self.lengths)
        stays = np.zeros_like(lengths)
        high = np.where(split > _NOTHING_M, lengths, 0.0)
        for _ in range(DIVES):
            reached = self._dive(split, stays, high, gap)
            if reached is None or self._near(bound, self.best.expected if self.best else 0.0, gap):
                return
            stays = np.where(reached > _NOTHING_M, self.winter.limits.least_metres, 0.0)
            high = lengths.copy()
            solved = self._relaxed(stays, high)
            if solved is None:
                return
            split = solved[0]
            high = np.where(split > _NOTHING_M, lengths, 0.0)

    def _dive(self, split: Floats, low: Floats, high: Floats, gap: float) -> Floats | None:
        least = self.winter.limits.least_metres - _NOTHING_M
        for _ in range(MOST_ROUNDS):
            short = np.flatnonzero((split > _NOTHING_M) & (split < least))
            solved = None
            if 0 < len(short) <= FEW_SHORT:
                longer = low.copy()
                longer[short] = self.winter.limits.least_metres
                solved = self._relaxed(longer, high)
                low = low if solved is None else longer
            if solved is None:
                given_up = (len(short) + 1) // 2
                high[short[np.argsort(split[short], kind="stable")[:given_up]]] = 0.0
                solved = self._relaxed(low, high)
            if solved is None:
                return None  # what was given up was needed: the whole programme has to decide
            split, here = solved
            net_of = self._touch(self._by_crop(split))
            if ((split > _NOTHING_M) & (split < least)).any() or self._short(net_of):
                continue
            self._keep(split, net_of)
            if self._near(here, float(net_of.mean()), gap / 2):
                return split
        return None

    def settle(self, gap: float, open_places: Bools, bound: float) -> WinterPlan:
        """Plans of sowings long enough among ``open_places`` until one is near the bound.

        The bound is that of all plans; the programme's own is one only where all places are open.
        """
        for _ in range(MOST_ROUNDS):
            if self.best is not None and (
                self._near(bound, self.best.expected, gap) or monotonic() > self.until
            ):
                break
            split, here = self._solve(open_places, gap / 2)
            if open_places.all():
                bound = min(bound, here)
            net_of = self._touch(self._by_crop(split))
            if not self._short(net_of):
                self._keep(split, net_of)
                if not open_places.all() and self._near(here, float(net_of.mean()), gap / 2):
                    break
        if self.best is None:
            raise OrderImpossible(_NO_PLAN)
        found = self.best.expected
        proven = max(bound - found, 0.0) / max(abs(found), 1e-9)
        return WinterPlan(self.winter, self.best.lines, self.best.net, proven)

    def _near(self, bound: float, found: float, gap: float) -> bool:
        return bound - found <= gap * abs(found) + 1e-9

    def _short(self, net_of: Floats) -> bool:
        floor = self.winter.limits.floor
        return floor is not None and worst_fifth(net_of) < floor - 1e-6 * max(1.0, abs(floor))

    def _keep(self, split: Floats, net_of: Floats) -> None:
        if self.best is not None and self.best.expected >= float(net_of.mean()):
            return
        lines = tuple(
            line
            for b, pool in enumerate(self.pools)
            for line in laid_out(
                [
                    (j, self.winter.crops[j].takes, float(split[i]))
                    for i, (j, at) in enumerate(self.places)
                    if at == b and split[i] > 1e-6
                ],
                pool,
                self.winter.limits.least_metres,
            )
        )
        self.best = WinterPlan(self.winter, lines, net_of, 1.0)

    def _by_crop(self, split: Floats) -> Floats:
        metres = np.zeros(len(self.winter.crops))
        for i, (j, _) in enumerate(self.places):
            metres[j] += split[i]
        return metres

    def _touch(self, metres: Floats) -> Floats:
        """Price ``metres`` exactly, and add the planes that touch there."""
        each = [week.revenue(metres) for week in self.weeks]
        net_of = sum((revenue for revenue, _, _ in each), np.zeros(len(self.winter.crops[0].stems)))
        net_of = net_of - float(self.cost @ metres)
        for of, (week, (_, constants, slopes)) in enumerate(zip(self.weeks, each, strict=True)):
            self._add(_Plane(of, float(constants.mean()), week.places, slopes.mean(axis=0)))
        if self.winter.limits.floor is not None:
            weights = np.zeros(len(net_of))
            weights[np.argsort(net_of, kind="stable")] = poor_seasons(len(net_of))
            constant, slope = -self.winter.limits.floor, -self.cost
            for week, (_, constants, slopes) in zip(self.weeks, each, strict=True):
                constant += float(weights @ constants)
                np.add.at(slope, week.places, weights @ slopes)
            self._add(_Plane(-1, constant, np.arange(len(self.cost)), slope))
        return net_of

    def _relaxed(self, low: Floats, high: Floats) -> tuple[Floats, float] | None:
        """Metres by place, within these, and a bound on the net; None where no plan is."""
        from scipy.optimize import Bounds, LinearConstraint, milp

        count, thetas = len(self.places), len(self.weeks)
        found = milp(
            np.concatenate([[self.cost[j] for j, _ in self.places], -np.ones(thetas)]),
            bounds=Bounds(
                np.concatenate([low, np.full(thetas, -np.inf)]),
                np.concatenate([high, np.full(thetas, np.inf)]),
            ),
            constraints=LinearConstraint(*self.rows.matrix(count + thetas)),
            options={"time_limit": TIME_LIMIT_S},
        )
        return None if found.x is None else (np.clip(found.x[:count], low, high), -float(found.fun))

    def _solve(self, open_places: Bools, gap: float) -> tuple[Floats, float]:
        """Metres by open place, none too short, and a bound on the net of plans with them."""
        from scipy.optimize import Bounds, LinearConstraint, milp

        count, thetas = len(self.places), len(self.weeks)
        rows, first_open = _Rows(self.rows), count + thetas
        lengths, least = self.lengths, self.winter.limits.least_metres
        for i, length in enumerate(lengths):
            rows.add([i, first_open + i], [1.0, -least], low=0.0)
            rows.add([i, first_open + i], [1.0, -length], high=0.0)
        unknowns = 2 * count + thetas
        objective = np.zeros(unknowns)
        objective[:count] = [self.cost[j] for j, _ in self.places]
        objective[count:first_open] = -1.0
        kinds = np.zeros(unknowns)
        kinds[first_open:] = 1
        found = milp(
            objective,
            integrality=kinds,
            bounds=Bounds(
                np.concatenate([np.zeros(count), np.full(thetas, -np.inf), np.zeros(count)]),
                np.concatenate([lengths, np.full(thetas, np.inf), open_places]),
            ),
            constraints=LinearConstraint(*rows.matrix(unknowns)),
            options={"mip_rel_gap": gap, "time_limit": max(self.until - monotonic(), LEAST_S)},
        )
        if found.x is None and self.best is not None:  # out of time: the best so far remains
            return np.zeros(count), np.inf
        if found.x is None and found.status == _OUT_OF_TIME:
            raise OrderImpossible(_NONE_YET)
        if found.x is None and not open_places.all():
            return np.zeros(count), -np.inf
        if found.x is None:
            raise OrderImpossible(_NO_PLAN)
        split = np.clip(found.x[:count], 0.0, lengths)
        split[np.rint(found.x[first_open:]) == 0] = 0.0
        return split, -float(found.mip_dual_bound)

    def _add(self, plane: _Plane) -> None:
        """A plane as a row."""
        columns = [i for j in plane.places for i in self.of_crop[j]]
        slopes = [
            s for j, s in zip(plane.places, plane.slopes, strict=True) for _ in self.of_crop[j]
        ]
        if plane.of < 0:
            self.rows.add(columns, slopes, low=-plane.constant)
        else:
            self.rows.add(
                [len(self.places) + plane.of, *columns],
                [1.0, *(-slope for slope in slopes)],
                high=plane.constant,
            )

    def _limit_rows(self) -> _Rows:
        rows = _Rows()
        winter, limits = self.winter, self.winter.limits
        crops = winter.crops
        for b, pool in enumerate(self.pools):
            metres = sum(bed.metres for bed in pool)
            for week in range(len(pool[0].free)):
                here = [
                    i for i, (j, at) in enumerate(self.places) if at == b and crops[j].takes[week]
                ]
                if here:
                    rows.add(here, [1.0] * len(here), high=metres)
        everywhere = list(range(len(self.places)))
        if limits.budget is not None:
            rows.add(everywhere, [crops[j].cash for j, _ in self.places], high=limits.budget)
        if limits.hours is not None:
            work = [
                crop.hours + crop.stem_hours * crop.stems.mean(axis=0).sum(axis=0) for crop in crops
            ]
            for week, hours in enumerate(limits.hours):
                rows.add(
                    everywhere, [float(work[j][week]) for j, _ in self.places], high=float(hours)
                )
        self._variety_rows(rows)
        return rows

    def _variety_rows(self, rows: _Rows) -> None:
        """Metres wanted of a variety, the plants that there are of it, and its largest share."""
        crops, limits, of_crop = self.winter.crops, self.winter.limits, self.of_crop
        for variety, least in limits.wanted.items():
            of = [i for j, crop in enumerate(crops) if crop.variety == variety for i in of_crop[j]]
            rows.add(of, [1.0] * len(of), low=least)
        for variety, most in limits.plants.items():
            of = [i for j, crop in enumerate(crops) if crop.variety == variety for i in of_crop[j]]
            rows.add(of, [crops[self.places[i][0]].density for i in of], high=most)
        if limits.largest_share is not None:
            for kind, variety in sorted({(crop.crop, crop.variety) for crop in crops}):
                of = [i for j, crop in enumerate(crops) if crop.crop == kind for i in of_crop[j]]
                own = [crops[self.places[i][0]].variety == variety for i in of]
                rows.add(of, [float(mine) - limits.largest_share for mine in own], high=0.0)


_OUT_OF_TIME = 1  # as scipy.optimize.milp says it
_NONE_YET = (
    f"No winter plan was found within {TIME_LIMIT_S:.0f} s, but there may be one. "
    "Plan fewer sowings or crops at a time, or lower the least net of poor seasons or the metres "
    "you want."
)
_NO_PLAN = (
    "No winter plan meets all limits. Lower the least net of poor seasons or the metres you "
    "want, or allow more bed, hours or budget."
)


class _Rows:
    """Rows of a sparse matrix with their limits."""

    def __init__(self, first: _Rows | None = None) -> None:
        self.numbers: list[float] = [] if first is None else list(first.numbers)
        self.columns: list[int] = [] if first is None else list(first.columns)
        self.starts: list[int] = [0] if first is None else list(first.starts)
        self.low: list[float] = [] if first is None else list(first.low)
        self.high: list[float] = [] if first is None else list(first.high)

    def add(
        self,
        columns: list[int],
        numbers: list[float],
        *,
        low: float = -np.inf,
        high: float = np.inf,
    ) -> None:
        self.columns += columns
        self.numbers += numbers
        self.starts.append(len(self.columns))
        self.low.append(low)
        self.high.append(high)

    def matrix(self, unknowns: int) -> tuple[object, list[float], list[float]]:
        from scipy.sparse import csr_array

        shape = (len(self.low), unknowns)
        return (
            csr_array((self.numbers, self.columns, self.starts), shape=shape),
            self.low,
            self.high,
        )
