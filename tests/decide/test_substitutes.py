"""What cannot be had is said, with what to turn to; nothing takes its place unasked."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from trials.decide import (
    Need,
    Ordering,
    Rules,
    SDs,
    SeasonMeans,
    Sowing,
    Standing,
    order,
    outlook,
    passed_over,
    seed_prices,
    standings,
    substitutes,
)
from trials.model.trial import Better, SeedHouse, SeedItem
from trials.report.order_page import unavailable_sentence

HOUSES = [SeedHouse("Barn", "EUR", 2.0, None, 0.0), SeedHouse("Loft", "EUR", 2.0, None, 0.0)]
GONE = SeedItem("Barn", "A50", "Ash", 50, 3.0, 1, False)
GONE_BY_FOUR = SeedItem("Barn", "A50", "Ash", 50, 2.5, 4, False)
SMALL = SeedItem("Loft", "a20", "Ash", 20, 2.0, 1, True)
LARGE = SeedItem("Loft", "a200", "Ash", 200, 14.0, 1, True)
BIRCH = SeedItem("Loft", "b50", "Birch", 50, 4.0, 1, True)
CLOVER = SeedItem("Loft", "c50", "Clover", 50, 4.0, 1, True)
DOCK = SeedItem("Loft", "d50", "Dock", 50, 1.0, 1, True)


def standing_of(means: dict[str, float]) -> tuple[Standing, ...]:
    """One season with little error: two tied, one near them, one to drop."""
    season = SeasonMeans(
        2025, "t", tuple(means), np.array([*means.values()]), 0.04 * np.eye(len(means)), np.inf
    )
    found = outlook([season], better=Better.HIGHER, sds=SDs(1e3, 0.0))
    return standings(found, Rules(tie_share=0.02, drop_chance_best=0.0005))


MEANS = {"Ash": 12.0, "Birch": 11.9, "Clover": 11.5, "Dock": 3.0}


def ordering(items: list[SeedItem], *needs: str) -> Ordering:
    bought = order([Need(name, 90) for name in needs], items, HOUSES, allow_unfilled=True)
    return Ordering(
        "aster",
        2026,
        Sowing(10.0),
        12.0,
        (),
        bought,
        passed_over(bought.unavailable, items, HOUSES),
        substitutes(bought, standing_of(MEANS), seed_prices(items)),
    )


def test_a_packet_that_is_gone_stands_beside_the_cheapest_seed_of_its_variety() -> None:
    found = ordering([GONE_BY_FOUR, GONE, SMALL, LARGE], "Ash")
    (only,) = found.passed_over  # its price breaks are one packet
    assert (only.gone.item, only.gone.price_of_100) == ("A50", 6.0)
    assert only.instead is not None
    assert (only.instead.item, only.instead.price_of_100) == ("a200", 7.0)
    assert found.substitutes == ()
    said = unavailable_sentence(found)
    assert "Barn is sold out of A50 (Ash, 50 seeds at 6.00 EUR per 100)." in said
    assert "The lowest price per seed now: a200 from Loft, 200 seeds at 7.00 EUR per 100." in said


def test_seed_in_the_same_currency_comes_first() -> None:
    houses = [*HOUSES, SeedHouse("Coast", "GBP", 2.0, None, 0.0)]
    abroad = SeedItem("Coast", "x", "Ash", 500, 1.0, 1, True)
    (only,) = passed_over([GONE], [abroad, SMALL], houses)
    assert only.instead is not None
    assert only.instead.house == "Loft"
    (only,) = passed_over([GONE], [abroad], houses)
    assert only.instead is not None
    assert only.instead.currency == "GBP"


def test_a_variety_that_cannot_be_had_names_the_next_and_does_not_order_it() -> None:
    found = ordering([GONE, BIRCH, CLOVER, DOCK], "Ash")
    (only,) = found.substitutes
    assert (only.missing, only.instead, only.tied) == ("Ash", "Birch", True)
    assert only.seed_price == pytest.approx(0.08)
    assert found.order.lines == ()
    said = unavailable_sentence(found)
    assert "No other house has Ash." in said
    assert "You could order Birch instead of Ash: tied with it for the best (from 8.00" in said
    assert "It is not in this order" in said


def test_what_is_ordered_already_or_not_on_offer_stands_in_for_nothing() -> None:
    (only,) = ordering([GONE, BIRCH, CLOVER, DOCK], "Ash", "Birch").substitutes
    assert (only.instead, only.tied) == ("Clover", False)
    gone_too = replace(BIRCH, available=False)
    (only,) = ordering([GONE, gone_too, DOCK], "Ash").substitutes
    assert only.instead is None  # Clover has no packet, Dock is dropped
    said = unavailable_sentence(ordering([GONE, gone_too, DOCK], "Ash"))
    assert "No other variety that did well enough can replace Ash." in said


def test_each_variety_stands_in_once() -> None:
    found = ordering([GONE, BIRCH, CLOVER, replace(DOCK, available=False)], "Ash", "Dock")
    assert [(each.missing, each.instead) for each in found.substitutes] == [
        ("Ash", "Birch"),
        ("Dock", "Clover"),
    ]


def test_a_budget_that_does_not_reach_asks_for_no_substitute() -> None:
    items = [LARGE, BIRCH]
    bought = order([Need("Ash", 200)], items, HOUSES, 5.0, allow_unfilled=True)
    assert bought.unfilled
    assert substitutes(bought, standing_of(MEANS), seed_prices(items)) == ()
