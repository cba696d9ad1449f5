"""The pictures hold the figures of the results, in the reader's units, and names as plain text."""

from __future__ import annotations

import csv
from collections.abc import Callable
from datetime import date, timedelta
from io import StringIO
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest

from trials import season
from trials.decide import Choice
from trials.drawing.inks import Ink
from trials.drawing.picture import Box, Dot, Line, Picture, Shape, Words
from trials.drawing.svg import svg_file, svg_of_device
from trials.model.saleable import shortest_grade
from trials.model.units import UnitSystem
from trials.report.figures import Figures, figures_of, per_cent
from trials.report.pictures.bed_map import Showing, bed_map_picture
from trials.report.pictures.best import best_picture
from trials.report.pictures.choice import chance_picture, loss_picture, tall_picture
from trials.report.pictures.figures_file import picture_csv
from trials.report.pictures.frame import NARROW_PX, WIDE_PX
from trials.report.pictures.grades import grade_inks, grades_picture
from trials.report.pictures.interaction import DIFFERS, UNSURE, interaction_picture
from trials.report.pictures.means import COULD, PLAIN, RULED_OUT, TOO_SHORT, means_picture
from trials.report.pictures.of_trial import answer_drawable, drawables
from trials.report.pictures.response import response_picture
from trials.report.pictures.seasons import seasons_picture
from trials.report.pictures.weeks import so_far_picture, weeks_picture
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
    TooShort,
    Verdict,
)
from trials.stats.season_views import PlotSeen, SeasonMean, WeekStems
from trials.stats.what_was_tested import Solid, TermTest, Trend

IMAGE, BOLD, RED = "<img src=x onerror=alert(1)>", "**bold**", ":red[x]"
FIGURES = Figures("in", 0.5, 1)  # half of what is stored, so that a missed conversion shows
WIDTHS = (WIDE_PX, NARROW_PX)
TRIALS = ("cosmos-2024", "cosmos-2026", "plume-2026", "cosmos-bed-2026")


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


def dots(picture: Picture) -> list[Dot]:
    """The points below the key."""
    return [mark for mark in picture.marks if isinstance(mark, Dot) and mark.y > 40]


def words(picture: Picture) -> list[str]:
    return [mark.text for mark in picture.marks if isinstance(mark, Words)]


def column(picture: Picture, name: str) -> list[Any]:
    return [row[picture.columns.index(name)] for row in picture.rows]


def test_means_come_best_first_in_the_readers_unit() -> None:
    picture = means_picture(comparison(), "variety", FIGURES, WIDE_PX)
    assert column(picture, "mean (in)") == [24.0, 23.0, 20.0]
    assert column(picture, "low") == [23.5, 22.5, 19.5]
    assert column(picture, "high") == [24.5, 23.5, 20.5]
    assert [text for text in words(picture) if text in ("24.0", "23.0", "20.0")][-3:] == [
        "24.0",
        "23.0",
        "20.0",
    ]


def test_where_less_is_better_the_least_comes_first() -> None:
    picture = means_picture(comparison(better="lower"), "variety", FIGURES, WIDE_PX)
    assert column(picture, "mean (in)") == [20.0, 23.0, 24.0]


def test_what_could_be_best_differs_in_shape_as_well_as_colour() -> None:
    picture = means_picture(comparison(), "variety", FIGURES, WIDE_PX)
    assert column(picture, "standing") == [COULD, COULD, RULED_OUT]
    assert [(dot.shape, dot.stroke) for dot in dots(picture)] == [
        (Shape.CIRCLE, Ink.LEAF),
        (Shape.CIRCLE, Ink.LEAF),
        (Shape.DIAMOND, Ink.STONE),
    ]


def test_what_is_too_short_to_sell_lies_apart_and_crossed() -> None:
    short = (TooShort("variety", BOLD, 0.2),)
    picture = means_picture(comparison(too_short=short), "variety", FIGURES, WIDE_PX)
    assert column(picture, "standing") == [COULD, RULED_OUT, TOO_SHORT]
    assert column(picture, "variety")[-1] == BOLD, "though its mean is the highest"
    assert dots(picture)[-1].shape is Shape.CROSS
    (band,) = [mark for mark in picture.marks if isinstance(mark, Box) and mark.fill is Ink.BAND]
    inside = [band.y < dot.y < band.y + band.height for dot in dots(picture)]
    assert inside == [False, False, True]
    assert {"Too short to sell", f"{per_cent(0.2)} long enough"} <= set(words(picture))


