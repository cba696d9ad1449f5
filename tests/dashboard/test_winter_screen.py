"""The winter page: a form that becomes a plan, its pictures and files, and seed in stock."""

from __future__ import annotations

import html
import io
import re
import shutil
import zipfile
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from dashboard import winter_data
from tests.conftest import FARM
from trials import season
from trials.decide.planted import WinterChoice
from trials.model.units import PaperSize

pytestmark = pytest.mark.slow

Show = Callable[..., AppTest]


@pytest.fixture(scope="module")
def planned(demo_winter: WinterChoice) -> WinterChoice:
    return demo_winter


@pytest.fixture
def farm(demo_store: Path, tmp_path: Path) -> Path:
    """A copy of the invented farm's store, to record in."""
    return Path(shutil.copy(demo_store, tmp_path))


def words(page: AppTest) -> str:
    assert not page.exception
    bodies = "\n".join(element.proto.body for element in page.get("html"))
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", bodies)))


def widget(page: AppTest, key: str) -> Any:
    return page.get_by_key(key)


def tap(page: AppTest, label: str) -> AppTest:
    return next(each for each in page.button if each.label == label).click().run(timeout=300)


def test_the_form_as_it_stands_becomes_a_plan_with_its_files(demo_store: Path, show: Show) -> None:
    page = show(demo_store, "winter")
    assert "The plan for" not in words(page)
    said = words(tap(page, "Make the winter plan"))
    assert "The plan for 2027" in said
    assert "Saturday market: zinnia" in said
    assert "One seed order for all crops" in said
    pictures = sum(e.proto.body.count('class="tb-picture wide"') for e in page.get("html"))
    assert pictures == 2 + 6  # beds, money, and a market and crop each
    labels = [each.proto.label for each in page.get("download_button")]
    assert [label for label in labels if label not in ("Save PNG", "Save SVG", "Save CSV")] == [
        "Orders, sowing list and calendar (ZIP)",
        "Calendar (ICS)",
        "Save plan file",
    ]
    assert labels.count("Save CSV") == pictures


def test_a_file_of_wishes_becomes_a_plan_and_a_wrong_one_is_said(
    demo_store: Path, show: Show
) -> None:
    page = show(demo_store, "winter")
    text = (FARM / "winter.toml").read_bytes()
    wrong = text.replace(b"site", b"sight")
    for content, expected in ((wrong, "no key 'sight'"), (text, "The plan for 2027")):
        widget(page, "winter_file").set_value(("mine.toml", content, "application/toml"))
        said = words(tap(page.run(), "Make the plan from this file"))
        assert expected in said
        assert ("No plan was made" in said) == (content is wrong)


def test_a_count_and_a_test_are_recorded_on_the_page(farm: Path, show: Show) -> None:
    page = show(farm, "winter")
    page.session_state["stock_form"] = True  # the part is opened
    page.run()
    widget(page, "stock_lot").select("2026-03")
    widget(page, "stock_day").set_value(date(2026, 12, 1))
    assert "Nothing was recorded yet" in words(tap(page, "Record"))
    widget(page, "stock_seeds").set_value("75")
    widget(page, "stock_tested").set_value("40/50, 42/50")
    said = words(tap(page, "Record"))
    assert "Recorded." in said
    assert "2026-03 Quernshaw 2026 75 82% 100 seeds tested" in said
    (lot,) = [each for each in season.seed_in_stock(farm) if each.lot == "2026-03"]
    assert (lot.seeds, lot.germination) == (75, 0.82)


def test_the_archive_has_an_order_for_each_house_and_the_calendar(
    planned: WinterChoice, monkeypatch: pytest.MonkeyPatch, demo_store: Path
) -> None:
    monkeypatch.setenv("TALLYBED_STORE", str(demo_store))
    packed = winter_data.winter_files(planned, "Murrowhask Flowers", PaperSize.A4)()
    names = zipfile.ZipFile(io.BytesIO(packed)).namelist()
    houses = {name.removesuffix(".pdf") for name in names if re.match(r"order-.*\.pdf", name)}
    assert len(houses) == len(planned.order.parcels)
    assert {"calendar.ics", "sowing-list.pdf", "sowing-list.xlsx"} <= set(names)
