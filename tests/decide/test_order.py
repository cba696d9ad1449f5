from __future__ import annotations

import random
from collections.abc import Sequence
from decimal import Decimal
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trials.decide import Need, SeedOrder, UnfilledReason, order
from trials.errors import OrderImpossible, UnknownName
from trials.model.trial import SeedHouse, SeedItem


def house(
    name: str, shipping: float = 0, free_from: float | None = None, minimum: float = 0
) -> SeedHouse:
    return SeedHouse(name, "EUR", shipping, free_from, minimum)


def item(
    house: str, code: str, variety: str, seeds: int, price: float, packs: int = 1, have: bool = True
) -> SeedItem:
    return SeedItem(house, code, variety, seeds, price, packs, have)


def bought(result: SeedOrder) -> list[tuple[str, str, int]]:
    return [(line.house, line.item, line.packs) for line in result.lines]


def test_packet_sizes_are_mixed_to_the_lowest_cost() -> None:
    # 250 seeds: two hundreds and a fifty cost 11.00, three hundreds 12.00, five fifties 15.00
    items = [item("H", "big", "v", 100, 4.0), item("H", "small", "v", 50, 3.0)]
    result = order([Need("v", 250)], items, [house("H", shipping=2.5)])
    assert bought(result) == [("H", "big", 2), ("H", "small", 1)]
    assert (result.goods, result.shipping, result.total) == (
        Decimal("11.00"),
        Decimal("2.50"),
        Decimal("13.50"),
    )
    assert result.currency == "EUR"
    assert result.unfilled == ()
    assert result.seeds_of("v") == 250


def test_seed_by_weight_is_counted_and_mixed_with_packets_by_number() -> None:
    # 900 seeds: 2.5 g of 320 seeds a gram and a hundred cost 11.00, nine hundreds 27.00.
    ounce = SeedItem("H", "by weight", "v", 800, 8.0, 1, True, grams=2.5)
    result = order([Need("v", 900)], [ounce, item("H", "p", "v", 100, 3.0)], [house("H")])
    assert bought(result) == [("H", "by weight", 1), ("H", "p", 1)]
    assert [line.grams_per_pack for line in result.lines] == [2.5, None]
    assert result.total == Decimal("11.00")


def test_a_price_break_lowers_the_price_of_every_pack() -> None:
    # nine packs at 5.00 are 45.00, ten at 4.00 are 40.00
    items = [item("H", "p", "v", 100, 5.0), item("H", "p", "v", 100, 4.0, 10)]
    result = order([Need("v", 900)], items, [house("H")])
    assert bought(result) == [("H", "p", 10)]
    assert result.lines[0].price_each == Decimal("4.00")
    assert result.lines[0].seeds == 1000
    few = order([Need("v", 300)], items, [house("H")])
    assert few.total == Decimal("15.00")


def test_a_dearer_price_by_number_holds_too() -> None:
    # An odd list: from three packs on each costs more. Two at 2.00 cannot be stretched to three.
    items = [item("H", "p", "v", 100, 2.0), item("H", "p", "v", 100, 3.0, 3)]
    assert order([Need("v", 300)], items, [house("H")]).total == Decimal("9.00")


def test_an_item_sold_by_the_case_is_bought_by_the_case() -> None:
    items = [item("H", "case", "v", 100, 2.0, 5)]
    assert bought(order([Need("v", 100)], items, [house("H")])) == [("H", "case", 5)]


def test_shipping_decides_how_many_houses_are_used() -> None:
    items = [
        item("A", "u", "u", 100, 4.0),
        item("A", "v", "v", 100, 6.0),
        item("B", "v", "v", 100, 4.0),
        item("C", "v", "v", 100, 5.0),
    ]
    needs = [Need("u", 100), Need("v", 100)]
    dear = [house(name, shipping=3.0) for name in "ABC"]
    assert bought(order(needs, items, dear)) == [("A", "u", 1), ("A", "v", 1)]
    cheap = [house(name, shipping=1.0) for name in "ABC"]
    assert bought(order(needs, items, cheap)) == [("A", "u", 1), ("B", "v", 1)]


