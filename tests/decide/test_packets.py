from __future__ import annotations

from decimal import Decimal

import pytest

from trials.decide import Need, OrderLine, Parcel, SeedOrder, Unfilled, UnfilledReason, seed_prices
from trials.model.trial import SeedItem


def test_totals_add_up_to_the_cent() -> None:
    lines = (
        OrderLine("A", "a", "u", 3, 50, Decimal("4.35")),
        OrderLine("A", "b", "v", 1, 100, Decimal("0.10")),
    )
    parcels = (
        Parcel("A", lines, Decimal("6.95")),
        Parcel("B", (OrderLine("B", "c", "u", 2, 10, Decimal("1.01")),), Decimal("0.00")),
    )
    whole = SeedOrder(parcels, (Need("u", 170),), (), (), "EUR", Decimal("25.00"), Decimal("30.00"))
    assert lines[0].cost == Decimal("13.05")
    assert lines[0].seeds == 150
    assert parcels[0].goods == Decimal("13.15")
    assert parcels[0].total == Decimal("20.10")
    assert whole.goods == Decimal("15.17")
    assert whole.shipping == Decimal("6.95")
    assert whole.total == Decimal("22.12")
    assert whole.cost_of_the_rest == Decimal("7.88")
    assert whole.seeds_of("u") == 170
    assert len(whole.lines) == 3
    assert Unfilled("u", 200, 170, UnfilledReason.OVER_BUDGET).seeds_short == 30


def test_the_price_of_a_seed_is_the_lowest_on_offer() -> None:
    items = [
        SeedItem("A", "a", "u", 50, 4.0, 1, True),
        SeedItem("A", "a", "u", 50, 3.0, 5, True),
        SeedItem("B", "b", "u", 100, 2.0, 1, False),
        SeedItem("B", "c", "gone", 100, 2.0, 1, False),
    ]
    assert seed_prices(items) == {"u": 0.06}


@pytest.mark.parametrize(("seeds", "weight"), [(-1, 1), (5, 0)])
def test_needs_that_cannot_be_are_refused(seeds: int, weight: int) -> None:
    with pytest.raises(ValueError, match="weight"):
        Need("v", seeds, weight)
