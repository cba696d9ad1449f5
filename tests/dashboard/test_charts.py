"""The pictures hold the figures of the results, in the reader's units, and names as plain text."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from dashboard.charts.choice import chance_chart, shortfall_chart, tall_chart
from trials import season
from trials.decide import Choice
from trials.report.figures import Figures

FIGURES = Figures("in", 0.5, 1)  # half of what is stored, so that a missed conversion shows


def layers(chart: Any) -> list[dict[str, Any]]:
    """The layers, each with its rows where it is drawn."""
    spec = chart.to_dict()
    assert spec["width"] == "container"
    found = []
    for layer in spec["layer"]:
        data = layer.get("data", spec.get("data"))
        found.append({**layer, "rows": spec["datasets"][data["name"]]})
    return found


def rows_with(chart: Any, field: str) -> list[dict[str, Any]]:
    """The rows of the first layer whose rows have that field."""
    for layer in layers(chart):
        rows: list[dict[str, Any]] = layer["rows"]
        if rows and field in rows[0]:
            return rows
    raise AssertionError(f"no layer has {field}")


@pytest.fixture(scope="module")
def choice(demo_store: Path) -> Choice:
    return season.choose(demo_store, "cosmos")


def test_chances_are_per_cent_of_the_standings_and_leave_out_the_short(
    choice: Choice,
) -> None:
    rows = rows_with(chance_chart(choice), "value")
    expected = [s.chance_best for s in choice.standings if s.chance_best is not None]
    assert [row["value"] / 100 for row in rows] == pytest.approx(expected)
    assert 0 < len(rows) < len(choice.standings)


def test_shortfalls_are_in_the_readers_unit(choice: Choice) -> None:
    chart = shortfall_chart(choice, FIGURES)
    rows = next(layer["rows"] for layer in layers(chart) if layer["mark"]["type"] == "bar")
    expected = [s.expected_shortfall for s in choice.standings if s.expected_shortfall is not None]
    assert [row["value"] * 2 for row in rows] == pytest.approx(expected)


def test_too_short_varieties_have_a_sign_of_their_own(choice: Choice) -> None:
    rows = rows_with(tall_chart(choice), "role")
    assert [row["role"] for row in rows] == [
        "short" if s.chance_best is None else "tall" for s in choice.standings
    ]