def test_a_pack_more_can_free_the_shipping() -> None:
    # 3 x 9.00 + 6.00 shipping is 33.00; a fourth pack reaches 36.00 with shipping free: dearer.
    # With free shipping from 30.00 and small packs of 3.00, 27.00 + 3.00 = 30.00 wins.
    items = [item("H", "p", "v", 100, 9.0), item("H", "s", "v", 10, 3.0)]
    result = order([Need("v", 300)], items, [house("H", shipping=6.0, free_from=30.0)])
    assert result.total == Decimal("30.00")
    assert result.parcels[0].shipping == 0


def test_a_minimum_order_is_reached_or_the_house_left_out() -> None:
    items = [item("A", "a", "v", 100, 2.0), item("B", "b", "v", 100, 7.0)]
    tempting = [house("A", minimum=10.0), house("B")]
    assert bought(order([Need("v", 100)], items, tempting)) == [("B", "b", 1)]
    only = order([Need("v", 100)], items[:1], tempting)
    assert (bought(only), only.total) == ([("A", "a", 5)], Decimal("10.00"))


def test_a_minimum_is_reached_by_more_packs_than_needed_where_that_is_cheapest() -> None:
    # Five packs reach the minimum at 10.00; the other house asks 12.00 for the one that is needed.
    items = [item("A", "a", "v", 100, 2.0), item("B", "b", "v", 100, 12.0)]
    result = order([Need("v", 100)], items, [house("A", minimum=10.0), house("B")])
    assert (bought(result), result.total) == ([("A", "a", 5)], Decimal("10.00"))


def test_equal_costs_go_to_the_earlier_house_however_the_list_is_sorted() -> None:
    items = [item(name, "p", "v", 100, 4.0) for name in "CAB"]
    houses = [house(name, shipping=2.0) for name in "BCA"]
    for shuffle in (items, items[::-1], [items[1], items[0], items[2]]):
        assert bought(order([Need("v", 200)], shuffle, houses)) == [("A", "p", 2)]


def test_an_item_not_available_is_passed_over_and_reported() -> None:
    gone = item("A", "a", "v", 100, 2.0, have=False)
    result = order(
        [Need("v", 100)], [gone, item("B", "b", "v", 100, 7.0)], [house("A"), house("B")]
    )
    assert bought(result) == [("B", "b", 1)]
    assert result.unavailable == (gone,)


def test_varieties_nobody_can_send_are_refused_by_name_or_left_unfilled() -> None:
    items = [item("A", "a", "v", 100, 2.0), item("A", "g", "gone", 100, 2.0, have=False)]
    needs = [Need("v", 100), Need("gone", 50), Need("unheard", 30)]
    with pytest.raises(
        OrderImpossible, match=r"gone \(it is listed.*unheard \(no price list"
    ) as refusal:
        order(needs, items, [house("A")])
    assert " v (" not in str(refusal.value)
    result = order(needs, items, [house("A")], allow_unfilled=True)
    assert bought(result) == [("A", "a", 1)]
    assert [(u.variety, u.seeds_short, u.reason) for u in result.unfilled] == [
        ("gone", 50, UnfilledReason.NOT_AVAILABLE),
        ("unheard", 30, UnfilledReason.NOT_LISTED),
    ]


def test_nothing_needed_orders_nothing() -> None:
    result = order([Need("v", 0)], [item("A", "a", "v", 1, 1.0)], [house("A", shipping=3.0)])
    assert result.parcels == ()
    assert result.total == 0
    assert order([Need("x", 5)], [], [], allow_unfilled=True).currency is None


def test_houses_of_another_currency_are_left_out_and_named() -> None:
    abroad = SeedHouse("B", "USD", 0, None, 0)
    houses = [house("A"), abroad]
    items = [
        item("A", "a", "v", 100, 2.0),
        item("B", "b", "v", 100, 1.0),
        item("B", "c", "w", 100, 1.0),
        item("A", "d", "u", 100, 2.0),
    ]
    needs = [Need("u", 1), Need("v", 1), Need("w", 1)]
    result = order(needs, items, houses, allow_unfilled=True)  # two varieties each: EUR is first
    assert bought(result) == [("A", "a", 1), ("A", "d", 1)]
    assert (result.currency, result.left_out) == ("EUR", (abroad,))
    assert [(u.variety, u.reason) for u in result.unfilled] == [
        ("w", UnfilledReason.OTHER_CURRENCY)
    ]
    asked = order(needs, items, houses, currency="USD", allow_unfilled=True)
    assert (asked.currency, asked.left_out, asked.total) == ("USD", (houses[0],), Decimal("2.00"))
    # Most of the varieties can be had in USD now.
    assert order(needs[1:], items, houses).currency == "USD"
    with pytest.raises(OrderImpossible, match=r"CHF.*EUR, USD"):
        order(needs, items, houses, currency="CHF", allow_unfilled=True)
    assert order([Need("v", 1)], items[:1], houses).left_out == ()


