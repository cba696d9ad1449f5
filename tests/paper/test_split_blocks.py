from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from trials.layout.plan import PlannedLayout
from trials.paper.bed_map import write_bed_map
from trials.paper.picking_sheets import write_picking_sheets

if TYPE_CHECKING:
    from tests.paper.conftest import Layouts, Printed

either = pytest.mark.parametrize("write", [write_bed_map, write_picking_sheets])


def words_of(
    printed: type[Printed], write: Callable[..., None], layout: PlannedLayout, folder: Path
) -> str:
    path = folder / "printed.pdf"
    write(layout, path, farm="Murrowhask Flowers", on=date(2027, 3, 1))
    return printed(path).words


@either
def test_a_block_on_two_beds_is_told(
    layouts: Layouts, printed: type[Printed], tmp_path: Path, write: Callable[..., None]
) -> None:
    # Eight plots to a bed: block 2 of 3 has three plots on the first bed, two on the second.
    layout = layouts.blocks(5, 3)
    beds = {(plot.block, plot.bed) for plot in layout.plots}
    assert beds == {("1", "Bed A"), ("2", "Bed A"), ("2", "Bed B"), ("3", "Bed B")}
    words = words_of(printed, write, layout, tmp_path)
    assert "Block 2 is split over Bed A and Bed B." in words
    assert "Do the same work in all parts of a split block on the same day." in words
    assert words.count("is split over") == 1


@either
def test_blocks_on_one_bed_each_are_not_said_to_be_split(
    layouts: Layouts, printed: type[Printed], tmp_path: Path, write: Callable[..., None]
) -> None:
    words = words_of(printed, write, layouts.blocks(6, 4), tmp_path)
    assert "split" not in words
