"""The list of varieties and the page of each, as Streamlit runs them."""

from __future__ import annotations

import html
import re
import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from tests.photographs import photo
from trials import season
from trials.model.photo import PhotoOf
from trials.model.rows import Signed
from trials.model.trial import Role
from trials.store import Store

Show = Callable[..., AppTest]
DAY = date(2026, 8, 14)


def said(page: AppTest) -> str:
    assert not page.exception, [each.message for each in page.exception]
    bodies = " ".join(element.proto.body for element in page.get("html"))
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", bodies)))


def links(page: AppTest) -> list[str]:
    return [link.proto.label.replace("\\", "") for link in page.get("page_link")]


def widget(page: AppTest, key: str) -> Any:
    return page.get_by_key(key)


def pictures(page: AppTest) -> list[str]:
    bodies = " ".join(element.proto.body for element in page.get("html"))
    return re.findall(r'<img class="tb-photo-picture" alt="([^"]*)"', bodies)


@pytest.fixture
def farm(demo_store: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(demo_store, tmp_path / "farm.tallybed"))


def add(store: Path, of: PhotoOf, colour: str = "red") -> str:
    done = season.add_photos(store, [("a.jpg", photo(colour))], of, Signed("Ann"))
    return done.added[0].sha256


@pytest.mark.slow
def test_the_list_is_searched_and_sorted(demo_store: Path, show: Show) -> None:
    page = show(demo_store, "varieties")
    every = {each.variety for each in season.varieties(demo_store)}
    assert every <= set(links(page))
    widget(page, "variety_search").set_value("COSMOS white").run()
    shown = [name for name in links(page) if name in every]
    assert shown == sorted(
        each.variety
        for each in season.varieties(demo_store)
        if each.crop == "cosmos" and "white" in (each.colour or "")
    )
    widget(page, "variety_search").set_value("").run()
    widget(page, "variety_sort").set_value("Tallest").run()
    heights = {each.variety: each.height_cm for each in season.varieties(demo_store)}
    shown = [name for name in links(page) if name in every]
    assert [heights[name] for name in shown] == sorted(
        (heights[name] for name in every), key=lambda cm: -(cm or 0)
    )
    widget(page, "variety_search").set_value("no such thing").run()
    assert "No variety is described like that." in said(page)


def test_a_store_without_varieties_says_where_they_come_from(tmp_path: Path, show: Show) -> None:
    Store.create(tmp_path / "farm.tallybed")
    assert "No varieties yet." in said(show(tmp_path / "farm.tallybed", "varieties"))


def test_an_unknown_variety_is_told_the_nearest(demo_store: Path, show: Show) -> None:
    told = said(show(demo_store, "varieties", variety="Wrenlach"))
    assert "No variety is called 'Wrenlach'. Did you mean 'Wrenlatch'?" in told


@pytest.mark.slow
def test_a_variety_s_page_has_all_the_store_has(demo_store: Path, show: Show) -> None:
    page = show(demo_store, "varieties", variety="Wrenlatch")
    told = said(page)
    found = season.variety(demo_store, "Wrenlatch")
    assert "Colour: white" in told
    assert "Habit: tall cutting" in told
    assert f"Height (mean stem length): {found.listed.height_cm:.0f} cm" in told
    assert f"Vase life: {found.listed.vase_life_days:.1f} days" in told
    for trial in found.listed.trials:
        assert trial in told
    for lot in found.lots:
        assert lot.lot in told
    for item in found.offers:
        assert item.house in told
    (standing,) = [
        each for each in season.choose(demo_store, "cosmos").standings if each.entry == "Wrenlatch"
    ]
    by = "net per metre of bed"
    assert f"For 2027, by {by}: {standing.verdict.value}, number {standing.rank} of" in told
    assert "There are no photos yet." in told
    assert "Compare cosmos-2026 →" in links(page)


@pytest.mark.slow
def test_what_is_not_recorded_is_said_and_never_zero(hostile_farm: Any, show: Show) -> None:
    name = hostile_farm.varieties[0]
    told = said(show(hostile_farm.store, "varieties", variety=name))
    assert "Colour: not recorded" in told
    assert "Vase life: not recorded" in told
    assert "No seed lot is stored." in told
    assert "No price is stored." in told
    assert "is still open" in told, "so there is no verdict"