def test_a_budget_that_does_not_reach_buys_what_matters_most() -> None:
    items = [item("A", "u", "u", 100, 4.0), item("A", "v", "v", 100, 4.0)]
    needs = [Need("u", 100, weight=1), Need("v", 100, weight=2)]
    result = order(needs, items, [house("A", shipping=1.0)], budget=6.0)
    assert bought(result) == [("A", "v", 1)]
    assert [(u.variety, u.seeds_short, u.reason) for u in result.unfilled] == [
        ("u", 100, UnfilledReason.OVER_BUDGET)
    ]
    assert (result.total, result.cost_in_full, result.cost_of_the_rest) == (
        Decimal("5.00"),
        Decimal("9.00"),
        Decimal("4.00"),
    )
    assert result.budget == Decimal("6.00")
    enough = order(needs, items, [house("A", shipping=1.0)], budget=9.0)
    assert enough.unfilled == ()
    assert enough.cost_of_the_rest == 0
    nothing = order(needs, items, [house("A", shipping=1.0)], budget=0.0)
    assert nothing.parcels == ()
    assert len(nothing.unfilled) == 2


@pytest.mark.parametrize(
    ("items", "houses", "words"),
    [
        ([item("A", "a", "v", 1, 2.005)], [house("A")], "whole cents"),
        ([item("A", "a", "v", 1, -2.0)], [house("A")], "not below 0"),
        ([item("A", "a", "v", 1, 2.0), item("A", "a", "v", 2, 2.0, 5)], [house("A")], "sizes"),
        ([item("A", "a", "v", 1, 2.0), item("A", "a", "v", 1, 1.0)], [house("A")], "two prices"),
        ([item("A", "a", "v", 1, 0.0)], [house("A", minimum=5.0)], "minimum orders"),
    ],
)
def test_lists_that_cannot_be_are_refused(
    items: list[SeedItem], houses: list[SeedHouse], words: str
) -> None:
    with pytest.raises(OrderImpossible, match=words):
        order([Need("v", 1)], items, houses)


def test_an_unknown_house_is_refused_with_the_nearest() -> None:
    with pytest.raises(UnknownName, match="Did you mean 'Hollow'"):
        order([Need("v", 1)], [item("Holow", "a", "v", 1, 2.0)], [house("Hollow")])


def test_a_variety_is_needed_once() -> None:
    with pytest.raises(ValueError, match="once"):
        order([Need("v", 1), Need("v", 2)], [], [])


def test_stray_digits_of_money_are_no_fraction_of_a_cent() -> None:
    result = order([Need("v", 1)], [item("A", "a", "v", 1, 4.95 + 0.9)], [house("A")])
    assert result.total == Decimal("5.85")


