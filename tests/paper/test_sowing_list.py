from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from trials.paper.sowing_list import sowing_lines, write_sowing_list

if TYPE_CHECKING:
    from tests.paper.conftest import Layouts, Printed


def test_seeds_are_worked_out_from_plants_germination_and_overage(layouts: Layouts) -> None:
    layout = layouts.blocks(("Ember", "Tallow"), 3)
    layout = replace(layout, plots=tuple(replace(plot, guards_set=8) for plot in layout.plots))
    ember, tallow = sowing_lines(layout, {"Ember": 0.8}, usable=0.9, overage=0.1)
    # By hand: 3 plots of 16 and 8 guards are 72 plants; 72 / (0.8 x 0.9) x 1.1 = 110.
    assert (ember.plots, ember.plants, ember.seeds, ember.assumed) == (3, 72, 110, False)
    # 72 / (0.75 x 0.9) x 1.1 = 117.3, so 118.
    assert (tallow.seeds, tallow.germination, tallow.assumed) == (118, 0.75, True)


def test_the_list_says_which_germination_is_assumed(
    layouts: Layouts, printed: type[Printed], tmp_path: Path
) -> None:
    path = tmp_path / "sowing.pdf"
    layout = layouts.blocks(("Ember", "Tallow"), 3)
    write_sowing_list(layout, path, farm="F", on=date(2027, 3, 1), germination={"Ember": 0.8})
    words = printed(path).words
    for told in ("Ember", "80%", "75% assumed", "no seed lot in the store", "Treated seed"):
        assert told in words
