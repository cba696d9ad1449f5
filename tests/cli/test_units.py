"""The farm's units: chosen once, remembered by the store, and shown without a metric left over."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner
from pypdf import PdfReader

from tests.plans import small_plan
from trials.cli import tallybed

PLAN = small_plan(
    minimum_length_cm=None,
    grades_cm=None,
    minimum_length_in=16,
    grades_in=[12, 16, 20],
    beds=[{"name": "Bed 1", "length_ft": 100, "width_ft": 4}],
    planting={"rows": 4, "spacing_in": 9},
    assume=None,
    calendar={
        "pinched": True,
        "netted": True,
        "last_spring_frost": date(2026, 5, 1),
        "first_autumn_frost": date(2026, 10, 5),
        "season_starts_on": date(2026, 1, 1),
        "season_ends_on": date(2026, 12, 1),
    },
)
METRIC = re.compile(r"\d ?(?:cm|m|m²|°C)\b")


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    store = tmp_path / "farm.tallybed"
    (tmp_path / "plan.toml").write_text(PLAN, encoding="utf-8")
    said(store, "plan", str(tmp_path / "plan.toml"))
    return store


def said(store: Path, *typed: str) -> str:
    done = CliRunner().invoke(
        tallybed, [*typed, "--store", str(store)], catch_exceptions=False, env={"COLUMNS": "200"}
    )
    assert done.exit_code == 0, done.output
    return done.output


@pytest.mark.slow
def test_the_units_chosen_are_those_of_the_next_command(farm: Path) -> None:
    assert "45 cm above the soil" in said(farm, "calendar", "six-2026")
    assert "inches and feet" in said(farm, "units", "us")
    assert "inches and feet" in said(farm, "units")
    calendar = said(farm, "calendar", "six-2026")
    assert "18 in above the soil" in calendar
    assert "70 °F" in calendar
    assert not METRIC.search(calendar)
    assert "45 cm above the soil" in said(farm, "calendar", "six-2026", "--units", "metric")
    said(farm, "units", "metric")
    assert "45 cm above the soil" in said(farm, "calendar", "six-2026")


def test_a_plan_in_us_units_shows_nothing_metric(farm: Path, tmp_path: Path) -> None:
    said(farm, "units", "us")
    page = said(farm, "plan", str(tmp_path / "plan.toml"), "--propose")
    assert "bed ft" in page
    assert not METRIC.search(page)


@pytest.mark.slow
def test_sheets_in_us_units_show_nothing_metric(farm: Path, tmp_path: Path) -> None:
    said(farm, "units", "us")
    said(farm, "sheets", "six-2026", "--into", str(tmp_path / "paper"), "--paper", "letter")
    for sheet in sorted((tmp_path / "paper").glob("*.pdf")):
        words = " ".join(page.extract_text() for page in PdfReader(sheet).pages)
        assert not METRIC.search(words), (sheet.name, METRIC.findall(words))