def test_the_check_is_a_dashed_rule_with_its_name() -> None:
    picture = means_picture(comparison(), "variety", FIGURES, WIDE_PX)
    (rule,) = [mark for mark in picture.marks if isinstance(mark, Line) and mark.dash]
    assert rule.points[0][0] == pytest.approx(dots(picture)[1].x)
    assert "the check" in words(picture)
    without = means_picture(comparison(check=None), "variety", FIGURES, WIDE_PX)
    assert not [mark for mark in without.marks if isinstance(mark, Line) and mark.dash]


def test_without_replication_there_are_dots_and_no_interval() -> None:
    described = comparison(
        method=Method.DESCRIPTION,
        means=(mean(BOLD, 48.0, None), mean(RED, 40.0, None)),
        check=None,
        with_best=(),
    )
    picture = means_picture(described, "variety", FIGURES, WIDE_PX)
    assert column(picture, "low") == [None, None]
    assert column(picture, "standing") == [PLAIN, PLAIN]
    leaf = [m for m in picture.marks if isinstance(m, Line) and m.ink is not Ink.RULE]
    assert leaf == []


def test_the_band_beside_the_best_keeps_its_limits_and_the_order_of_the_means() -> None:
    picture = best_picture(comparison(), "variety", FIGURES, WIDE_PX)
    assert picture is not None
    assert column(picture, "low (in)") == [-0.5, -1.5, -4.5]
    assert column(picture, "high") == [1.5, 0.5, 0.0]
    assert column(picture, "standing")[-1] == RULED_OUT
    assert best_picture(comparison(with_best=()), "variety", FIGURES, WIDE_PX) is None


def interacting() -> Comparison:
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
    picture = interaction_picture(interacting(), "pinch:variety", FIGURES, WIDE_PX)
    found = {(row[0], row[1]): (row[2], row[3]) for row in picture.rows}
    assert found == {
        (BOLD, "no"): (25.0, DIFFERS),
        (BOLD, "yes"): (23.0, DIFFERS),
        (RED, "no"): (21.0, UNSURE),
        (RED, "yes"): (19.0, UNSURE),
    }
    assert [row[1] for row in picture.rows][:2] == ["yes", "no"], "from the lower mean up"


def many_lines(width: int) -> Picture:
    entries = [f"V{i}" for i in range(24)]
    cells = [cell(p, e, 40.0 + i / 100) for i, e in enumerate(entries) for p in ("no", "yes")]
    layout = Layout(
        LayoutKind.SPLIT_PLOT,
        (
            FactorUnits("pinch", ("no", "yes"), "whole plot", (4, 4)),
            FactorUnits("variety", tuple(entries), "plot", (4,) * 24),
        ),
    )
    pairs = tuple(pair_within(entry, Verdict.MORE) for entry in entries)
    described = comparison(means=tuple(cells), layout=layout, all_pairs=pairs)
    return interaction_picture(described, "pinch:variety", FIGURES, width)


@pytest.mark.parametrize("width", WIDTHS)
def test_names_at_the_ends_of_lines_do_not_overlap(width: int) -> None:
    picture = many_lines(width)
    places = sorted(m.y for m in picture.marks if isinstance(m, Words) and m.text.startswith("V"))
    assert len(places) == 24
    assert min(b - a for a, b in pairwise(places)) > 15


def test_lines_that_differ_have_looks_of_their_own() -> None:
    lines = [
        mark for mark in many_lines(WIDE_PX).marks if isinstance(mark, Line) and mark.width == 2.5
    ]
    looks = {(line.ink, line.dash) for line in lines}
    assert len(looks) == 24


GRADES = tuple(
    GradeShare(entry, grade, per_plant, share)
    for entry, found in (
        (BOLD, ((20.0, 1.0, 0.1), (30.0, 2.0, 0.2), (40.0, 3.0, 0.3), (50.0, 4.0, 0.4))),
        (RED, ((20.0, 0.0, 0.0), (30.0, 0.0, 0.0), (40.0, 5.0, 0.5), (50.0, 5.0, 0.5))),
    )
    for grade, per_plant, share in found
)