@pytest.mark.slow
def test_photos_are_added_shown_and_withdrawn(hostile_farm: Any, show: Show) -> None:
    farm, name = hostile_farm.store, hostile_farm.varieties[0]
    page = show(farm, "varieties", variety=name)
    page.file_uploader[0].set_value([("IMG_1.jpg", photo(), "image/jpeg")])
    (caption,) = [each for each in page.text_input if each.label == "What there is to see"]
    caption.set_value("first open flower")
    next(each for each in page.button if each.label == "Store the photos").click().run()
    assert "1 photo stored." in said(page)
    (alt,) = pictures(page)
    assert html.unescape(alt).startswith(f"Photo of {name}, ")
    assert alt.endswith(": first open flower")
    (box,) = [each for each in page.selectbox if each.label == "Photo"]
    button = next(each for each in page.button if each.label == "Withdraw this photo")
    page = button.click().run()
    assert "Still needed: the photo and a reason." in said(page)
    (box,) = [each for each in page.selectbox if each.label == "Photo"]
    box.select_index(0)
    (why,) = [each for each in page.text_input if each.label.startswith("Why it should")]
    why.set_value("a face is in it")
    page = next(each for each in page.button if each.label == "Withdraw this photo").click().run()
    assert pictures(page) == []
    assert season.history(farm)[-1].why == "a face is in it"


def test_nothing_is_stored_until_everything_is_there(hostile_farm: Any, show: Show) -> None:
    farm = hostile_farm.store
    page = show(farm, "records", record="Photos of varieties and plots")
    page = next(each for each in page.button if each.label == "Store the photos").click().run()
    assert "Still needed: the variety or plot, a photo." in said(page)
    assert season.photos(farm) == ()


@pytest.mark.slow
def test_a_plot_s_photo_is_added_on_page_records(farm: Path, show: Show) -> None:
    page = show(farm, "records", record="Photos of varieties and plots")
    widget(page, "photos show").set_value("a plot").run()
    widget(page, "photo trial").set_value("cosmos-2024").run()
    widget(page, "photo plot").set_value("C4222").run()
    page.file_uploader[0].set_value([("IMG_1.jpg", photo(), "image/jpeg")])
    page = next(each for each in page.button if each.label == "Store the photos").click().run()
    (kept,) = season.photos(farm, trial="cosmos-2024")
    assert kept.plot == "C4222"


@pytest.mark.slow
def test_a_lost_file_is_said_in_its_place(hostile_farm: Any, show: Show) -> None:
    farm, name = hostile_farm.store, hostile_farm.varieties[0]
    sha256 = add(farm, PhotoOf(name, None, DAY))
    farm.with_name("farm.photos").joinpath(f"{sha256}.jpg").unlink()
    page = show(farm, "varieties", variety=name)
    assert "is missing." in said(page)
    assert pictures(page) == []


@pytest.mark.slow
def test_compare_shows_the_trial_s_own_photos_first(farm: Path, show: Show) -> None:
    assert "Photos by variety" not in str(show(farm, "compare", trial="cosmos-2026").expander)
    add(farm, PhotoOf("Wrenlatch", None, DAY))
    plots = season.plots(farm, "cosmos-2026").set_index("variety")["plot"]
    add(farm, PhotoOf(None, str(plots["Fennadrift"].iloc[0]), DAY), "blue")
    add(farm, PhotoOf("Fennadrift", None, DAY), "green")
    page = show(farm, "compare", trial="cosmos-2026")
    assert "Photos by variety (2)" in [each.label for each in page.expander]
    fennadrift, wrenlatch = pictures(page)
    assert "of cosmos-2026" in fennadrift
    assert wrenlatch.startswith("Photo of Wrenlatch, 2026")


@pytest.mark.slow
def test_the_other_pages_lead_to_a_variety(demo_store: Path, show: Show) -> None:
    page = show(demo_store)
    assert "All varieties, with photos →" in links(page)
    widget(page, "search").set_value("wrenlatch").run()
    assert any(label.startswith("Variety Wrenlatch, in ") for label in links(page))
    assert {"Wrenlatch", "Fennadrift"} <= set(links(show(demo_store, "choose", crop="cosmos")))


@pytest.mark.slow
def test_an_adviser_reads_and_changes_nothing(
    hostile_farm: Any, show: Show, signed_in: Callable[..., None]
) -> None:
    farm, name = hostile_farm.store, hostile_farm.varieties[0]
    add(farm, PhotoOf(name, None, DAY))
    signed_in(Role.ADVISER)
    page = show(farm, "varieties", variety=name)
    assert len(pictures(page)) == 1
    assert not page.file_uploader
    assert not [each for each in page.button if "photo" in each.label]
