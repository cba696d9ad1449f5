"""The pictures hold the figures of the results, in the reader's units, and names as plain text."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from dashboard.charts.choice import chance_chart, shortfall_chart, tall_chart
from dashboard.charts.comparison import (
    best_chart,
    halves_chart,
    interplay_chart,
    means_chart,
)
from dashboard.charts.grades import grade_colours, grades_chart
from trials import season
from trials.decide import Choice
from trials.model.saleable import shortest_grade
from trials.report.figures import Figures
from trials.stats.length_grades import GradeShare
from trials.stats.results import (
    AgainstBest,
    Comparison,
    FactorUnits,
    Layout,
    LayoutKind,
    Mean,
    Method,
    Pair,
    Verdict,
)
from trials.stats.what_was_tested import Solid

IMAGE, BOLD, RED = "<img src=x onerror=alert(1)>", "**bold**", ":red[x]"
FIGURES = Figures("in", 0.5, 1)  # half of what is stored, so that a missed conversion shows


def mean(entry: str, value: float, half: float | None = 1.0) -> Mean:
    tested = half is not None
    return Mean(
        term="variety",
        levels=(("variety", entry),),
        n=4,
        mean=value,
        se=0.5 if tested else None,
        df=9.0 if tested else None,
        low=None if half is None else value - half,
        high=None if half is None else value + half,
    )


def cell(pinch: str, entry: str, value: float) -> Mean:
    levels = (("pinch", pinch), ("variety", entry))
    return Mean("pinch:variety", levels, 4, value, 0.5, 9.0, value - 1, value + 1)


def pair_within(entry: str, verdict: Verdict) -> Pair:
    return Pair(
        term="pinch:variety",
        a=(("pinch", "yes"),),
        b=(("pinch", "no"),),
        within=(("variety", entry),),
        difference=4.0,
        se=1.0,
        df=9.0,
        t=4.0,
        p=0.01,
        p_adjusted=0.02,
        low=1.0,
        high=7.0,
        verdict=verdict,
    )


def comparison(**changed: Any) -> Comparison:
    best = [(BOLD, -1.0, 3.0, True), (IMAGE, -3.0, 1.0, True), (RED, -9.0, 0.0, False)]
    values: dict[str, Any] = {
        "measure": "stem length",
        "unit": "cm",
        "plots": 12,
        "alpha": 0.05,
        "layout": Layout(
            LayoutKind.SPLIT_PLOT,
            (
                FactorUnits("pinch", ("no", "yes"), "whole plot", (4, 4)),
                FactorUnits("variety", (BOLD, RED, IMAGE), "plot", (4, 4, 4)),
            ),
        ),
        "method": Method.STRATA,
        "residual_df": 9.0,
        "components": (),
        "tests": (),
        "means": (mean(RED, 40.0), mean(BOLD, 48.0), mean(IMAGE, 46.0)),
        "all_pairs": (),
        "with_check": (),
        "with_best": tuple(
            AgainstBest("variety", (("variety", entry),), (), low, high, could)
            for entry, low, high, could in best
        ),
        "least_differences": (),
        "cv_percent": None,
        "grand_mean": 44.0,
        "relative_efficiency": None,
        "solid": Solid(),
        "cautions": (),
        "check": IMAGE,
    }
    return Comparison(**(values | changed))


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


def texts(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for item in value.values():
            yield from texts(item)
    elif isinstance(value, list):
        for item in value:
            yield from texts(item)


def test_means_come_best_first_in_the_readers_unit() -> None:
    rows = rows_with(means_chart(comparison(), "variety", FIGURES), "mean")
    assert [row["mean"] for row in rows] == [24.0, 23.0, 20.0]
    assert [(row["low"], row["high"]) for row in rows] == [(23.5, 24.5), (22.5, 23.5), (19.5, 20.5)]
    assert [row["shown"] for row in rows] == ["24.0", "23.0", "20.0"]


def test_where_less_is_better_the_least_comes_first() -> None:
    rows = rows_with(means_chart(comparison(better="lower"), "variety", FIGURES), "mean")
    assert [row["mean"] for row in rows] == [20.0, 23.0, 24.0]


def test_what_could_be_best_differs_in_shape_as_well_as_colour() -> None:
    chart = means_chart(comparison(), "variety", FIGURES)
    roles = [row["role"] for row in rows_with(chart, "mean")]
    assert roles == ["could be the best", "could be the best", "ruled out as the best"]
    shapes = [layer["encoding"]["shape"] for layer in layers(chart) if "shape" in layer["encoding"]]
    assert shapes[0]["scale"]["range"] == ["circle", "diamond"]


def test_the_check_is_a_dashed_rule_with_its_name() -> None:
    rules = [
        layer
        for layer in layers(means_chart(comparison(), "variety", FIGURES))
        if layer["mark"].get("strokeDash")
    ]
    (row,) = rules[0]["rows"]
    assert row["at"] == 23.0
    assert row["words"].replace("\n", " ") == f"check: {IMAGE}"


def test_without_a_check_there_is_no_rule() -> None:
    chart = means_chart(comparison(check=None), "variety", FIGURES)
    assert not [layer for layer in layers(chart) if layer["mark"].get("strokeDash")]


def test_the_band_beside_the_best_keeps_its_limits_and_the_order_of_the_means() -> None:
    rows = rows_with(best_chart(comparison(), "variety", FIGURES), "low")
    assert [(row["low"], row["high"]) for row in rows] == [(-0.5, 1.5), (-1.5, 0.5), (-4.5, 0.0)]
    assert rows[2]["role"] == "ruled out as the best"


def test_without_replication_there_are_dots_and_no_interval() -> None:
    described = comparison(
        method=Method.DESCRIPTION, means=(mean(BOLD, 48.0, None), mean(RED, 40.0, None))
    )
    chart = halves_chart(described, "variety", FIGURES)
    assert [row["mean"] for row in rows_with(chart, "mean")] == [24.0, 20.0]
    assert {layer["mark"]["type"] for layer in layers(chart)} == {"point", "text"}


def interplay() -> Comparison:
    pinch = [
        Mean("pinch", (("pinch", level),), 6, value, 0.5, 9.0, value - 1, value + 1)
        for level, value in (("no", 46.0), ("yes", 42.0))
    ]
    cells = [cell("no", BOLD, 50.0), cell("yes", BOLD, 46.0), cell("no", RED, 42.0)]
    return comparison(
        means=(*pinch, *cells, cell("yes", RED, 38.0)),
        all_pairs=(pair_within(BOLD, Verdict.MORE), pair_within(RED, Verdict.UNKNOWN)),
    )


def test_two_factors_together_are_lines_told_apart_by_their_verdict() -> None:
    chart = interplay_chart(interplay(), "pinch", "variety", FIGURES)
    rows = rows_with(chart, "across")
    assert {(row["entry"], row["across"]): row["mean"] for row in rows} == {
        (BOLD, "no"): 25.0,
        (BOLD, "yes"): 23.0,
        (RED, "no"): 21.0,
        (RED, "yes"): 19.0,
    }
    assert {row["entry"]: row["role"] for row in rows} == {
        BOLD: "makes a difference",
        RED: "cannot tell yet",
    }
    sort = layers(chart)[0]["encoding"]["x"]["sort"]
    assert sort == ["yes", "no"], "from the lower mean to the higher"


def test_names_at_the_ends_of_lines_do_not_overlap() -> None:
    entries = [f"V{i}" for i in range(12)]
    cells = [cell(p, e, 40.0 + i / 100) for i, e in enumerate(entries) for p in ("no", "yes")]
    chart = interplay_chart(comparison(means=tuple(cells)), "pinch", "variety", FIGURES)
    spec = chart.to_dict()
    low, high = spec["layer"][0]["encoding"]["y"]["scale"]["domain"]
    places = sorted(row["place"] for row in rows_with(chart, "place"))
    per_unit = spec["height"] / (high - low)
    gaps = [(b - a) * per_unit for a, b in pairwise(places)]
    assert min(gaps) > 15, "pixels"


GRADES = tuple(
    GradeShare(entry, grade, per_plant, share)
    for entry, found in (
        (BOLD, ((20.0, 1.0, 0.1), (30.0, 2.0, 0.2), (40.0, 3.0, 0.3), (50.0, 4.0, 0.4))),
        (RED, ((20.0, 0.0, 0.0), (30.0, 0.0, 0.0), (40.0, 5.0, 0.5), (50.0, 5.0, 0.5))),
    )
    for grade, per_plant, share in found
)
WORDS = {20.0: "20–29 cm", 30.0: "30–39 cm", 40.0: "40–49 cm", 50.0: "50 cm and over"}


def test_grades_lie_on_their_side_of_the_shortest_length() -> None:
    chart = grades_chart(GRADES, 40.0, WORDS, [BOLD, RED], None, as_shares=False)
    rows = [row for row in rows_with(chart, "grade") if row["entry"] == BOLD]
    assert {row["grade"]: (row["from"], row["to"]) for row in rows} == {
        30.0: (0.0, -2.0),
        20.0: (-2.0, -3.0),
        40.0: (0.0, 3.0),
        50.0: (3.0, 7.0),
    }
    assert [row["total"] for row in rows if row["total"]] == ["7.0"]


def test_grades_can_be_shares() -> None:
    chart = grades_chart(GRADES, 40.0, WORDS, [BOLD, RED], None, as_shares=True)
    totals = [row["total"] for row in rows_with(chart, "grade") if row["total"]]
    assert totals == ["70 %", "100 %"]


def test_grades_too_short_to_sell_have_another_colour_than_the_others() -> None:
    colours = grade_colours([20.0, 30.0, 40.0, 50.0], 40.0)
    assert len(set(colours.values())) == 4
    assert grade_colours([40.0, 50.0], 40.0)[40.0] == colours[40.0]


def test_the_saleable_grades_add_up_to_the_plain_mean_of_the_plots(demo_store: Path) -> None:
    (trial,) = (each for each in season.trials(demo_store) if each.code == "cosmos-2026")
    lowest = shortest_grade(trial.shortest_length_cm)
    plots = season.plots(demo_store, "cosmos-2026")
    found = season.length_grades(demo_store, "cosmos-2026", "variety")
    plain = plots.groupby("variety")["stems_per_plant"].mean()
    for name, expected in plain.items():
        sold = [item for item in found if item.level == name and item.grade_cm >= lowest]
        total = sum(item.stems_per_plant for item in sold)
        assert total == pytest.approx(expected, rel=1e-12)


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


def test_names_from_the_records_are_never_expressions_or_fields() -> None:
    chart = means_chart(comparison(), "variety", FIGURES)
    spec = chart.to_dict()
    del spec["datasets"]
    structure = list(texts(spec))
    for name in (IMAGE, BOLD, RED):
        inside = [text for text in structure if name in text.replace("\n", " ")]
        # Only the order of the rows may repeat a name.
        assert all(text.replace("\n", " ") in (name, f"{name} (check)") for text in inside)
