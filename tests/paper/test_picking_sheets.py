from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from trials.errors import PrintRefused
from trials.layout.plan import PlannedLayout
from trials.model.trial import MEASURES
from trials.model.units import PaperSize, UnitSystem
from trials.paper.picking_sheets import (
    CULL_REASONS,
    grade_headings,
    write_length_sheets,
    write_picking_sheets,
)
from trials.paper.treatment import Showing

if TYPE_CHECKING:
    from tests.paper.conftest import Layouts, Printed


def written(layout: PlannedLayout, folder: Path, **asked: Any) -> Path:
    path = folder / "sheets.pdf"
    write_picking_sheets(layout, path, farm="Murrowhask Flowers", on=date(2027, 3, 1), **asked)
    return path


@pytest.mark.slow
@pytest.mark.parametrize("size", list(PaperSize))
@pytest.mark.parametrize(("entries", "replicates", "pages"), [(2, 2, 1), (6, 4, 1), (10, 6, 3)])
def test_every_plot_has_a_row_in_walking_order(
    layouts: Layouts,
    printed: type[Printed],
    tmp_path: Path,
    size: PaperSize,
    entries: int,
    replicates: int,
    pages: int,
) -> None:
    layout = layouts.blocks(entries, replicates)
    found = printed(written(layout, tmp_path, size=size))
    assert re.findall(r"Z\d{3}", found.words) == [plot.code for plot in layout.plots]
    assert len(found.pages) == pages
    assert not found.overrun(margin_mm=5)


def test_every_page_says_how_three_things_are_written_differently(
    layouts: Layouts, printed: type[Printed], tmp_path: Path
) -> None:
    for page in printed(written(layouts.blocks(10, 6), tmp_path)).pages:
        words = " ".join(page.split())
        assert "Nobody looked: leave the whole row blank" in words
        assert "Picked, nothing there: write 0" in words
        assert "Missed: tick the box" in words
        for line in ("Date", "Picker", "Weather", "Knives", "Heat", "eye caps", "Guard plants"):
            assert line in words


def test_there_is_a_box_for_every_grade_and_reason(
    layouts: Layouts, printed: type[Printed], tmp_path: Path
) -> None:
    words = printed(written(layouts.blocks(2, 2), tmp_path)).words
    for heading in ("30–39", "40–49", "50–59", "60+", "Missed", *CULL_REASONS):
        assert heading in words


def test_grades_too_short_to_sell_are_not_under_stems_to_sell(
    layouts: Layouts, printed: type[Printed], tmp_path: Path
) -> None:
    text = printed(written(layouts.blocks(2, 2), tmp_path)).words
    assert text.index("Too short to sell") < text.index("Stems to sell, by length")
    layout = layouts.blocks(2, 2)
    tall = replace(layout, plan=replace(layout.plan, grades_cm=(40, 50)))
    assert "Too short to sell" not in printed(written(tall, tmp_path)).words


def test_grades_reach_up_to_the_next_one() -> None:
    # 1 in is 2.54 cm exactly.
    assert grade_headings((50, 40)) == ("40–49 cm\n15.7 in", "50+ cm\n19.7 in")
    in_us = grade_headings((50, 40), UnitSystem.US)
    assert in_us == ("15.7–19.7 in", "19.7+ in")


def test_a_farm_that_measures_in_inches_reads_its_grades_in_inches(
    layouts: Layouts, printed: type[Printed], tmp_path: Path
) -> None:
    path = written(layouts.blocks(2, 2), tmp_path, units=UnitSystem.US, size=PaperSize.LETTER)
    found = printed(path)
    for heading in ("12–15.7 in", "15.7–19.7 in", "19.7–23.6 in", "23.6+ in"):
        assert heading in " ".join(found.words.split())
    assert not found.overrun(margin_mm=5)


def test_a_picking_day_has_its_own_pages_and_date(
    layouts: Layouts, printed: type[Printed], tmp_path: Path
) -> None:
    days = (date(2027, 7, 20), None)
    first, second = printed(written(layouts.blocks(2, 2), tmp_path, picking_days=days)).pages
    assert "2027-07-20" in first
    assert "2027" not in second.replace("zinnia · Low Field · 2027", "")


def test_long_names_are_printed_in_full(
    layouts: Layouts, printed: type[Printed], tmp_path: Path
) -> None:
    name = f"{layouts.long_name}, {layouts.long_name}"
    found = printed(written(layouts.blocks((name, "Ember"), 3), tmp_path))
    assert "".join(found.words.split()).count("".join(name.split())) == 3


def test_many_reasons_turn_the_sheet(
    layouts: Layouts, printed: type[Printed], tmp_path: Path
) -> None:
    reasons = tuple(f"reason {number}" for number in range(12))
    found = printed(written(layouts.blocks(2, 2), tmp_path, cull_reasons=reasons))
    assert found.size_mm == (297.0, 210.0)
    assert all(reason in found.words for reason in reasons)


def test_more_boxes_than_the_paper_is_wide_are_refused(layouts: Layouts, tmp_path: Path) -> None:
    layout = layouts.blocks(2, 2)
    fine = replace(layout, plan=replace(layout.plan, grades_cm=tuple(range(30, 130, 5))))
    with pytest.raises(PrintRefused, match="20 length grades"):
        written(fine, tmp_path)


def test_the_length_sheet_samples_the_stems_that_its_measure_takes(
    layouts: Layouts, printed: type[Printed], tmp_path: Path
) -> None:
    (measure,) = (each for each in MEASURES if each.key == "stem_length_cm")
    assert "short ones too" in measure.meaning
    path = tmp_path / "lengths.pdf"
    write_length_sheets(layouts.blocks(2, 2), path, farm="", on=date(2027, 3, 1))
    words = printed(path).words
    assert "short ones too, but no culls" in " ".join(words.split())


def test_a_blind_sheet_does_not_tell_what_grows_there(
    layouts: Layouts, printed: type[Printed], tmp_path: Path
) -> None:
    layout = layouts.blocks(("Ember", "Frost Fern"), 2)
    words = printed(written(layout, tmp_path, showing=Showing.CODE_ALONE)).words
    assert "Ember" not in words
    assert "Z101" in words
