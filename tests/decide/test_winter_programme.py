"""The winter plan against every set of sowings, each solved as one linear programme."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from scipy.optimize import linprog

from trials.decide.market import corners
from trials.decide.sold import sold
from trials.decide.winter import Bed, Crop, Limits, Outlet, Winter, worst_fifth
from trials.decide.winter_programme import _Search, winter_plan
from trials.errors import OrderImpossible

WEEKS, DRAWS = 3, 5


def farm(draw: np.random.Generator, crops: int = 3) -> Winter:
    """A small random farm: two markets for the same stems, one bed or two, every limit."""
    every = np.ones(WEEKS, dtype=bool)
    grown = []
    for j in range(crops):
        start = int(draw.integers(0, 2))
        takes = np.zeros(WEEKS, dtype=bool)
        takes[start : start + 2] = True
        stems = draw.uniform(0, 12, (DRAWS, 2, WEEKS)) * takes
        hours = draw.uniform(0, 1, WEEKS) * takes
        cost = float(draw.uniform(2, 9))
        colour = ("white", "red")[j % 2]
        grown.append(
            Crop(
                *("c", f"v{j % 2}", "", f"s{j}", colour, stems, cost, cost / 2, hours, takes, 0.01),
                density=float(draw.uniform(4, 12)),
            )
        )
    prices = np.array([[0.3] * WEEKS, [0.5] * WEEKS]) + draw.uniform(0, 0.2, (2, WEEKS))
    other = prices * draw.uniform(0.6, 1.3)
    most = draw.uniform(10, 60, WEEKS)
    outlets = [
        Outlet("a", {"c": prices}, most / 3, most, missing_costs=float(draw.integers(0, 2)) * 0.2),
        Outlet("b", {"c": other}, np.zeros(WEEKS), most[::-1], frozenset({"white"})),
    ]
    beds = [Bed("one", 8.0, every)]
    if crops == 3 and draw.random() < 0.3:
        beds.append(Bed("two", 5.0, np.array([True, True, False])))
    limits = Limits(
        2.0,
        budget=float(draw.uniform(15, 60)),
        hours=np.full(WEEKS, draw.uniform(4, 12)),
        floor=float(draw.uniform(-30, 5)) if draw.random() < 0.7 else None,
        largest_share=0.8 if draw.random() < 0.3 else None,
        plants={"v0": float(draw.uniform(20, 80))} if draw.random() < 0.3 else {},
    )
    if draw.random() < 0.2:
        outlets[0] = replace(outlets[0], refused=frozenset({"v1"}))
    return Winter(tuple(grown), tuple(outlets), tuple(beds), limits)


def tried_out(winter: Winter) -> float:  # noqa: PLR0912 - one programme, row by row
    """The best expected net over every set of sowings and beds: -inf where none is allowed.

    Every sale is an unknown of its own here, and the worst fifth has a threshold and a shortfall
    for each season (Rockafellar & Uryasev 2000).
    """
    places = [
        (j, b)
        for j, crop in enumerate(winter.crops)
        for b, bed in enumerate(winter.beds)
        if np.all(bed.free[crop.takes])
    ]
    sold = [
        (d, j, g, m, w)
        for d in range(DRAWS)
        for j, crop in enumerate(winter.crops)
        for g in range(2)
        for m, outlet in enumerate(winter.outlets)
        for w in range(WEEKS)
        if not np.isnan(outlet.price(crop, g, w))
    ]
    missing = [(d, m, w) for d in range(DRAWS) for m in range(2) for w in range(WEEKS)]
    n, s = len(places), len(sold)
    size = n + s + len(missing) + 1 + DRAWS
    net = np.zeros((DRAWS, size))
    for i, (j, _) in enumerate(places):
        net[:, i] = -winter.crops[j].cost
    for i, (d, j, g, m, w) in enumerate(sold):
        net[d, n + i] = winter.outlets[m].price(winter.crops[j], g, w)
    for i, (d, m, _) in enumerate(missing):
        net[d, n + s + i] = -winter.outlets[m].missing_costs
    rows: list[np.ndarray] = []
    most: list[float] = []

    def row(high: float) -> np.ndarray:
        rows.append(np.zeros(size))
        most.append(high)
        return rows[-1]

    for d in range(DRAWS):
        for w in range(WEEKS):
            for j, crop in enumerate(winter.crops):
                for g in range(2):
                    r = row(0)
                    for i, key in enumerate(sold):
                        if (key[0], key[1], key[2], key[4]) == (d, j, g, w):
                            r[n + i] = 1
                    for i, (at, _) in enumerate(places):
                        if at == j:
                            r[i] = -crop.stems[d, g, w]
            for m, outlet in enumerate(winter.outlets):
                cap, least = row(float(outlet.at_most[w])), row(-float(outlet.at_least[w]))
                for i, key in enumerate(sold):
                    if (key[0], key[3], key[4]) == (d, m, w):
                        cap[n + i], least[n + i] = 1, -1
                least[n + s + missing.index((d, m, w))] = -1
    for b, bed in enumerate(winter.beds):
        for w in range(WEEKS):
            r = row(bed.metres)
            for i, (j, at) in enumerate(places):
                r[i] = float(at == b and winter.crops[j].takes[w])
    limits = winter.limits
    assert limits.budget is not None
    assert limits.hours is not None
    r = row(limits.budget)
    for i, (j, _) in enumerate(places):
        r[i] = winter.crops[j].cash
    for w in range(WEEKS):
        r = row(float(limits.hours[w]))
        for i, (j, _) in enumerate(places):
            crop = winter.crops[j]
            r[i] = crop.hours[w] + crop.stem_hours * crop.stems[:, :, w].sum(axis=1).mean()
    for variety, plants in limits.plants.items():
        r = row(plants)
        for i, (j, _) in enumerate(places):
            r[i] = (winter.crops[j].variety == variety) * winter.crops[j].density
    if limits.largest_share is not None:
        for variety in ("v0", "v1"):
            r = row(0)
            for i, (j, _) in enumerate(places):
                r[i] = (winter.crops[j].variety == variety) - limits.largest_share
    if limits.floor is not None:
        r = row(-limits.floor)
        r[-1 - DRAWS], r[-DRAWS:] = -1, 1 / (0.2 * DRAWS)
        for d in range(DRAWS):
            r = row(0)
            r[:] = -net[d]
            r[-1 - DRAWS] += 1
            r[size - DRAWS + d] -= 1
    best = -np.inf
    table, high = np.array(rows), np.array(most)
    free: list[tuple[float | None, float | None]] = [(0, None)] * (s + len(missing))
    for chosen in product((False, True), repeat=n):
        length = [
            (2.0, winter.beds[b].metres) if on else (0.0, 0.0)
            for on, (_, b) in zip(chosen, places, strict=True)
        ]
        bounds = [*length, *free, (None, None), *[(0, None)] * DRAWS]
        found = linprog(-net.mean(axis=0), A_ub=table, b_ub=high, bounds=bounds, method="highs")
        if found.status == 0:
            best = max(best, -float(found.fun))
    return best


@pytest.mark.parametrize(
    "number",
    [*range(40), *(pytest.param(number, marks=pytest.mark.slow) for number in range(40, 200))],
)
def test_no_set_of_sowings_earns_more(number: int) -> None:
    draw = np.random.default_rng(number)
    winter = farm(draw, 3 if number % 4 else 4)
    best = tried_out(winter)
    if best == -np.inf:
        with pytest.raises(OrderImpossible):
            winter_plan(winter, 1e-7)
        return
    plan = winter_plan(winter, 1e-7)
    assert plan.expected == pytest.approx(best, rel=1e-5, abs=1e-5)
    metres = plan.metres
    assert np.all((metres < 1e-6) | (metres >= 2 - 1e-6))
    for bed in winter.beds:
        here = [
            (line.metres, winter.crops[line.place].takes)
            for line in plan.lines
            if line.bed == bed.name
        ]
        taken = sum((length * takes for length, takes in here), np.zeros(WEEKS))
        assert np.all(taken <= bed.metres * bed.free + 1e-6)


def test_beds_free_in_the_same_weeks_are_filled_like_one() -> None:
    every = np.ones(WEEKS, dtype=bool)
    whole = farm(np.random.default_rng(3))
    one = Winter(whole.crops, whole.outlets, (Bed("a", 9.0, every),), whole.limits)
    three = tuple(Bed(name, 3.0, every) for name in "abc")
    split = winter_plan(Winter(whole.crops, whole.outlets, three, whole.limits), 1e-7)
    assert split.expected == pytest.approx(winter_plan(one, 1e-7).expected)
    for bed in three:
        here = [line for line in split.lines if line.bed == bed.name]
        taken = sum((line.metres * whole.crops[line.place].takes for line in here), np.zeros(WEEKS))
        assert np.all(taken <= 3 + 1e-6)


def test_the_worst_fifth_is_the_mean_of_the_lowest() -> None:
    assert worst_fifth(np.arange(10.0)) == pytest.approx(0.5)
    # A fifth of six seasons is one and a fifth of another.
    assert worst_fifth(np.arange(6.0)) == pytest.approx((0 + 0.2 * 1) / 1.2)


def test_the_corners_price_a_week_as_a_linear_programme_does() -> None:
    draw = np.random.default_rng(1)
    for _ in range(100):
        classes, outlets = draw.integers(1, 4, 2)
        prices = np.round(draw.uniform(0.1, 1, (classes, outlets)), 2)
        prices[draw.random(prices.shape) < 0.25] = np.nan
        stems, room = draw.uniform(0, 10, (3, classes)), draw.uniform(0, 10, outlets)
        values, _ = corners(prices).worth(stems, room)
        sums = np.vstack(
            [np.kron(np.eye(classes), np.ones(outlets)), np.tile(np.eye(outlets), classes)]
        )
        bounds = [(0, 0 if np.isnan(price) else None) for price in prices.ravel()]
        for row, value in zip(stems, values, strict=True):
            found = linprog(
                -np.nan_to_num(prices).ravel(), A_ub=sums, b_ub=np.r_[row, room], bounds=bounds
            )
            assert value == pytest.approx(-found.fun, abs=1e-9)


@pytest.mark.parametrize("number", range(12))
def test_what_is_sold_adds_up_to_the_net_of_the_plan(number: int) -> None:
    """The amounts are solved for apart from the dual corners that value a plan."""
    winter = farm(np.random.default_rng(number))
    try:
        plan = winter_plan(winter)
    except OrderImpossible:
        return
    found = sold(plan)
    costs = sum(crop.cost * metres for crop, metres in zip(winter.crops, plan.metres, strict=True))
    assert found.by_crop.sum() - found.charges - costs == pytest.approx(plan.expected, abs=1e-6)
    for place, outlet in enumerate(winter.outlets):
        assert np.all(found.stems[place] <= outlet.at_most + 1e-7)
        assert np.all(found.missing[place] >= outlet.at_least - found.stems[place] - 1e-7)
        assert np.all(found.missing[place] <= outlet.at_least + 1e-7)


def test_stems_go_to_the_better_market_first_and_what_lacks_is_counted() -> None:
    # 4 m of 10 stems are 40: a takes its 15 promised and 5 more at 1.00, b 20 of 30 at 0.50.
    stems = np.full((2, 1, 1), 10.0)
    every = np.ones(1, dtype=bool)
    crop = Crop("c", "v", "", "s", "", stems, 1.0, 0.0, np.zeros(1), every)
    outlets = (
        Outlet("a", {"c": np.array([[1.0]])}, np.array([15.0]), np.array([20.0]), missing_costs=1),
        Outlet("b", {"c": np.array([[0.5]])}, np.array([25.0]), np.array([30.0])),
    )
    winter = Winter((crop,), outlets, (Bed("one", 4.0, every),))
    found = sold(winter_plan(winter))
    assert found.stems[:, 0] == pytest.approx([20, 20])
    assert found.missing[:, 0] == pytest.approx([0, 5])
    assert found.by_crop == pytest.approx([20 * 1.0 + 20 * 0.5])
    assert found.charges == pytest.approx(0)


def test_a_search_out_of_time_does_not_say_that_nothing_fits(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    class NoneYet:
        x, status, fun, mip_dual_bound = None, 1, None, None

    search = _Search(farm(np.random.default_rng(1)))
    monkeypatch.setattr("scipy.optimize.milp", lambda *_, **__: NoneYet())
    with pytest.raises(OrderImpossible, match="within 60 s, but there may be one"):
        search.settle(0.01, np.ones(len(search.places), dtype=bool), np.inf)
