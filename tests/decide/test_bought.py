"""What is bought as plugs: one plant for each plant set, and no seed beside them."""

from __future__ import annotations

from decimal import Decimal

import pytest

from trials.decide import (
    Need,
    OnHand,
    Sowing,
    bed_needs,
    bought_as_plugs,
    less_on_hand,
    not_sold,
    on_offer,
    order,
    passed_over,
    seed_prices,
    seed_saving,
    stock_of,
)
from trials.model.trial import SeedHouse, SeedItem, SeedSaving, SoldAs

HOUSE = SeedHouse("H", "EUR", 5.0, None, 0.0)
PLUGS, OWN = SoldAs.PLUGS, SoldAs.OWN_SEED
SEED_OF_A = SeedItem("H", "a50", "A", 50, 3.0, 1, True)
PLUGS_OF_A = SeedItem("H", "a-plugs", "A", 72, 21.6, 1, True, sold_as=PLUGS)
PLUGS_OF_B = SeedItem("H", "b-plugs", "B", 72, 28.8, 1, True, sold_as=PLUGS)
OWN_OF_C = SeedItem("us", "c", "C", 500, 2.0, 1, True, sold_as=OWN)
ITEMS = (SEED_OF_A, PLUGS_OF_A, PLUGS_OF_B, OWN_OF_C)


def test_plugs_are_bought_of_what_is_named_and_of_what_has_no_seed() -> None:
    assert bought_as_plugs(ITEMS) == {"B"}
    assert bought_as_plugs(ITEMS, named=["A"]) == {"A", "B"}
    assert bought_as_plugs(ITEMS, in_stock=["B"]) == set()
    gone = SeedItem("H", "a50", "A", 50, 3.0, 1, False)
    assert bought_as_plugs((gone, PLUGS_OF_A)) == {"A"}


def test_own_seed_is_never_ordered() -> None:
    assert on_offer(ITEMS, {"B"}) == (SEED_OF_A, PLUGS_OF_B)
    assert on_offer(ITEMS, {"A", "B"}) == (PLUGS_OF_A, PLUGS_OF_B)
    assert not_sold(["A", "C", "Z"], ITEMS) == ("C", "Z")


def test_a_plug_stands_for_a_plant_without_germination_or_overage() -> None:
    sowing = Sowing(bed_metres=10.0)
    # 5 m of bed at 10 plants per metre are 50 plants; of seed 50 / (0.8 x 0.9) x 1.1 = 76.4.
    plugs, seed = bed_needs(sowing, ["B", "A"], 10.0, {"A": 0.8, "B": 0.8}, {"B"})
    assert (plugs.plants_set, plugs.to_buy, plugs.plugs) == (50, 50, True)
    assert (seed.plants_set, seed.to_buy, seed.plugs) == (50, 77, False)


def test_a_tray_of_plugs_is_bought_beside_packets_of_seed() -> None:
    needs = [Need("A", 77), Need("B", 80, plugs=True)]
    found = order(needs, on_offer(ITEMS, {"B"}), [HOUSE])
    assert [(line.item, line.packs, line.plugs) for line in found.lines] == [
        ("a50", 2, False),
        ("b-plugs", 2, True),
    ]
    assert found.total == Decimal("68.60")  # 2 x 3 + 2 x 28.80 + 5


def test_plugs_missing_from_a_budget_are_said_to_be_plugs() -> None:
    found = order([Need("B", 80, plugs=True)], on_offer(ITEMS, {"B"}), [HOUSE], budget=40.0)
    assert [(gap.seeds_short, gap.plugs) for gap in found.unfilled] == [(8, True)]


def test_no_seed_counts_towards_plugs_nor_own_seed_that_may_not_be_saved() -> None:
    sowing = Sowing(bed_metres=10.0)
    lots = (
        OnHand("A", 20, 0.8, "a"),
        OnHand("A", 20, 0.8, "own", own=True),
        OnHand("A", 20, 0.8, "barred", own=True, saving=SeedSaving.PROTECTED),
    )
    (seed,) = less_on_hand(bed_needs(sowing, ["A"], 5.0, {"A": 0.8}), lots)
    assert (seed.on_hand, seed.to_buy) == (40, 37)
    plugs = bed_needs(sowing, ["A"], 5.0, {"A": 0.8}, {"A"})
    assert less_on_hand(plugs, lots) == plugs
    assert stock_of(plugs, lots) == ()


def test_the_gravest_word_on_saving_seed_holds() -> None:
    def row(saving: SeedSaving | None) -> SeedItem:
        return SeedItem("H", "x", "A", 50, 3.0, 1, True, seed_saving=saving)

    assert seed_saving([row(None)]) == {}
    some = [row(SeedSaving.ALLOWED), row(SeedSaving.HYBRID), row(None)]
    assert seed_saving(some) == {"A": SeedSaving.HYBRID}
    assert seed_saving([*some, row(SeedSaving.PROTECTED)]) == {"A": SeedSaving.PROTECTED}


def test_sold_out_seed_is_not_replaced_by_plugs() -> None:
    gone = SeedItem("H", "a50", "A", 50, 3.0, 1, False)
    (found,) = passed_over([gone], [gone, PLUGS_OF_A], [HOUSE])
    assert found.instead is None
    assert seed_prices([PLUGS_OF_A]) == {"A": pytest.approx(0.3)}