def grades(*, as_shares: bool = False) -> Picture:
    return grades_picture(
        GRADES, 40.0, UnitSystem.METRIC, "variety", [BOLD, RED], WIDE_PX, as_shares=as_shares
    )


def test_grades_lie_on_their_side_of_the_shortest_length() -> None:
    picture = grades()
    inks = grade_inks([20.0, 30.0, 40.0, 50.0], 40.0)
    (rule,) = [mark for mark in picture.marks if isinstance(mark, Line) and mark.ink is Ink.CLAY]
    zero = rule.points[0][0]
    first = min(mark.y for mark in picture.marks if isinstance(mark, Box) and mark.height == 20)
    bars = {
        mark.fill: (mark.x, mark.x + mark.width)
        for mark in picture.marks
        if isinstance(mark, Box) and mark.height == 20 and mark.y == first
    }
    per_stem = (bars[inks[50.0]][1] - zero) / 7
    for grade, (low, high) in {
        30.0: (-2.0, 0.0),
        20.0: (-3.0, -2.0),
        40.0: (0.0, 3.0),
        50.0: (3.0, 7.0),
    }.items():
        left, right = bars[inks[grade]]
        assert (left - zero) / per_stem == pytest.approx(low, abs=1e-9)
        assert (right - zero) / per_stem == pytest.approx(high, abs=1e-9)
    assert "7.0" in words(picture)


def test_a_grade_that_a_level_has_no_stem_of_has_no_piece() -> None:
    found = [
        GradeShare(BOLD, 40.0, 3.0, 0.75), GradeShare(BOLD, 50.0, 1.0, 0.25),
        GradeShare(RED, 50.0, 2.0, 1.0),
    ]  # fmt: skip
    picture = grades_picture(found, 40.0, UnitSystem.METRIC, "variety", [BOLD, RED], WIDE_PX)
    pieces = [mark for mark in picture.marks if isinstance(mark, Box) and mark.height == 20]
    assert len(pieces) == 3
    by_row = sorted({mark.y for mark in pieces})
    (red,) = [mark for mark in pieces if mark.y == by_row[1]]
    first, second = sorted((mark for mark in pieces if mark.y == by_row[0]), key=lambda m: m.x)
    assert red.x == pytest.approx(first.x)  # both begin at the line
    assert red.width == pytest.approx(2 * second.width)


def test_grades_can_be_shares() -> None:
    assert [text for text in words(grades(as_shares=True)) if text.endswith("%")] == [
        "70%",
        "100%",
    ]


def test_grades_too_short_to_sell_have_another_ink_than_the_others() -> None:
    inks = grade_inks([20.0, 30.0, 40.0, 50.0], 40.0)
    assert len(set(inks.values())) == 4
    assert grade_inks([40.0, 50.0], 40.0)[40.0] == inks[40.0]


def test_the_saleable_grades_add_up_to_the_plain_mean_of_the_plots(demo_store: Path) -> None:
    (trial,) = (each for each in season.trials(demo_store) if each.code == "cosmos-2026")
    lowest = shortest_grade(trial.minimum_length_cm)
    plots = season.plots(demo_store, "cosmos-2026")
    found = season.length_grades(demo_store, "cosmos-2026", "variety")
    plain = plots.groupby("variety")["stems_per_plant"].mean()
    for name, expected in plain.items():
        sold = [item for item in found if item.level == name and item.grade_cm >= lowest]
        total = sum(item.stems_per_plant for item in sold)
        assert total == pytest.approx(expected, rel=1e-12)


MONDAY = date(2026, 8, 3)
WEEKS = tuple(
    WeekStems(level, MONDAY + timedelta(weeks=week), stems)
    for level, of_weeks in ((BOLD, (0.0, 2.5, 1.0)), (RED, (1.5, 0.0, 0.5)))
    for week, stems in enumerate(of_weeks)
)


def test_weeks_show_each_figure_and_their_sum() -> None:
    picture = weeks_picture(WEEKS, "variety", [BOLD, RED], WIDE_PX)
    assert column(picture, "stems per plant") == [0.0, 2.5, 1.0, 1.5, 0.0, 0.5]
    assert column(picture, "week of")[:2] == ["2026-08-03", "2026-08-10"]
    assert {"2.5", "3.5", "2.0", "3 Aug"} <= set(words(picture))
    fullest = [mark for mark in picture.marks if isinstance(mark, Box) and mark.fill is Ink.STEP_6]
    assert len(fullest) == 1


