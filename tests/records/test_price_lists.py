"""Price lists have a year: which list a row belongs to, and what clashes with one."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from trials import season
from trials.decide import Sowing
from trials.errors import RecordsRefused
from trials.model.rows import Signed
from trials.report.order_page import order_page
from trials.store import Store

pytestmark = pytest.mark.slow

FARM = Path(__file__).parents[2] / "data" / "farm"
HEADING = "house,item,variety,seeds,price,from_packs,available"
HOUSE = "Gorsewhistle Seed Loft"
SMALL = f"{HOUSE},gors 20-50,Wrenlatch,50,{{}},1,yes"


@pytest.fixture
def store(tmp_path: Path) -> Path:
    """The invented farm, whose newest season is 2026 and whose prices say no year."""
    path = tmp_path / "farm.tallybed"
    season.load(path, [FARM])
    return path


def load(store: Path, heading: str, *rows: str) -> None:
    path = store.parent / "prices.csv"
    path.write_text("\n".join([heading, *rows]) + "\n", encoding="utf-8")
    season.load(store, [path])


def prices(store: Path, year: int | None = None) -> dict[str, tuple[float, int | None]]:
    """Price of one packet and the year of its list, by item of the house."""
    items = Store.open(store).seed_items(None, year)
    return {
        item.item: (item.price, item.price_year)
        for item in items
        if item.house == HOUSE and item.from_packs == 1
    }


def test_next_winters_prices_are_a_new_list_and_the_old_one_stays(store: Path) -> None:
    before = prices(store)
    assert before["gors 20-50"] == (3.4, 2026)
    load(store, f"{HEADING},price_year", f"{SMALL.format('3.90')},2027")
    # The newest list counts whole: what it has no more cannot be bought.
    assert prices(store) == {"gors 20-50": (3.9, 2027)}
    assert prices(store, 2026) == before
    assert [entry.what for entry in season.history(store)] == ["load", "load"]


def test_the_years_and_currencies_that_can_be_chosen_are_told(store: Path) -> None:
    load(store, f"{HEADING},price_year", f"{SMALL.format('3.90')},2027")
    assert season.price_lists(store) == ((2026, "EUR"), (2027, "EUR"))


def test_the_old_list_loaded_again_is_nothing_new(store: Path) -> None:
    load(store, f"{HEADING},price_year", f"{SMALL.format('3.90')},2027")
    assert season.load(store, [FARM / "seed_items.csv"]).nothing_new
    assert prices(store)["gors 20-50"] == (3.9, 2027)


def test_other_prices_without_a_year_are_asked_about(store: Path) -> None:
    with pytest.raises(RecordsRefused) as refused:
        load(store, HEADING, SMALL.format("3.90"))
    (fault,) = refused.value.faults
    assert "price list of 2026: 3.4 there, 3.9 here" in fault.problem
    assert "add a column price_year with its year, such as 2027" in str(fault)


def test_prices_without_a_year_are_of_the_newest_season(store: Path) -> None:
    seasons = store.parent / "seasons.csv"
    held = (FARM / "seasons.csv").read_text(encoding="utf-8").splitlines()
    newest = held[-1].replace("2026", "2027")
    seasons.write_text(f"{held[0]}\n{newest}\n", encoding="utf-8")
    season.load(store, [seasons])
    load(store, HEADING, SMALL.format("3.90"))
    assert prices(store) == {"gors 20-50": (3.9, 2027)}


def test_a_correction_without_a_year_is_of_the_newest_list(store: Path) -> None:
    path = store.parent / "prices.csv"
    path.write_text(f"{HEADING}\n{SMALL.format('3.60')}\n", encoding="utf-8")
    season.correct(store, [path], Signed("Ida", "misread the list"))
    assert prices(store)["gors 20-50"] == (3.6, 2026)


def test_an_order_goes_by_the_newest_lists_or_by_those_of_a_year(store: Path) -> None:
    for trial in season.trials(store):
        season.close(store, trial.code, date(trial.season, 10, 31), "first frost")
    choice = season.choose(store, "cosmos")
    sowing = Sowing(bed_metres=2, varieties=("Wrenlatch",))
    before = season.order(store, choice, sowing)
    items = (FARM / "seed_items.csv").read_text(encoding="utf-8").splitlines()
    dearer = [f"{row},2027" for row in items[1:] if ",Wrenlatch," in row]
    for number, row in enumerate(dearer):
        cells = row.split(",")
        cells[4] = f"{2 * float(cells[4]):.2f}"
        dearer[number] = ",".join(cells)
    load(store, f"{items[0]},price_year", *dearer)
    newest = season.order(store, choice, sowing)
    assert newest.order.goods > before.order.goods
    assert "Price lists used: 2027" in order_page(newest)
    assert season.order(store, choice, sowing, prices=2026).order == before.order
