"""Seed in stock: counts and germination tests are records, and every order takes the newest."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import pytest

from trials import season
from trials.decide import Choice, Sowing
from trials.errors import RecordsRefused, UnknownName
from trials.model.rows import Signed
from trials.report.stock_words import stock_sentences
from trials.season import StockEntry, record_stock, seed_in_stock

LOT, VARIETY = "2026-03", "Quernshaw"
DAY = date(2026, 12, 1)
SOWING = Sowing(bed_metres=10, varieties=(VARIETY,))


@pytest.fixture
def farm(demo_store: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(demo_store, tmp_path))


@pytest.fixture(scope="module")
def cosmos(demo_store: Path) -> Choice:
    return season.choose(demo_store, "cosmos")


@pytest.mark.slow
def test_a_recorded_count_lessens_the_next_order(farm: Path, cosmos: Choice) -> None:
    (before,) = [n for n in season.order(farm, cosmos, SOWING).needs if n.variety == VARIETY]
    assert before.on_hand == 0
    record_stock(farm, StockEntry(LOT, DAY, "100", (("40", "50"), ("42", "50"))), Signed("Ann"))
    ordering = season.order(farm, cosmos, SOWING)
    (need,) = [n for n in ordering.needs if n.variety == VARIETY]
    # 100 seeds that germinate at 82 of 100 do the work of 82 / 0.89 seeds of the new lot.
    assert need.seeds == before.seeds
    assert need.to_buy == pytest.approx(need.seeds - 82 / 0.89, abs=1)
    (lot,) = [each for each in ordering.shelf if each.lot == LOT]
    assert (lot.seeds, lot.germination) == (100, 0.82)
    assert lot.test is not None
    assert lot.test.agree


def test_what_is_named_for_an_order_takes_the_place_of_what_is_stored(
    farm: Path, cosmos: Choice
) -> None:
    record_stock(farm, StockEntry(LOT, DAY, "100"), Signed("Ann"))
    ordering = season.order(farm, cosmos, SOWING, on_hand={LOT: 10}, tested={LOT: [(1, 2)]})
    (lot,) = [each for each in ordering.shelf if each.lot == LOT]
    assert (lot.seeds, lot.germination) == (10, 0.5)
    with pytest.raises(UnknownName, match="seed lot"):
        season.order(farm, cosmos, SOWING, on_hand={"2026-99": 10})


@pytest.mark.slow
def test_the_newest_count_holds_and_an_earlier_one_stays(farm: Path) -> None:
    record_stock(farm, StockEntry(LOT, DAY, "100"), Signed("Ann"))
    record_stock(farm, StockEntry(LOT, date(2027, 2, 1), "0"), Signed("Ann"))
    record_stock(farm, StockEntry(LOT, date(2025, 2, 1), "70"), Signed("Ann"))
    assert LOT not in {each.lot for each in seed_in_stock(farm)}
    said = [entry.rows for entry in season.history(farm)[-3:]]
    assert said == [(("seed_stock", 1, 0),)] * 3


REFUSALS = (
    (StockEntry(LOT, DAY, "many"), "'many' is not a number"),
    (StockEntry(LOT, DAY, "-3"), "'-3' is below 0"),
    (StockEntry("2026-99", DAY, "3"), "There is no seed lot '2026-99'"),
    (StockEntry(LOT, DAY, "", (("51", "50"),)), "51 germinated of 50 seeds laid out"),
    (StockEntry(LOT, DAY, "3", (("5", ""),)), "empty"),
)


@pytest.mark.slow
@pytest.mark.parametrize(("entry", "words"), REFUSALS)
def test_what_cannot_be_is_refused_and_changes_nothing(
    farm: Path, entry: StockEntry, words: str
) -> None:
    before = season.history(farm)
    with pytest.raises(RecordsRefused) as refused:
        record_stock(farm, entry)
    assert words in " ".join(fault.problem for fault in refused.value.faults)
    assert season.history(farm) == before


def test_the_same_count_again_adds_nothing_and_another_is_refused(farm: Path) -> None:
    record_stock(farm, StockEntry(LOT, DAY, "100"), Signed("Ann"))
    assert record_stock(farm, StockEntry(LOT, DAY, "100"), Signed("Ann")).nothing_new
    with pytest.raises(RecordsRefused):
        record_stock(farm, StockEntry(LOT, DAY, "90"), Signed("Ann"))


def test_an_old_lot_without_a_test_and_replicates_that_differ_are_pointed_out(farm: Path) -> None:
    said = " ".join(stock_sentences(seed_in_stock(farm), 2027))
    assert "Seed lot 2025-15 is 2 years old and has no germination test" in said
    assert "Seed lot 2026-20: 123 of 150 seeds germinated, 82%" in said
    assert "differ more than chance explains" in said
    assert "Seed lot 2026-02: 135 of 150 seeds germinated, 90%" in said
