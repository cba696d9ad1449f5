from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from trials.errors import FileRefused, PrintRefused
from trials.layout import PlannedLayout, lay_out
from trials.model.trial import AppliedTo, Factor
from trials.model.units import PaperSize
from trials.paper.bed_map import NOT_TOLD, Ground, Slope, write_bed_map
from trials.paper.page import MISSING
from trials.paper.strip_drawing import feet_and_inches, metres
from trials.paper.treatment import level_words, treatment_words
from trials.stats.results import LayoutKind

if TYPE_CHECKING:
    from tests.paper.conftest import Layouts, Printed

LANDSCAPE_MM = {PaperSize.A4: (297.0, 210.0), PaperSize.LETTER: (279.4, 215.9)}


def written(
    layout: PlannedLayout,
    folder: Path,
    size: PaperSize = PaperSize.A4,
    ground: Ground = NOT_TOLD,
) -> Path:
    path = folder / f"{layout.plan.code}-{size.value}.pdf"
    write_bed_map(
        layout, path, farm="Murrowhask Flowers", on=date(2027, 3, 1), size=size, ground=ground
    )
    return path


@pytest.mark.slow
@pytest.mark.parametrize("size", list(PaperSize))
@pytest.mark.parametrize(
    ("entries", "replicates", "beds"), [(2, 2, 1), (6, 4, 2), (10, 6, 3), (50, 4, 8)]
)
def test_every_plot_is_on_the_map_once(
    layouts: Layouts,
    printed: type[Printed],
    tmp_path: Path,
    size: PaperSize,
    entries: int,
    replicates: int,
    beds: int,
) -> None:
    layout = layouts.blocks(entries, replicates, beds=beds)
    found = printed(written(layout, tmp_path, size))
    assert found.size_mm == LANDSCAPE_MM[size]
    words = found.words.split()
    assert [words.count(plot.code) for plot in layout.plots] == [1] * len(layout.plots)
    # A strip has a heading of its own, and it names the bed.
    assert all(bed.name in found.words for bed in layout.plan.beds)
    assert not found.overrun(margin_mm=5)


@pytest.mark.parametrize("size", list(PaperSize))
def test_a_long_name_is_printed_in_full(
    layouts: Layouts, printed: type[Printed], tmp_path: Path, size: PaperSize
) -> None:
    layout = layouts.blocks((layouts.long_name, *layouts.entries(5)), 4)
    text = "".join(printed(written(layout, tmp_path, size)).words.split())
    assert text.count("".join(layouts.long_name.split())) == 4


def test_names_that_have_no_room_are_told_beside_the_map(
    layouts: Layouts, printed: type[Printed], tmp_path: Path
) -> None:
    layout = layouts.blocks((layouts.long_name, *layouts.entries(5)), 4, net_m=0.2, guard_m=0)
    found = printed(written(layout, tmp_path))
    words = found.words
    assert all(plot.code in words for plot in layout.plots)
    key = re.search(r"(№ \d+) " + re.escape(layouts.long_name), words)
    assert key is not None
    # Once in each block, once where it is told.
    assert re.findall(r"№ \d+", words).count(key[1]) == 5


def test_both_ways_are_drawn_to_the_scale_that_is_printed(
    layouts: Layouts, printed: type[Printed], tmp_path: Path
) -> None:
    found = printed(written(layouts.blocks(6, 4), tmp_path))
    scale = re.search(r"Scale 1 : (\d+)", found.words)
    assert scale is not None
    page = found.reader.pages[0].get_contents()
    assert page is not None
    drawn = re.findall(rb"[\d.]+ [\d.]+ ([\d.]+) (-?[\d.]+) re S", page.get_data())
    sizes = [tuple(round(abs(float(side)) * 25.4 / 72, 1) for side in sides) for sides in drawn]
    plot_mm = (round(1800 / int(scale[1]), 1), round(1200 / int(scale[1]), 1))
    assert sizes.count(plot_mm) == 24


def test_the_legend_tells_what_the_map_shows(
    layouts: Layouts, printed: type[Printed], tmp_path: Path
) -> None:
    words = printed(written(layouts.whole_plots(), tmp_path)).words
    for told in ("block 1", "whole plot 2", "guard plants: never counted", "12 plots", "draw"):
        assert told in words
    # Twelve plots of 2 m begin 2 m along the bed; 2 m are 6 feet and 7 inches.
    assert "2 m–" in words
    assert "26 m" in words
    assert "6′ 7″" in words
    assert "walk → from plot 1" in words
    assert "spacing 20 cm" in words
    bare = printed(written(layouts.blocks(2, 2, guard_m=0), tmp_path)).words
    assert "guard plants" not in bare


