"""A winter plan's page and calendar: what is planted when, what it rests on, what seed it takes."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from trials.decide import Need, OrderLine, Parcel, SeedOrder, Substitute
from trials.decide.curve import Curve
from trials.decide.germination import Replicate, germination
from trials.decide.planted import Days, NotTaken, Planting, WinterChoice
from trials.decide.sold import Sold
from trials.decide.sowing import OnHand, VarietyNeed
from trials.decide.winter import Crop, Limits, PlanLine, Winter, WinterPlan
from trials.model.trial import SeedSaving
from trials.report.calendar_file import calendar_file
from trials.report.stock_words import stock_sentences
from trials.report.winter_page import (
    earns_sentence,
    grounds,
    instead_sentence,
    not_grown_sentences,
    order_sentence,
    vase_sentences,
    winter_page,
)
from trials.report.winter_tables import by_day, earned_table, needs_table, plantings_table

WINTER = Winter((), (), (), Limits())
DAYS = Days(date(2027, 3, 1), date(2027, 4, 12), date(2027, 6, 20), date(2027, 9, 1))
CURVE = Curve(
    variety="Ember",
    treatment="pinched",
    stems=np.array([[[8.0, 2.0]], [[16.0, 4.0]], [[24.0, 6.0]]]),
    days=69.0,
    per_metre=16.0,
    alive=0.9,
    plots=("Z1", "Z2"),
    trials=("zinnia-2026",),
    cuts=9,
    assumed=False,
)
EARLY = Planting("zinnia", "Ember", "pinched", "red", "Bed 1", 12.5, 200, 1250, 40.0, DAYS, CURVE)
LATE = replace(
    EARLY,
    variety="Fern, tall",
    treatment="",
    bed="Bed 2",
    days=replace(DAYS, sow=None, plant_out=date(2027, 5, 3), net=date(2027, 5, 10)),
    curve=replace(CURVE, assumed=True),
)
LINE = OrderLine("Barn", "e50", "Ember", 3, 50, Decimal("4.35"))
ORDER = SeedOrder(
    (Parcel("Barn", (LINE,), Decimal("6.90")),), (Need("Ember", 140),), (), (), "EUR", None,
    Decimal("19.95"),
)  # fmt: skip
NET = np.arange(10.0) * 100
SOLD = Sold(np.zeros((0, 0)), np.zeros((0, 0)), np.zeros(0), 0.0)


def choice(**changed: Any) -> WinterChoice:
    need = VarietyNeed("Ember", None, 1200, 1400, 0.8, True, 1300, 100)
    plan = WinterPlan(WINTER, (), NET, 0.0123)
    whole = WinterChoice(2027, WINTER, plan, (LATE, EARLY), (need,), ORDER, (), "EUR", (), SOLD)
    return replace(whole, **changed)


def crop(variety: str) -> Crop:
    none = np.zeros((1, 1, 1))
    return Crop("zinnia", variety, "", "", "", none, 2.0, 0.0, none[0, 0], np.ones(1, np.bool_))


def test_plantings_stand_in_the_order_of_planting() -> None:
    table = plantings_table(choice())
    assert by_day(choice()) == (EARLY, LATE)
    assert table.rows == (
        ("2027-03-01", "2027-04-12", "Bed 1", "Ember, pinched", "zinnia", "12.5", "200",
         "2027-06-20", "500"),
        ("not known", "2027-05-03", "Bed 2", "Fern, tall", "zinnia", "12.5", "200",
         "2027-06-20", "500"),
    )  # fmt: skip
    right = [column.heading for column in table.columns if column.right]
    assert right == ["metres", "plants", "stems expected"]


def test_each_variety_has_its_seeds() -> None:
    table = needs_table(choice())
    assert table.rows == (("Ember", "1,200", "80% assumed", "1,400", "100", "1,300", "150"),)
    assert [column.right for column in table.columns] == [False, *[True] * 6]


def test_what_it_earns_is_told_with_its_poor_seasons_and_its_proof() -> None:
    said = earns_sentence(choice())
    assert "Over 10 simulated seasons" in said
    assert "450.00 EUR" in said
    assert "50.00 EUR" in said  # the mean of 0 and 100, the worst fifth
    assert "1.3%" in said  # 0.0123, rounded up: a bound


@pytest.mark.parametrize(
    ("counts", "words"),
    [
        (((31, 50),), "One replicate only"),
        (((40, 50), (41, 50)), "The replicates agree."),
        (((10, 50), (45, 50)), "test the lot again"),
    ],
)
def test_a_germination_test_says_whether_it_repeats(
    counts: tuple[tuple[int, int], ...], words: str
) -> None:
    test = germination([Replicate(of, n) for n, of in counts])
    (said,) = stock_sentences([OnHand("Ember", 40, test.rate, "L7", 2026, test)], 2027)
    total = sum(n for n, _ in counts)
    assert said.startswith(f"Seed lot L7: {total} of {sum(of for _, of in counts)} seeds")
    assert words in said


def test_the_order_says_how_cheap_it_is_proven_to_be() -> None:
    assert order_sentence(choice()).startswith("Total 19.95 EUR from 1 house")
    assert "the cheapest mix" in order_sentence(choice())
    gap = replace(ORDER, most_above_cheapest=Decimal("1.50"))
    assert "at most 1.50 EUR above" in order_sentence(choice(order=gap))
    assert order_sentence(choice(order=replace(ORDER, parcels=()))) == "No seed is to be bought."


def test_each_variety_rests_on_its_plots_and_cuts() -> None:
    first, second = grounds(choice())
    # Ten stems a plant, twenty and thirty: 40 per metre on average, 24 and 56 at their ends.
    assert first.startswith(
        "Ember, pinched: 40 stems per metre expected, in 8 of 10 seasons 24 to 56."
    )
    assert "From 9 recorded cuts on 2 plots of zinnia-2026: Z1 and Z2." in first
    assert "Assumed" not in first
    assert "Assumed" in second
    assert len(grounds(choice(plantings=(EARLY, EARLY)))) == 1


def test_the_page_has_every_part() -> None:
    found = choice(left_out=(("Lone", "never compared"),))
    page = " ".join(winter_page(found).split())
    for words in (*map(str, grounds(found)), order_sentence(found), earns_sentence(found)):
        assert " ".join(words.split()) in page
    assert "Lone (never compared)" in page
    assert "onsidered" not in winter_page(choice())
    considered = replace(found, winter=replace(WINTER, crops=(crop("Ember"), crop("Ash"))))
    assert not_grown_sentences(considered) == [
        "Considered, but not in the plan: Ash.",
        "Not considered for the plan: Lone (never compared).",
    ]


def test_the_money_by_variety_adds_up_to_what_the_plan_earns() -> None:
    grown = (crop("Ember"), crop("Ash"))
    winter = replace(WINTER, crops=grown)
    short = choice(
        winter=winter,
        plan=replace(choice().plan, winter=winter, lines=(PlanLine(0, "Bed 1", 12.5),)),
        sold=replace(choice().sold, by_crop=np.array([400.0, 0.0]), charges=1230.0),
    )
    assert earned_table(short).rows == (
        ("Ember", "zinnia", "400", "25", "375"),
        ("stems short of what you promise", "", "0", "1,230", "−1,230"),
        ("total", "", "400", "1,255", "−855"),
    )
    kept = replace(short, sold=replace(short.sold, charges=0.4))
    assert [row[0] for row in earned_table(kept).rows] == ["Ember", "total"]


def test_the_calendar_unfolds_to_one_event_for_each_piece_of_work() -> None:
    """By RFC 5545, 3.1: at most 75 octets, and a fold begins with one space."""
    long = replace(EARLY, bed="Bed of the long name é " * 4)
    text = calendar_file(choice(plantings=(long, LATE)), datetime(2027, 1, 5, 9, 30, tzinfo=UTC))
    lines = text.split("\r\n")
    assert lines.pop() == ""
    assert max(len(line.encode()) for line in lines) == 75
    unfolded = text.replace("\r\n ", "").split("\r\n")
    assert unfolded.count("BEGIN:VEVENT") == unfolded.count("END:VEVENT") == 4 + 4
    assert "DTSTAMP:20270105T093000Z" in unfolded
    assert "SUMMARY:Sow: zinnia Ember pinched" in unfolded
    assert "SUMMARY:Net: zinnia Fern\\, tall" in unfolded
    assert not any("Sow: zinnia Fern" in line for line in unfolded)
    at = unfolded.index("SUMMARY:Sow: zinnia Ember pinched")
    assert unfolded[at - 2 : at] == ["DTSTART;VALUE=DATE:20270301", "DTEND;VALUE=DATE:20270302"]
    assert any(line.startswith("DESCRIPTION:1250 seeds for 200 plants\\, bed") for line in unfolded)
    assert any(
        line.startswith("DESCRIPTION:12.5 m\\, 200 plants\\, bed Bed 2.") for line in unfolded
    )
    marks = [line for line in unfolded if line.startswith("UID:")]
    assert len(set(marks)) == len(marks)


PLUGS = replace(EARLY, plugs=True, seeds=200, days=replace(DAYS, sow=None, plugs_arrive=DAYS.sow))


def test_plugs_have_a_day_of_arrival_and_no_seeds_to_sow() -> None:
    need = VarietyNeed("Ember", None, 200, 200, 0.8, False, 200, plugs=True)
    found = choice(plantings=(PLUGS,), needs=(need,))
    assert plantings_table(found).rows[0][0] == "plugs 2027-03-01"
    assert needs_table(found).rows == (
        ("Ember", "200", "bought as plugs", "none", "0", "200 plugs", "150 plugs"),
    )
    page = " ".join(winter_page(found).split())
    assert "Plugs are young plants that are bought." in page
    text = calendar_file(found, datetime(2027, 1, 5, tzinfo=UTC)).replace("\r\n ", "")
    assert "SUMMARY:Plugs arrive: zinnia Ember pinched" in text
    assert "DESCRIPTION:200 plugs\\, to harden off" in text
    assert "SUMMARY:Sow" not in text


OWN = OnHand("Ember", 500, 0.6, "own-1", 2027, own=True, cleaning=0.004, currency="EUR")


@pytest.mark.parametrize(
    ("saving", "has", "lacks"),
    [
        (None, "Check that you may save seed of Ember.", "off-types"),
        (SeedSaving.HYBRID, "Ember is a hybrid: many of its seedlings will be off-types", "buy it"),
        (SeedSaving.ALLOWED, "it costs its cleaning only, about 2.00 EUR.", "Check that"),
        (SeedSaving.PROTECTED, "the variety is protected, so this seed is not counted", "cleaning"),
    ],
)
def test_own_seed_comes_with_its_cautions(saving: SeedSaving | None, has: str, lacks: str) -> None:
    (said,) = stock_sentences([replace(OWN, saving=saving)], 2027)
    assert has in said
    assert lacks not in said


def test_bought_seed_has_no_caution_on_saving_it() -> None:
    assert stock_sentences([replace(OWN, own=False, saving=SeedSaving.PROTECTED)], 2027) == ()


def test_a_market_that_asks_for_a_vase_life_says_what_it_does_not_take() -> None:
    asks = NotTaken("florists (zinnia)", 7.0, (("Ember", 6.25),), ("Fern",))
    (said,) = vase_sentences(choice(not_taken=(asks,)))
    assert said.startswith("florists (zinnia) asks for 7 days in the vase.")
    assert "as tests found less: Ember (6.2 days)" in said
    assert "as no vase life is recorded: Fern" in said


def test_what_grows_in_place_of_a_variety_that_cannot_be_had_is_said_with_why() -> None:
    said = instead_sentence(choice(substitutes=(Substitute("Lone", "Ember", True, 0.1),)))
    assert "Lone would be reordered, but no seed house has it and none is in stock." in said
    assert "The plan grows Ember in its place: tied with it for the best." in said
    none = instead_sentence(choice(substitutes=(Substitute("Lone", None, False, None),)))
    assert "no other variety of its crop in its place" in none
    assert instead_sentence(choice()) == ""


def test_an_old_test_says_its_age_and_that_nothing_shows_the_loss() -> None:
    test = germination([Replicate(50, 45), Replicate(50, 44)])
    lot = OnHand("Ember", 40, test.rate, "L7", 2024, test, years=2.0)
    (said,) = stock_sentences([lot], 2027)
    assert said.endswith(
        "The replicates agree. The test will be 2 years old when the seed is sown. Your records do "
        "not show what this crop's seed loses per year, so 89% still counts: test it again."
    )
    (new,) = stock_sentences([replace(lot, years=0.0)], 2027)
    assert new.endswith("The replicates agree.")
