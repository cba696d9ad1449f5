"""The page of a seed order: from the bed to the seeds of each variety, and what it all costs."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from trials.decide import Need, Ordering, OrderLine, Parcel, SeedOrder, Sowing, StemsWanted
from trials.decide.packets import Unfilled, UnfilledReason
from trials.decide.sowing import VarietyNeed
from trials.model.trial import SeedHouse
from trials.model.units import UnitSystem
from trials.report.order_page import (
    beds_sentence,
    left_out_sentence,
    lists_sentence,
    needs_table,
    order_page,
    parcel_sentence,
    parcel_table,
    seeds_a_pack,
    short_sentence,
    total_sentence,
)
from trials.report.what_if import order_if_table

LINE = OrderLine("Barn", "e50", "Ember", 3, 50, Decimal("4.35"))
PARCEL = Parcel("Barn", (LINE,), Decimal("6.90"))
ORDER = SeedOrder((PARCEL,), (Need("Ember", 140),), (), (), "EUR", None, Decimal("19.95"))
NEEDS = (
    VarietyNeed("Ember", 12.5, 1200, 1400, 0.8, False, 1300, 100),
    VarietyNeed("Fern", None, 64, 90, 0.75, True, 90),
)


def ordering(**changed: Any) -> Ordering:
    sowing = Sowing(12.5, successions=2, trial_plants=64)
    return replace(Ordering("zinnia", 2027, sowing, 16.0, NEEDS, ORDER), **changed)


def test_each_variety_has_a_row_from_its_bed_to_its_seeds() -> None:
    table = needs_table(ordering())
    assert table.rows == (
        ("Ember", "12.5 m", "1,200", "80%", "1,400", "100", "1,300", "150"),
        ("Fern", "trial plots", "64", "75% assumed", "90", "0", "90", "0"),
    )
    # Words lean left, figures right.
    assert [column.right for column in table.columns] == [False, *[True] * 7]
    fern = needs_table(ordering(needs=NEEDS[1:]))
    assert fern.rows == (("Fern", "trial plots", "64", "75% assumed", "90", "0"),)
    assert "in stock" not in [column.heading for column in fern.columns]
    assert needs_table(ordering(), UnitSystem.US).rows[0][1] == "41 ft"


def test_a_parcel_has_a_row_for_each_item() -> None:
    table = parcel_table(PARCEL)
    assert table.rows == (("e50", "Ember", "3", "50", "4.35", "13.05"),)
    assert [column.right for column in table.columns] == [False, False, *[True] * 4]
    assert seeds_a_pack(replace(LINE, seeds_per_pack=1200, grams_per_pack=2.5)) == "1,200 (2.5 g)"
    said = parcel_sentence(PARCEL, "EUR")
    assert said == "goods 13.05 EUR, shipping 6.90 EUR, together 19.95 EUR"
    assert "shipping free" in parcel_sentence(replace(PARCEL, shipping=Decimal(0)), "EUR")


def test_the_beds_are_told_with_who_shares_them_and_what_the_trial_takes() -> None:
    said = beds_sentence(ordering())
    assert "12.5 m of bed" in said
    assert "2 times" in said
    assert "shared by Ember." in said
    assert "64 plants each of Fern" in said
    assert "16.0 plants per metre" in said
    feet = beds_sentence(ordering(), UnitSystem.US)
    assert "41 ft of bed" in feet
    assert "4.88 plants per foot" in feet
    once = ordering(sowing=Sowing(12.5), needs=NEEDS[:1])
    assert "once" in beds_sentence(once)
    assert "trial" not in beds_sentence(once)
    assert "stems take" not in said


def test_stems_wanted_are_told_down_to_the_plants() -> None:
    wanted = StemsWanted(1800, 4.9, 0.92, 368, 400)
    said = beds_sentence(ordering(sowing=Sowing(12.5, wanted=wanted)))
    assert said.startswith("1,800 stems take 368 plants at 4.9 stems each")
    assert "Set 400" in said
    assert "92%" in said
    assert "The sowings yield" not in said
    later = beds_sentence(
        ordering(sowing=Sowing(12.5, wanted=replace(wanted, shares=(1.0, 0.6), recorded=(0, 0))))
    )
    assert "60%" in later.partition("The sowings yield")[2]
    assert "Assumed: each" in later
    told = replace(wanted, shares=(1.0, 0.6), recorded=(0, 4))
    recorded = beds_sentence(ordering(sowing=Sowing(12.5, wanted=told)))
    assert "The records say so: 4 plots planted as late." in recorded
    assert "Assumed" not in recorded


def test_the_total_says_what_it_covers_and_what_is_missing() -> None:
    whole = total_sentence(ordering())
    assert whole.startswith("Total 19.95 EUR from 1 seed house, shipping included: the cheapest")
    short = replace(
        ORDER,
        unfilled=(Unfilled("Fern", 90, 40, UnfilledReason.NOT_LISTED),),
        cost_in_full=Decimal("30.00"),
    )
    said = total_sentence(ordering(order=short)).splitlines()
    assert said[0] == "Total 19.95 EUR from 1 seed house, shipping included."
    assert "50 of 90 seeds not ordered" in said[1]
    assert "10.05 EUR more" in said[2]
    assert "more" not in whole
    nothing = replace(ORDER, parcels=(), cost_in_full=Decimal(0))
    assert total_sentence(ordering(order=nothing)) == "Nothing is ordered."


def test_houses_lists_and_short_varieties_are_named_where_there_are_some() -> None:
    assert [f(ordering()) for f in (left_out_sentence, lists_sentence, short_sentence)] == [""] * 3
    dollars = replace(ORDER, left_out=(SeedHouse("Loft", "USD", 2.0, None, 0.0),))
    assert "Loft (USD)" in left_out_sentence(ordering(order=dollars))
    lists = ordering(price_lists=(("Barn", 2026), ("Loft", 2027)))
    assert lists_sentence(lists) == "Price lists used: 2026 (Barn)."
    assert "Fern" in short_sentence(ordering(too_short=("Fern",)))


@pytest.mark.parametrize("changed", [{}, {"too_short": ("Fern",)}])
def test_the_page_has_every_part_once(changed: dict[str, Any]) -> None:
    found = ordering(**changed)
    page = order_page(found)
    title, line = page.splitlines()[:2]
    assert len(title) == len(line)
    assert page.count("Barn\n") == 1
    assert page.count(total_sentence(found)) == 1
    assert (short_sentence(found) in page) == bool(changed) or not short_sentence(found)
    assert page.endswith("\n")


def test_an_order_that_is_not_proven_the_cheapest_says_how_near_it_is() -> None:
    near = replace(ORDER, most_above_cheapest=Decimal("1.50"))
    said = total_sentence(ordering(order=near))
    assert "shipping included: at most 1.50 EUR above the cheapest packets." in said
    assert "the cheapest packets that give" in total_sentence(ordering())


def test_an_order_under_other_limits_counts_plugs_apart_from_seeds() -> None:
    tray = replace(LINE, item="f72", variety="Fern", packs=1, seeds_per_pack=72, plugs=True)
    bought = replace(
        ORDER,
        parcels=(replace(PARCEL, lines=(LINE, tray)),),
        unfilled=(Unfilled("Fern", 90, 72, UnfilledReason.OVER_BUDGET, plugs=True),),
    )
    with_plugs = ordering(order=bought, needs=(NEEDS[0], replace(NEEDS[1], plugs=True)))
    table = order_if_table(ordering(), with_plugs, UnitSystem.METRIC)
    assert [column.heading for column in table.columns][3:-1] == [
        *("seeds ordered", "seeds not ordered", "plugs ordered", "plugs not ordered"),
    ]
    assert [row[3:-1] for row in table.rows] == [("150", "0", "0", "0"), ("150", "0", "72", "18")]
    seeds_only = order_if_table(ordering(), ordering(), UnitSystem.METRIC)
    assert not any("plugs" in column.heading for column in seeds_only.columns)