@pytest.mark.slow
@pytest.mark.parametrize(
    ("bearing", "right", "up"), [(0, 1, 0), (90, 0, 1), (180, -1, 0), (270, 0, -1)]
)
def test_north_is_drawn_where_it_lies(
    layouts: Layouts,
    printed: type[Printed],
    tmp_path: Path,
    bearing: float,
    right: int,
    up: int,
) -> None:
    """Where the beds run to the right and to the east, north is up."""
    ground = Ground(bearing, "from wet to dry", Slope.RIGHT)
    found = printed(written(layouts.blocks(2, 2), tmp_path, ground=ground))
    assert "from wet to dry →" in found.words
    places = {}

    def visit(text: str, cm: list[float], tm: list[float], *_: object) -> None:
        places[text.strip()] = (tm[4] * cm[0] + cm[4], tm[5] * cm[3] + cm[5])

    found.reader.pages[0].extract_text(visitor_text=visit)
    other = printed(written(layouts.blocks(2, 2), tmp_path, ground=Ground(bearing + 180)))
    x, y = places["N"]
    other.reader.pages[0].extract_text(visitor_text=visit)
    opposite_x, opposite_y = places["N"]
    assert (x - opposite_x > 20, x - opposite_x < -20) == (right > 0, right < 0)
    assert (y - opposite_y > 20, y - opposite_y < -20) == (up > 0, up < 0)


def test_a_letter_the_type_lacks_is_seen_to_be_missing(
    layouts: Layouts, printed: type[Printed], tmp_path: Path
) -> None:
    layout = layouts.blocks(("日本 1", "Żółć"), 2, beds=1)
    words = printed(written(layout, tmp_path)).words
    assert f"{MISSING}{MISSING} 1" in words
    assert "Żółć" in words


def test_the_same_layout_gives_the_same_bytes(layouts: Layouts, tmp_path: Path) -> None:
    first = written(layouts.blocks(6, 4), tmp_path).read_bytes()
    assert written(layouts.blocks(6, 4), tmp_path).read_bytes() == first


def test_a_place_that_cannot_be_written_is_refused(layouts: Layouts, tmp_path: Path) -> None:
    with pytest.raises(FileRefused, match="cannot be written"):
        written(layouts.blocks(2, 2), tmp_path / "no such folder")


def test_units_within_units_are_named(
    layouts: Layouts, printed: type[Printed], tmp_path: Path
) -> None:
    plan = replace(
        layouts.plan(layouts.entries(3), 2, 4, 40),
        kind=LayoutKind.SPLIT_SPLIT_PLOT,
        factors=(
            Factor("pinch", ("pinched", "left"), AppliedTo.WHOLE_PLOT),
            Factor("feed", ("fed", "not fed"), AppliedTo.SPLIT_PLOT),
            Factor("variety", layouts.entries(3), AppliedTo.PLOT),
        ),
    )
    layout = lay_out(plan)
    words = printed(written(layout, tmp_path)).words
    assert all(plot.code in words for plot in layout.plots)
    for unit in ("block", "whole plot", "split plot"):
        part = unit.replace(" ", "_")
        named = {f"{unit} {getattr(plot, part)}" for plot in layout.plots}
        assert all(name in words for name in named)


def test_rows_and_columns_stand_in_the_plots(
    layouts: Layouts, printed: type[Printed], tmp_path: Path
) -> None:
    plan = replace(
        layouts.plan(layouts.entries(4), 4, 4, 40), kind=LayoutKind.LATIN_SQUARE, checks=()
    )
    words = printed(written(lay_out(plan), tmp_path)).words
    assert words.count("row 2, column") == 4


@pytest.mark.parametrize(
    ("length_m", "metric", "us"),
    # 1 ft = 0.3048 m and 1 in = 0.0254 m exactly.
    [(0, "0 m", "0′"), (3.048, "3.05 m", "10′"), (1.8, "1.8 m", "5′ 11″"), (0.3, "0.3 m", "1′")],
)
def test_lengths_are_told_as_on_a_tape(length_m: float, metric: str, us: str) -> None:
    assert (metres(length_m), feet_and_inches(length_m)) == (metric, us)


def test_a_bare_number_is_told_with_its_factor(layouts: Layouts) -> None:
    assert level_words("spacing_cm", "20") == "spacing 20 cm"
    assert level_words("rows", "4") == "rows 4"
    assert level_words("variety", "Ember 2") == "Ember 2"
    layout = layouts.whole_plots()
    assert treatment_words(layout, layout.plots[0]) == "pinched, spacing 20 cm, Ember (check)"


@pytest.mark.parametrize("farm", ["x" * 101, "x" * 5000])
def test_a_farm_s_name_that_fills_the_page_is_refused(
    layouts: Layouts, tmp_path: Path, farm: str
) -> None:
    path = tmp_path / "map.pdf"
    with pytest.raises(PrintRefused, match="at most 100"):
        write_bed_map(layouts.blocks(2, 2), path, farm=farm, on=date(2027, 3, 1))
    assert not path.exists()


def test_a_heading_that_leaves_no_room_for_the_beds_is_refused(
    layouts: Layouts, tmp_path: Path
) -> None:
    layout = layouts.blocks(2, 2)
    long = replace(layout, plan=replace(layout.plan, crop="x " * 1000))
    with pytest.raises(PrintRefused, match="shorter names"):
        written(long, tmp_path)
