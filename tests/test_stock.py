"""Seed in stock: counts and germination tests are records, and every order takes the newest."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import pytest
from scipy.stats import norm

from trials import season
from trials.decide import Choice, OnHand, Sowing
from trials.decide.seed_age import MeasuredLoss
from trials.errors import RecordsRefused, UnknownName
from trials.model.rows import Signed
from trials.report.order_page import order_page
from trials.report.stock_words import stock_sentences, stock_table
from trials.season import StockEntry, record_stock, seed_in_stock
from trials.season.storage_loss import crops_of
from trials.store import Store

LOT, VARIETY = "2026-03", "Quernshaw"
DAY = date(2026, 12, 1)
SOWING = Sowing(bed_metres=10, varieties=(VARIETY,))


@pytest.fixture
def farm(demo_store: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(demo_store, tmp_path))


@pytest.fixture(scope="module")
def cosmos(cosmos_choice: Choice) -> Choice:
    return cosmos_choice


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


def test_a_lot_that_was_tested_and_never_counted_has_no_seed(farm: Path, cosmos: Choice) -> None:
    ordering = season.order(farm, cosmos, SOWING, tested={LOT: [(1, 2)]})
    (lot,) = [each for each in ordering.shelf if each.lot == LOT]
    assert lot.seeds == 0


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


@pytest.mark.slow
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


CROPS = "crop,figure,value,source\n"
LOSS = "germination_points_lost_per_year"
OLD = "2025-15"  # of plume celosia, its packet says 86%, and it was never tested


def with_tables(farm: Path, **tables: str) -> dict[str, OnHand]:
    """The farm's lots in stock for 2027 once these tables are loaded."""
    paths = [farm.parent / f"{name}.csv" for name in tables]
    for path, text in zip(paths, tables.values(), strict=True):
        path.write_text(text, encoding="utf-8")
    season.load(farm, paths)
    return {each.lot: each for each in seed_in_stock(farm)}


def test_a_figure_of_the_crop_lowers_an_old_lot_and_of_another_crop_does_not(farm: Path) -> None:
    lot = with_tables(farm, crops=CROPS + f"celosia,{LOSS},9,own records\n")[OLD]
    assert (lot.germination, lot.ageing, lot.years) == (0.86, None, 2)
    lot = with_tables(farm, crops=CROPS + f"plume celosia,{LOSS},6.5,own records\n")[OLD]
    assert lot.germination == pytest.approx(0.86 - 2 * 0.065)
    (said,) = stock_sentences([lot], 2027)
    assert "2 years old and has no germination test. Its packet's 86% counts as 73%" in said
    assert "by your figure of 6.5 percentage points lost per year" in said
    row = stock_table([lot]).rows[0]
    assert row[-3:] == ("73%", "2 years", "packet 86%, less age by your figure")


def test_the_farms_own_tests_show_the_loss_where_there_are_enough(farm: Path) -> None:
    """Newer lots of the crop germinated better in the tests of one winter than older ones."""
    kept = Store.open(farm)
    crops = crops_of(kept)
    own = [each for each in kept.seed_lots() if crops[each.variety] == "plume celosia"]
    (new, *_), (older, old, *_) = (
        [each.lot for each in own if each.packed_for == year and each.lot not in (OLD, "2026-13")]
        for year in (2026, 2025)
    )
    heading = "lot,tested_on,replicate,seeds,germinated\n"
    three = f"{new},2027-01-10,1,200,160\n{older},2027-01-10,1,200,112\n"
    assert with_tables(farm, germination_tests=heading + three)[OLD].ageing is None
    four = f"{old},2027-01-10,1,200,108\n"
    lot = with_tables(farm, germination_tests=heading + four)[OLD]
    assert lot.ageing is not None
    loss = lot.ageing.loss
    assert isinstance(loss, MeasuredLoss)
    assert norm.ppf(lot.germination) == pytest.approx(norm.ppf(0.86) - 2 * loss.probits)
    (said,) = stock_sentences([lot], 2027)
    assert "by your own tests of this crop's seed" in said
    assert stock_table([lot]).rows[0][-1] == "packet 86%, less age by your own tests"
    # The grower's own figure goes before the tests.
    lot = with_tables(farm, crops=CROPS + f"plume celosia,{LOSS},1,own records\n")[OLD]
    assert lot.germination == pytest.approx(0.84)


def test_an_old_test_ages_and_last_winters_does_not(farm: Path) -> None:
    figure = CROPS + f"plume celosia,{LOSS},10,assumed\n"
    tests = f"lot,tested_on,replicate,seeds,germinated\n{OLD},2025-10-01,1,50,40\n"
    lot = with_tables(farm, crops=figure, germination_tests=tests)[OLD]
    assert lot.years == pytest.approx(547 / 365.25)
    assert lot.germination == pytest.approx(0.8 - 0.1 * 547 / 365.25)
    (said,) = stock_sentences([lot], 2027)
    assert "The test will be 1.5 years old when the seed is sown. So it counts as 65%" in said
    lots = {each.lot: each for each in seed_in_stock(farm)}
    assert (lots["2026-13"].years, lots["2026-13"].ageing) == (0.0, None)
    later = {each.lot: each for each in seed_in_stock(farm, 2028)}
    assert later["2026-13"].ageing is not None


@pytest.mark.slow
def test_an_order_buys_for_what_age_took(farm: Path) -> None:
    choice = season.choose(farm, "plume celosia")
    lot = next(each for each in seed_in_stock(farm) if each.lot == OLD)
    sowing = Sowing(bed_metres=10, varieties=(lot.variety,))
    (before,) = season.order(farm, choice, sowing).needs
    with_tables(farm, crops=CROPS + f"plume celosia,{LOSS},20,own records\n")
    ordering = season.order(farm, choice, sowing)
    (after,) = ordering.needs
    more = 0.40 * lot.seeds / before.germination
    assert after.to_buy - before.to_buy == pytest.approx(more, abs=1)
    assert "by your figure of 20 percentage points" in " ".join(order_page(ordering).split())
