"""The farm's units: chosen once, remembered by the store, and shown without a metric left over."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from pypdf import PdfReader

from trials.cli import tallybed

PLAN = """
trial = "six-2026"
question = "Which of six?"
season = 2026
site = "Home"
crop = "zinnia"
layout = "complete blocks"
replicates = 3
primary_measure = "stems_per_plant"
plants_per_plot = 12
guards = 1
shortest_length_in = 16
grades_in = [12, 16, 20]
seed = 1
transplant_on = 2026-05-15

[[factors]]
name = "variety"
levels = ["A", "B", "C", "D"]

[[beds]]
name = "Bed 1"
length_ft = 100
width_ft = 4

[planting]
rows = 4
spacing_in = 9

[calendar]
pinched = true
netted = true
last_spring_frost = 2026-05-01
first_autumn_frost = 2026-10-05
season_starts_on = 2026-01-01
season_ends_on = 2026-12-01
"""
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
