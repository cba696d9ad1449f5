from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest

from trials.paper.strips import Room, arrange, beds, groupings, runs

if TYPE_CHECKING:
    from tests.paper.conftest import Layouts

A4_LANDSCAPE = Room(267, 130, 20)


def at_most(scale: int) -> Callable[[int], bool]:
    return lambda other: other <= scale


@pytest.mark.parametrize("longest_m", [1.8, 2, 5, 7.3, 18, 100])
def test_strips_hold_every_plot_once_and_none_is_longer_than_asked(
    layouts: Layouts, longest_m: float
) -> None:
    layout = layouts.blocks(10, 6, beds=3)
    cut = [strip for strips in beds(layout, longest_m) if strips for strip in strips]
    assert sorted(plot.code for strip in cut for plot in strip.plots) == sorted(
        plot.code for plot in layout.plots
    )
    assert all(strip.end_m - strip.start_m <= longest_m + 1e-6 for strip in cut)


def test_a_bed_is_cut_into_as_few_strips_as_can_be_and_evenly(layouts: Layouts) -> None:
    (strips,) = beds(layouts.blocks(10, 1, beds=1), 14.4)  # ten plots of 1.8 m; eight would fit
    assert strips is not None
    assert [len(strip.plots) for strip in strips] == [5, 5]
    assert [(strip.part, strip.parts) for strip in strips] == [(1, 2), (2, 2)]


def test_a_plot_longer_than_a_strip_cannot_be_cut(layouts: Layouts) -> None:
    assert list(beds(layouts.blocks(4, 1, beds=1), 1.7)) == [None]


def test_the_way_of_the_walk_shows_in_the_strips(layouts: Layouts) -> None:
    up, down = (strips[0] for strips in beds(layouts.blocks(4, 2), 100) if strips)
    assert (up.walked_upwards, down.walked_upwards) == (True, False)
    assert down.plots[0].position == 8
    (single,) = beds(layouts.blocks(1, 1, beds=1), 100)
    assert single is not None
    assert single[0].walked_upwards is None


def test_blocks_and_whole_plots_are_runs_of_neighbours(layouts: Layouts) -> None:
    layout = layouts.whole_plots()
    (strips,) = beds(layout, 100)
    assert strips is not None
    found = {
        grouping.name: [(name, a.code, b.code) for name, a, b in runs(strips[0], grouping)]
        for grouping in groupings(layout)
    }
    # Whole plot 1 of block 2 follows whole plot 2 of block 1.
    assert found == {
        "block": [("1", "P01", "P06"), ("2", "P07", "P12")],
        "whole plot": [
            ("1", "P01", "P03"),
            ("2", "P04", "P06"),
            ("1", "P07", "P09"),
            ("2", "P10", "P12"),
        ],
    }


def test_one_page_with_whole_beds_is_preferred(layouts: Layouts) -> None:
    # Two beds of 21.6 m in 267 mm: 1 to 81 at least, so 1 to 90.
    drawn = arrange(layouts.blocks(6, 4), A4_LANDSCAPE, at_most(90), at_most(90))
    assert (drawn.scale, [len(page) for page in drawn.pages]) == (90, [2])


def test_beds_are_cut_before_a_second_page_is_begun(layouts: Layouts) -> None:
    # At 1 to 75 the beds need two strips each, of 16 mm and 20 mm beside: 144 mm in all.
    room = Room(267, 145, 20)
    drawn = arrange(layouts.blocks(6, 4), room, at_most(80), at_most(80))
    assert (drawn.scale, [len(page) for page in drawn.pages]) == (75, [4])
    # Lower pages hold three such strips, so there are two pages: then 1 to 45 fits as well.
    drawn = arrange(layouts.blocks(6, 4), A4_LANDSCAPE, at_most(80), at_most(80))
    assert (drawn.scale, [len(page) for page in drawn.pages]) == (45, [2, 2])


def test_keys_stand_in_for_names_that_need_too_many_pages(layouts: Layouts) -> None:
    layout = layouts.blocks(6, 4, net_m=3)
    drawn = arrange(layout, A4_LANDSCAPE, at_most(20), at_most(125))
    assert len(drawn.pages) == 1


def test_where_nothing_can_be_read_the_largest_drawing_is_taken(layouts: Layouts) -> None:
    drawn = arrange(layouts.blocks(2, 2), A4_LANDSCAPE, lambda _: False, lambda _: False)
    assert drawn.scale == 20


def test_a_bed_wider_than_the_page_is_drawn_smaller(layouts: Layouts) -> None:
    room = Room(267, 60, 20)  # 1.2 m at 1 to 30 is 40 mm
    drawn = arrange(layouts.blocks(2, 1), room, lambda _: True, lambda _: True)
    assert drawn.scale >= 30