def test_an_order_that_takes_too_long_is_refused_rather_than_left_to_the_machine(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("trials.decide.programme.TIME_LIMIT_S", 0.0)
    draw = random.Random(4)
    items = [
        item(name, f"{variety}{size}", f"v{variety}", size, round(draw.uniform(2, 9), 2))
        for name in "ABC"
        for variety in range(8)
        for size in (20, 50, 70)
    ]
    needs = [Need(f"v{variety}", 200 + 37 * variety) for variety in range(8)]
    with pytest.raises(OrderImpossible, match="two parts"):
        order(needs, items, [house(name, 4.0, 60.0, 20.0) for name in "ABC"])


# ------------------------------------------------------------------- against trying everything


def tried_out(
    needs: Sequence[Need],
    items: Sequence[SeedItem],
    houses: Sequence[SeedHouse],
    budget: int | None,
) -> tuple[int, int]:
    """The least weighted shortage within the budget, and its least cost in cents, by trying all.

    Prices are whole euros here. Without a budget no shortage is allowed.
    """
    codes = sorted({(i.house, i.item) for i in items})
    rows = {code: [i for i in items if (i.house, i.item) == code] for code in codes}
    tops = []
    for code in codes:
        first = rows[code][0]
        wanted = next(n.seeds for n in needs if n.variety == first.variety)
        terms = next(h for h in houses if h.name == first.house)
        reach = max(terms.minimum_order, terms.free_shipping_from or 0)
        cheapest = min(i.price for i in rows[code])
        breaks = max(i.from_packs for i in rows[code])
        tops.append(int(max(-(-wanted // first.seeds), breaks, -(-reach // cheapest))) + 1)
    counts = np.array(list(product(*(range(top + 1) for top in tops))), dtype=np.int64)
    legal = np.ones(len(counts), dtype=bool)
    goods = {h.name: np.zeros(len(counts)) for h in houses}
    seeds = {n.variety: np.zeros(len(counts)) for n in needs}
    for column, code in enumerate(codes):
        n = counts[:, column]
        price = np.zeros(len(counts))
        found = n == 0
        for row in sorted(rows[code], key=lambda i: i.from_packs):
            price = np.where(n >= row.from_packs, row.price, price)
            found |= n >= row.from_packs
        legal &= found
        goods[code[0]] += n * price
        seeds[rows[code][0].variety] += n * rows[code][0].seeds
    cost = np.zeros(len(counts))
    for terms in houses:
        here = goods[terms.name]
        used = np.zeros(len(counts), dtype=bool)
        for column, code in enumerate(codes):
            used |= (code[0] == terms.name) & (counts[:, column] > 0)
        legal &= ~used | (here >= terms.minimum_order)
        free = terms.free_shipping_from is not None and here >= terms.free_shipping_from
        cost += here + np.where(used & ~np.asarray(free), terms.shipping, 0)
    short = np.zeros(len(counts))
    for need in needs:
        short += need.weight * np.maximum(need.seeds - seeds[need.variety], 0)
    legal &= (short == 0) if budget is None else (cost <= budget)
    least = short[legal].min()
    return int(least), round(100 * cost[legal & (short == least)].min())


euros = st.integers(1, 9)


@st.composite
def markets(draw: st.DrawFn) -> tuple[list[Need], list[SeedItem], list[SeedHouse]]:
    varieties = ["u", "v"]
    houses = [
        house(
            name,
            shipping=draw(st.integers(0, 6)),
            free_from=draw(st.none() | st.integers(4, 15)),
            minimum=draw(st.integers(0, 8)),
        )
        for name in "ABC"
    ]
    items: list[SeedItem] = []
    for code in range(draw(st.integers(2, 4))):
        at = draw(st.sampled_from("ABC"))
        # Every variety is on offer somewhere.
        variety = varieties[code] if code < 2 else draw(st.sampled_from(varieties))
        seeds, start = draw(st.integers(1, 6)), draw(st.integers(1, 2))
        items.append(item(at, f"i{code}", variety, seeds, draw(euros), start))
        if draw(st.booleans()):
            later = start + draw(st.integers(1, 3))
            items.append(item(at, f"i{code}", variety, seeds, draw(euros), later))
    needs = [Need(v, draw(st.integers(1, 12)), draw(st.integers(1, 3))) for v in varieties]
    return needs, items, houses


@pytest.mark.slow
@settings(max_examples=200, deadline=None, derandomize=True)
@given(market=markets(), share=st.floats(0, 1.1))
def test_no_order_is_cheaper(
    market: tuple[list[Need], list[SeedItem], list[SeedHouse]], share: float
) -> None:
    needs, items, houses = market
    full = order(needs, items, houses)
    assert (0, int(full.total * 100)) == tried_out(needs, items, houses, None)

    budget = int(float(full.total) * share)
    within = order(needs, items, houses, float(budget))
    short = sum(n.weight * max(n.seeds - within.seeds_of(n.variety), 0) for n in needs)
    assert (short, int(within.total * 100)) == tried_out(needs, items, houses, budget)
    assert within.total <= budget
    assert within.cost_in_full == full.total

    shuffled = items[:]
    random.Random(1).shuffle(shuffled)
    assert order(needs[::-1], shuffled, houses[::-1]) == full
