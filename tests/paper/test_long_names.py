from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from trials.model.units import PaperSize
from trials.paper.bed_map import write_bed_map
from trials.paper.picking_sheets import write_picking_sheets
from trials.paper.trial_page import write_trial_page

if TYPE_CHECKING:
    from tests.paper.conftest import Layouts, Printed


def without_spaces(text: str) -> str:
    return "".join(text.split())


@pytest.mark.slow
@pytest.mark.parametrize("write", [write_trial_page, write_bed_map, write_picking_sheets])
def test_fifty_long_names_are_printed_in_full_on_letter_paper(
    layouts: Layouts, printed: type[Printed], tmp_path: Path, write: Callable[..., None]
) -> None:
    # The names differ at their end alone, so that one cut short is missed.
    names = tuple(f"{layouts.long_name} {number}" for number in range(11, 61))
    path = tmp_path / "printed.pdf"
    layout = layouts.blocks(names, 2, beds=4)
    write(layout, path, farm="Murrowhask Flowers", on=date(2027, 3, 1), size=PaperSize.LETTER)
    found = printed(path)
    assert sorted(found.size_mm) == [215.9, 279.4]
    text = without_spaces(found.words)
    assert [name for name in names if without_spaces(name) not in text] == []
    assert all(plot.code in text for plot in layout.plots)
    assert not found.overrun(margin_mm=5)