def test_stems_so_far_are_the_weeks_added_up() -> None:
    picture = so_far_picture(WEEKS, "variety", [BOLD, RED], WIDE_PX)
    assert column(picture, "stems per plant so far") == [0.0, 2.5, 3.5, 1.5, 1.5, 2.0]


@pytest.mark.parametrize("draw", [weeks_picture, so_far_picture])
def test_a_level_without_stems_in_any_week_has_no_place(draw: Callable[..., Picture]) -> None:
    picture = draw(WEEKS, "variety", [RED, "Nowhere"], WIDE_PX)
    assert set(column(picture, "variety")) == {RED}


def test_the_response_has_the_line_of_its_trend() -> None:
    """y = 30 - 2 x exactly: the fitted line meets each mean, as the bend is chance."""
    levels = ("9", "12", "15")
    means = tuple(
        Mean("spacing", (("spacing", each),), 4, 30 - 2 * float(each), 0.5, 9.0, None, None)
        for each in levels
    )
    sure, unsure = TermTest("straight", 1, 9, 50.0, 0.001), TermTest("bend", 1, 9, 0.1, 0.8)
    trend = Trend("spacing", "", 9.0, 15.0, -2.0, -2.5, -1.5, sure, unsure, None)
    found = comparison(means=means, trends=(trend,), with_best=(), check=None)
    picture = response_picture(found, "spacing", Figures("", 1.0, 1), WIDE_PX)
    assert picture is not None
    assert column(picture, "fitted line") == pytest.approx([12.0, 6.0, 0.0])
    assert response_picture(found, "variety", FIGURES, WIDE_PX) is None


def test_a_bend_beyond_doubt_is_drawn_as_a_curve() -> None:
    levels = ("9", "12", "15")
    means = tuple(
        Mean("spacing", (("spacing", each),), 4, value, 0.5, 9.0, None, None)
        for each, value in zip(levels, (10.0, 16.0, 10.0), strict=True)
    )
    test = TermTest("bend", 1, 9, 50.0, 0.001)
    trend = Trend("spacing", "", 9.0, 15.0, 0.0, -1.0, 1.0, test, test, None, 12.0)
    found = comparison(means=means, trends=(trend,), with_best=(), check=None)
    picture = response_picture(found, "spacing", Figures("", 1.0, 1), WIDE_PX)
    assert picture is not None
    assert column(picture, "fitted line") == pytest.approx([10.0, 16.0, 10.0])


PLOTS = tuple(
    PlotSeen(f"A{n}", "Bed 1" if n < 3 else "Bed 2", n, "1", (BOLD,), value, apart)
    for n, (value, apart) in enumerate([(10.0, -2.0), (14.0, 2.0), (None, None), (12.0, 0.0)])
)


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("showing", Showing)
def test_every_plot_has_a_place_of_its_own_on_the_map(showing: Showing, width: int) -> None:
    picture = bed_map_picture(PLOTS, "stems", FIGURES, showing, width)
    boxes = [m for m in picture.marks if isinstance(m, Box) and m.height > 20 and m.y > 0]
    assert len({(box.x, box.y) for box in boxes}) == len(PLOTS)
    assert column(picture, "stems (in)") == [5.0, 7.0, None, 6.0]
    assert column(picture, "difference from the mean of its treatment") == [-1.0, 1.0, None, 0.0]


def test_a_plot_without_a_figure_shows_a_dash_and_no_colour() -> None:
    picture = bed_map_picture(PLOTS, "stems", FIGURES, Showing.APART, NARROW_PX)
    assert {"–", "+1.0", "−1.0", "0.0"} <= {text.replace("+0.0", "0.0") for text in words(picture)}
    blank = [m for m in picture.marks if isinstance(m, Box) and m.fill is Ink.BAND]
    assert len(blank) == 1


