"""Plugs, own seed and vase life, from their files to the plan and what is carried away."""

from __future__ import annotations

import csv
import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from trials import season
from trials.decide import Sowing
from trials.decide.planted import WinterChoice
from trials.errors import RecordsRefused, TrialState
from trials.model.money import CostKind
from trials.model.winter import WinterWishes
from trials.records.plan.winter_file import winter_wishes, wishes_of
from trials.report.order_page import order_page
from trials.report.winter_page import winter_page
from trials.season.winter import winter
from trials.season.winter_files import write_winter
from trials.store import Store

WISHES = Path(__file__).parent.parent / "data" / "farm" / "winter.toml"
HOUSE, FARM = "Gorsewhistle Seed Loft", "Murrowhask Flowers"
FILES = {
    "seed_houses": f"house,currency,shipping,free_shipping_from,minimum_order\n{FARM},EUR,0,,0\n",
    "seed_items": "house,item,variety,seeds,price,from_packs,available,sold_as,seed_saving\n"
    f"{HOUSE},gors plugs 15,Flaxenspurl,72,25.92,1,yes,plugs,\n"
    f"{FARM},own Wrenlatch,Wrenlatch,500,2.00,1,yes,own seed,hybrid\n"
    f"{FARM},own Marlinquist,Marlinquist,500,2.00,1,yes,own seed,protected\n",
    "seed_lots": "lot,house,item,packed_for,germination\n"
    f"own-1,{FARM},own Wrenlatch,2027,0.60\n"
    f"own-2,{FARM},own Marlinquist,2027,0.85\n",
    "seed_stock": "lot,counted_on,seeds\nown-1,2026-11-20,100\nown-2,2026-11-20,900\n",
}


