"""The sliders of other prices and limits: what they say, and that they store nothing."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from tests.conftest import FARM
from trials import season
from trials.report.what_if import NOT_STORED

pytestmark = pytest.mark.slow

Show = Callable[..., AppTest]


def words(page: AppTest) -> str:
    assert not page.exception
    bodies = "\n".join(element.proto.body for element in page.get("html"))
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", bodies)))


def slider(page: AppTest, label: str) -> Any:
    return next(each for each in page.slider if each.label.startswith(label))


def test_a_folded_part_is_not_drawn(demo_store: Path, show: Show) -> None:
    for screen in ("choose", "order"):
        assert NOT_STORED not in words(show(demo_store, screen))


def test_another_price_changes_the_standings_shown_and_nothing_else(
    demo_store: Path, show: Show
) -> None:
    before = season.history(demo_store)
    page = show(demo_store, "choose")
    page.session_state["choice_if"] = True
    said = words(page.run())
    assert "keep their verdict" in said
    assert NOT_STORED in said
    slider(page, "Cost of a metre of bed").set_value(22.5)
    changed = words(slider(page, "Price of a stem").set_value(50).run())
    (quernshaw,) = re.findall(r"Quernshaw reorder \S+ (\S+) (\S+)", changed)[-1:]
    assert float(quernshaw[1].replace("\u2212", "-")) < float(quernshaw[0])
    assert season.history(demo_store) == before


def test_another_bed_and_budget_give_another_order(demo_store: Path, show: Show) -> None:
    page = show(demo_store, "order")
    page.session_state["order_if"] = True
    page.run()
    said = words(slider(page, "Bed per sowing").set_value(40.0).run())
    assert NOT_STORED in said
    assert re.search(r"then 40\.0 [\d,]+ [\d,]+ 0 ", said)
    slider(page, "Bed per sowing").set_value(0.0)
    assert "No bed, no seed" in words(page.run())


def test_another_price_gives_another_winter_plan(demo_store: Path, show: Show) -> None:
    page = show(demo_store, "winter")
    text = (FARM / "winter.toml").read_bytes()
    widget: Any = page.get_by_key("winter_file")
    widget.set_value(("mine.toml", text, "application/toml"))
    page.run()
    button = next(each for each in page.button if each.label == "Make the plan from this file")
    button.click().run(timeout=300)
    page.session_state["winter_if"] = True
    assert "as now" in words(page.run(timeout=300))
    said = words(slider(page, "Price of a stem").set_value(80).run(timeout=300))
    assert "less than now" in said
    assert NOT_STORED in said