def test_this_season_stands_next_to_earlier_ones() -> None:
    found = tuple(
        SeasonMean(year, f"t-{year}", level, value, None, None)
        for year, values in ((2025, (4.0, 6.0)), (2026, (8.0, 5.0)))
        for level, value in zip((BOLD, RED), values, strict=True)
    )
    picture = seasons_picture(found, "stems", "variety", FIGURES, WIDE_PX)
    assert picture is not None
    assert column(picture, "mean (in)") == [2.0, 3.0, 4.0, 2.5]
    assert seasons_picture(found[2:], "stems", "variety", FIGURES, WIDE_PX) is None


def every_picture(store: Path, code: str, width: int) -> list[Picture]:
    found = season.compare_trial(store, code, asked=season.Asked(second_opinions=False))
    pictures = []
    for views in season.views_of(store, code, found):
        first = answer_drawable(views.comparison, views.factor, UnitSystem.METRIC)
        drawn = [*([first] if first else []), *drawables(views, UnitSystem.METRIC)]
        pictures += [each.draw(width) for each in drawn]
    return pictures


@pytest.mark.slow
@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("code", TRIALS)
def test_every_picture_of_the_farm_stays_within_its_edges(
    farm_store: Path, code: str, width: int
) -> None:
    pictures = every_picture(farm_store, code, width)
    assert len(pictures) >= 4
    for picture in pictures:
        assert len(picture.rows) > 0
        assert all(len(row) == len(picture.columns) for row in picture.rows)
        assert picture.alt
        for mark in picture.marks:
            places = mark.points if isinstance(mark, Line) else ((mark.x, mark.y),)
            for x, y in places:
                assert -1 <= x <= picture.width + 1, (picture.name, mark)
                assert -1 <= y <= picture.height + 1, (picture.name, mark)
        ElementTree.fromstring(svg_file(picture))
        ElementTree.fromstring(svg_of_device(picture))


@pytest.mark.slow
def test_the_pictures_figures_are_the_comparison_s(farm_store: Path) -> None:
    found = season.compare_trial(farm_store, "cosmos-2026")
    picture = means_picture(found, "variety", figures_of(found), WIDE_PX)
    expected = sorted((m.mean for m in found.means if m.term == "variety"), reverse=True)
    assert sorted(column(picture, picture.columns[1]), reverse=True) == pytest.approx(expected)
    shown = list(csv.reader(StringIO(picture_csv(picture))))
    assert shown[0][0] == "variety"
    assert np.array([row[1] for row in shown[1:]], dtype=float) == pytest.approx(
        column(picture, picture.columns[1])
    )


def test_a_name_is_never_a_formula_or_markup() -> None:
    evil = comparison(means=(mean("=1+1", 48.0), mean(IMAGE, 40.0)), with_best=(), check=None)
    picture = means_picture(evil, "variety", FIGURES, WIDE_PX)
    assert '"\'=1+1"' in picture_csv(picture)
    drawn = svg_file(picture)
    assert "<img" not in drawn
    root = ElementTree.fromstring(drawn)
    assert {element.tag.partition("}")[2] for element in root.iter()} <= {
        *("svg", "title", "rect", "polyline", "circle", "polygon", "path", "text"),
    }


@pytest.fixture(scope="module")
def choice(cosmos_choice: Choice) -> Choice:
    return cosmos_choice


def test_chances_are_per_cent_of_the_standings_and_leave_out_the_short(
    choice: Choice,
) -> None:
    picture = chance_picture(choice, WIDE_PX)
    assert picture is not None
    expected = [s.chance_best for s in choice.standings if s.chance_best is not None]
    assert [value / 100 for value in column(picture, picture.columns[1])] == pytest.approx(expected)
    assert 0 < len(picture.rows) < len(choice.standings)


def test_expected_losses_are_in_the_readers_unit(choice: Choice) -> None:
    picture = loss_picture(choice, FIGURES, WIDE_PX)
    assert picture is not None
    expected = [s.expected_shortfall for s in choice.standings if s.expected_shortfall is not None]
    assert [value * 2 for value in column(picture, picture.columns[1])] == pytest.approx(expected)


def test_too_short_varieties_have_a_sign_of_their_own(choice: Choice) -> None:
    picture = tall_picture(choice, WIDE_PX)
    assert picture is not None
    crossed = [dot.shape is Shape.CROSS for dot in dots(picture)]
    assert crossed == [s.chance_best is None for s in choice.standings]