@pytest.fixture(scope="module")
def farm(demo_store: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented farm with plugs on a price list, and two lots of its own seed."""
    folder = tmp_path_factory.mktemp("own")
    store = Path(shutil.copy(demo_store, folder))
    paths = []
    for name, text in FILES.items():
        paths.append(folder / f"{name}.csv")
        paths[-1].write_text(text, encoding="utf-8")
    season.load(store, paths)
    return store


def wishes() -> WinterWishes:
    text = WISHES.read_text(encoding="utf-8").replace("budget = 400.0", "budget = 700.0")
    text = text.replace('plugs = ["Saffrenwold"]', 'plugs = ["Flaxenspurl"]', 1)
    text = text.replace('colours = ["white", "pink"]', "", 1)
    asked = text.replace("least_vase_life = 7.7", "least_vase_life = 8", 1)
    return wishes_of(asked, "wishes.toml")


@pytest.fixture(scope="module")
def planned(farm: Path) -> WinterChoice:
    return winter(farm, wishes())


def test_an_item_says_what_it_is_and_another_word_is_refused(farm: Path, tmp_path: Path) -> None:
    bad = tmp_path / "seed_items.csv"
    bad.write_text(
        FILES["seed_items"].splitlines()[0] + f"\n{HOUSE},x,Wrenlatch,50,3,1,yes,bulbs,\n", "utf-8"
    )
    with pytest.raises(RecordsRefused, match=r"column sold_as: .* one of: seed, plugs, own seed"):
        season.load(farm, [bad])
    assert season.load(farm, [_rewritten(tmp_path)]).nothing_new


def _rewritten(folder: Path) -> Path:
    path = folder / "seed_items.csv"
    path.write_text(FILES["seed_items"], encoding="utf-8")
    return path


@pytest.mark.slow
def test_plugs_are_ordered_plant_for_plant(farm: Path) -> None:
    choice = season.choose(farm, "plume celosia")
    plan = season.CropPlan(choice, Sowing(bed_metres=8.0, varieties=("Flaxenspurl",)))
    how = season.Buying(plugs=("Flaxenspurl",))
    (ordering,) = season.order_together(farm, [plan], how).crops
    (need,) = ordering.needs
    assert need.plugs
    assert need.to_buy == need.plants_set
    (line,) = ordering.order.lines
    assert (line.item, line.plugs) == ("gors plugs 15", True)
    assert line.packs == -(-need.plants_set // 72)
    page = " ".join(order_page(ordering).split())
    assert "Bought as plugs (young plants), one for each plant set" in page
    assert "72 plugs" in page
    (seed,) = season.order_together(farm, [plan]).crops
    assert not seed.needs[0].plugs
    with pytest.raises(TrialState, match="sells plugs of Rustlequill"):
        season.order_together(farm, [plan], season.Buying(plugs=("Rustlequill",)))


@pytest.mark.slow
def test_own_seed_is_sown_first_at_its_own_rate_with_its_cautions(farm: Path) -> None:
    lots = {lot.lot: lot for lot in season.seed_in_stock(farm)}
    assert lots["own-1"].cleaning == pytest.approx(0.004)
    assert (lots["own-1"].counts, lots["own-2"].counts) == (True, False)
    choice = season.choose(farm, "cosmos")
    ordering = season.order(farm, choice, Sowing(bed_metres=10.0, varieties=("Wrenlatch",)))
    (need,) = ordering.needs
    # The rate of new seed is still that of the newest bought lot.
    assert need.germination == pytest.approx(0.74)
    assert need.to_buy == pytest.approx(need.seeds - 100 * 0.60 / 0.74, abs=1)
    said = " ".join(order_page(ordering).split())
    assert "it costs its cleaning only, about 0.40" in said
    assert "Wrenlatch is a hybrid" in said
    assert "Check that you may save seed of Wrenlatch." in said
    assert not any(line.house == FARM for line in ordering.order.lines)


@pytest.mark.slow
def test_the_plan_takes_plugs_and_says_what_protected_seed_is_not_counted(
    planned: WinterChoice,
) -> None:
    plugs = [each for each in planned.plantings if each.plugs]
    assert {each.variety for each in plugs} == {"Flaxenspurl"}
    for each in plugs:
        assert each.seeds == each.plants
        assert each.days.sow is None
        assert each.days.plugs_arrive is not None
        assert 0 < (each.days.plant_out - each.days.plugs_arrive).days <= 7
    for need in planned.needs:
        assert need.plugs == (need.variety == "Flaxenspurl")
        assert planned.order.seeds_of(need.variety) >= need.to_buy
    page = " ".join(winter_page(planned).split())
    assert "Plugs are young plants that are bought" in page
    if any(need.variety == "Marlinquist" for need in planned.needs):
        assert "own-2 is your own seed of Marlinquist. A price list says" in page


@pytest.mark.slow
def test_a_market_that_asks_for_a_vase_life_refuses_what_is_shorter_or_not_tested(
    planned: WinterChoice, farm: Path
) -> None:
    choice = season.choose(farm, "cosmos")
    lives = {one.variety: one.days for one in choice.vase_life}
    (asked,) = planned.not_taken
    assert asked.least == 8
    assert asked.too_short_lived
    assert all(days < 8 for _, days in asked.too_short_lived)
    assert not set(asked.untested) & set(lives)
    (place,) = [n for n, outlet in enumerate(planned.winter.outlets) if outlet.refused]
    taken = planned.winter.outlets[place]
    for variety in {crop.variety for crop in planned.winter.crops if crop.crop == "cosmos"}:
        assert (variety in taken.refused) == (lives.get(variety, 0.0) < 8)
    said = " ".join(winter_page(planned).split())
    assert "asks for 8 days in the vase. Not sold there, as tests found less" in said


@pytest.mark.slow
def test_what_is_carried_away_says_when_plugs_arrive(planned: WinterChoice, tmp_path: Path) -> None:
    icalendar = pytest.importorskip("icalendar")
    write_winter(planned, tmp_path, farm=FARM, on=date(2026, 11, 29))
    events = [
        (str(event["SUMMARY"]), event["DTSTART"].dt)
        for event in icalendar.Calendar.from_ical((tmp_path / "calendar.ics").read_bytes()).walk(
            "VEVENT"
        )
    ]
    for each in planned.plantings:
        of = f"{each.crop} {each.variety} {each.treatment}".strip()
        assert (("Plugs arrive: " + of, each.days.plugs_arrive) in events) == each.plugs
        assert (("Sow: " + of, each.days.sow) in events) != each.plugs
        assert (f"Plant out: {of}", each.days.plant_out) in events
    with (tmp_path / "sowing-list.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    plugs = [row for row in rows if row["plugs"]]
    assert {row["variety"] for row in plugs} == {"Flaxenspurl"}
    assert all(row["plugs_arrive_on"] and not row["sow_on"] and not row["seeds"] for row in plugs)
    assert all(row["seeds"] and not row["plugs"] for row in rows if row not in plugs)


@pytest.mark.slow
def test_a_variety_that_cannot_be_bought_is_planned_within_its_stock(farm: Path) -> None:
    """Rustlequill is in stock; without the houses that sell it nothing more is to be had."""
    asked = replace(wishes(), plugs=(), wanted={"Rustlequill": 2.0})
    sellers = {
        item.house
        for item in Store.open(farm).seed_items()
        if item.variety == "Rustlequill" and item.available
    }
    found = winter(farm, replace(asked, without_houses=tuple(sorted(sellers))))
    (need,) = [need for need in found.needs if need.variety == "Rustlequill"]
    assert need.to_buy == 0
    assert need.on_hand == 120
    # Seed of one's own costs nothing more, and not every seed becomes a plant that is set.
    raising = {cost.kind: cost.amount for cost in Store.open(farm).costs("plume celosia")}
    own = [crop for crop in found.winter.crops if crop.variety == "Rustlequill"]
    assert own
    for crop in own:
        assert crop.cash == pytest.approx(raising[CostKind.RAISING] * crop.density)
    assert 60 < found.winter.limits.plants["Rustlequill"] < 120


@pytest.mark.slow
def test_what_cannot_be_planned_is_refused_with_its_reason(farm: Path) -> None:
    asked = winter_wishes(WISHES)
    with pytest.raises(TrialState, match=r"Fennadrift is wanted, but .*: left out by the file"):
        winter(farm, replace(asked, wanted={"Fennadrift": 3.0}, leave_out=("Fennadrift",)))
    with pytest.raises(TrialState, match="sells plugs of Wrenlatch"):
        winter(farm, replace(asked, plugs=("Wrenlatch",)))


@pytest.mark.slow
def test_a_crop_with_a_cost_of_a_plug_is_planned_and_priced_as_plugs(
    farm: Path, tmp_path: Path
) -> None:
    """Plants that no price list has cost what the farm says, and neither seed nor raising."""
    store = Path(shutil.copy(farm, tmp_path))
    costs = tmp_path / "costs.csv"
    costs.write_text("year,crop,cost,amount\n2026,zinnia,plug,0.30\n", encoding="utf-8")
    season.load(store, [costs])
    found = winter(store, replace(wishes(), wanted={}, budget=900.0))
    zinnias = [crop for crop in found.winter.crops if crop.crop == "zinnia"]
    assert zinnias
    for crop in zinnias:
        assert crop.cash == pytest.approx(0.30 * crop.density)
    for each in found.plantings:
        assert each.plugs == (each.crop == "zinnia" or each.variety == "Flaxenspurl")
    grown = {each.variety for each in found.plantings if each.crop == "zinnia"}
    assert grown
    gaps = {gap.variety: gap for gap in found.order.unfilled}
    assert grown <= set(gaps)
    assert all(gaps[name].plugs for name in grown)
    assert "plugs not ordered, because no price list used here has it" in " ".join(
        winter_page(found).split()
    )
