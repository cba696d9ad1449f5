"""The plan's page: a form that becomes a plan, what fits, laying out once, dates and paper."""

from __future__ import annotations

import html
import re
import shutil
import threading
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from dashboard import waiting
from trials import season
from trials.model.rows import Signed
from trials.model.units import UnitSystem

pytestmark = pytest.mark.slow

Show = Callable[..., AppTest]
SITE = "Heronlap Field"
VARIETIES = ["Our usual", "<b>Early</b> white", "**Tall** pink"]


def words(page: AppTest) -> str:
    assert not page.exception
    bodies = "\n".join(element.proto.body for element in page.get("html"))
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", bodies)))


def widget(page: AppTest, key: str) -> Any:
    return page.get_by_key(key)


def button(page: AppTest, label: str) -> Any:
    (found,) = [each for each in page.button if each.label == label]
    return found


def filled_in(page: AppTest, **changed: object) -> AppTest:
    values: dict[str, object] = {
        "plan_question": "Which cosmos gives the most stems?",
        "plan_trial": "cosmos-2027",
        "plan_season": 2027,
        "plan_crop": "cosmos",
        "plan_site": SITE,
        "plan_entries": "\n".join(VARIETIES),
        "plan_checks": VARIETIES[0],
        "plan_detect": "20 %",
        "plan_sow_on": date(2027, 3, 1),
        "plan_transplant_on": date(2027, 4, 20),
        "plan_bloom": 70,
        "plan_starts_on": date(2027, 3, 1),
        "plan_ends_on": date(2027, 11, 15),
        **changed,
    }
    for key, value in values.items():
        widget(page, key).set_value(value)
    return page


def asked(page: AppTest) -> AppTest:
    button(page, "Show the layouts that fit").click()
    return page.run()


def laid_out(page: AppTest) -> AppTest:
    asked(page)
    button(page, "Randomise and store").click()
    return page.run()


@pytest.fixture
def farm(demo_store: Path, tmp_path: Path) -> Path:
    """A copy of the invented farm's store, to plan in."""
    return Path(shutil.copy(demo_store, tmp_path))


@pytest.fixture
def page(farm: Path, show: Show, short_search: None) -> AppTest:
    return filled_in(show(farm, "plan"))


def test_a_farm_without_plans_is_offered_the_form_alone(demo_store: Path, show: Show) -> None:
    said = words(show(demo_store, "plan"))
    assert "Plan a trial" in said
    assert "Planned trials" not in said


def test_the_form_shows_what_fits_and_keeps_nothing(page: AppTest, farm: Path) -> None:
    said = words(asked(page))
    assert "Layouts that fit" in said
    assert "complete blocks" in said
    assert "You want to find a difference of 20%" in said
    assert season.planned(farm) == ()


def test_what_is_missing_is_named_by_its_field(page: AppTest, farm: Path) -> None:
    said = words(asked(filled_in(page, plan_trial="", plan_detect="much")))
    assert "One field is empty: “Code of the trial”." in said
    assert "“Difference you want to find”: 'much' is not valid here. Write per cent" in said
    assert "Nothing was stored" in said
    assert season.planned(farm) == ()


def test_the_layout_that_was_chosen_is_kept_with_its_calendar(page: AppTest, farm: Path) -> None:
    said = words(laid_out(page))
    assert season.planned(farm) == ("cosmos-2027",)
    (trial,) = [each for each in season.trials(farm) if each.code == "cosmos-2027"]
    assert (trial.plots, trial.check) == (12, VARIETIES[0])
    assert set(season.plots(farm, "cosmos-2027")["variety"]) == set(VARIETIES)
    assert "cosmos-2027 is laid out and stored" in said
    assert "2027-04-20" in said, "the day of planting out stands in its calendar"


def test_a_code_that_is_taken_is_refused(page: AppTest, farm: Path) -> None:
    laid_out(page)
    laid_out(filled_in(page, plan_question="Another question altogether?"))
    assert "There is already a trial cosmos-2027" in words(page)
    assert season.planned(farm) == ("cosmos-2027",)


def test_feet_and_inches_are_converted_exactly(farm: Path, show: Show) -> None:
    page = show(farm, "plan")
    widget(page, "units").set_value("US").run()
    asked(filled_in(page))
    written = season.propose(farm, page.session_state["plan_text"]).written.plan
    assert written.planting.spacing_cm == pytest.approx(9 * 2.54, abs=1e-12)
    assert written.beds[0].length_m == pytest.approx(100 * 0.3048, abs=1e-12)
    assert written.minimum_length_cm == 41  # 16 in, as the grade that starts there
    assert written.grades_cm == (30, 41, 51, 61)  # 12, 16, 20 and 24 in


def test_the_units_chosen_outlive_the_page(farm: Path, show: Show) -> None:
    widget(show(farm, "plan"), "units").set_value("US").run()
    assert widget(show(farm, "plan"), "units").value == "US"
    assert season.farm_units(farm) is UnitSystem.US


def test_the_paper_of_a_planned_trial_can_be_taken_along(page: AppTest) -> None:
    laid_out(page)
    button(page, "Make the files").click()
    page.run()
    assert not page.exception
    names = {each.proto.label.replace("\\", "") for each in page.get("download_button")}
    assert {"cosmos-2027-map.pdf", "cosmos-2027-stakes.pdf", "cosmos-2027-workbook.xlsx"} <= names


def test_planting_fixes_the_layout(page: AppTest, farm: Path) -> None:
    laid_out(page)
    button(page, "Record the planting").click()
    assert "Still needed: the day" in words(page.run())
    widget(page, "planted cosmos-2027").set_value(date(2027, 4, 22))
    button(page, "Record the planting").click()
    assert "(planted)" in words(page.run())
    assert set(season.plots(farm, "cosmos-2027")["transplanted_on"]) == {date(2027, 4, 22)}


def test_a_planting_that_was_taken_back_can_be_recorded_again(page: AppTest, farm: Path) -> None:
    laid_out(page)
    for _ in range(2):
        widget(page, "planted cosmos-2027").set_value(date(2027, 4, 22))
        button(page, "Record the planting").click()
        assert "(planted)" in words(page.run())
        assert set(season.plots(farm, "cosmos-2027")["transplanted_on"]) == {date(2027, 4, 22)}
        season.undo(farm, None, Signed("the grower of this machine", "wrong day"))
        assert "(laid out)" in words(page.run())


def test_what_takes_long_says_so_goes_on_and_can_be_left(
    page: AppTest, monkeypatch: pytest.MonkeyPatch
) -> None:
    go_on, real = threading.Event(), season.propose

    def slow(store: Path, text: str) -> season.Proposed:
        assert go_on.wait(30)
        return real(store, text)

    monkeypatch.setattr("dashboard.data.front.propose", slow)
    monkeypatch.setattr(waiting, "PATIENCE_S", 0.0)
    assert "Looking for layouts that fit: 0 s so far" in words(asked(page))
    button(page, "Stop waiting").click()
    assert "so far" not in words(page.run())
    assert "so far" in words(asked(page))
    page.switch_page("screens/terms.py").run()
    go_on.set()
    monkeypatch.setattr(waiting, "PATIENCE_S", 30.0)
    page.switch_page("screens/plan.py")
    assert "Sample size" in words(page.run())
