"""Neighbours counted by hand on small maps, and what an order by lot is chosen for."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from trials.layout.field.neighbours import Neighbours, freshest, neighbours
from trials.layout.laying_out import lay_out
from trials.layout.plan import PlannedLayout
from trials.stats.results import LayoutKind

if TYPE_CHECKING:
    from tests.layout.conftest import Planner


def arranged(planner: Planner, beds: list[str]) -> PlannedLayout:
    """Plots of 1.8 m from the head of each bed, one variety a letter."""
    names = sorted(set("".join(beds)))
    factor = replace(planner.factor(len(names)), levels=tuple(names))
    plan = planner.plan(
        LayoutKind.COMPLETE_BLOCKS,
        factor,
        replicates=len("".join(beds)) // len(names),
        beds=planner.beds(len(beds), len(beds[0]) * 1.8),
    )
    layout = lay_out(plan)
    plots = iter(layout.plots)
    return replace(
        layout,
        plots=tuple(
            replace(
                next(plots),
                bed=f"Bed {bed}",
                start_m=round(1.8 * place, 6),
                levels=(("variety", name),),
            )
            for bed, row in enumerate(beds, start=1)
            for place, name in enumerate(row)
        ),
    )


def test_neighbours_are_counted_along_and_across(planner: Planner) -> None:
    """abc over bac: a-b twice along and twice across, b-c, a-c once each along, c-c across."""
    found = neighbours(arranged(planner, ["abc", "bac"]))
    assert found == Neighbours(4, 0, 3, 1, most_meetings=4, fewest_possible=2)


def test_likes_are_seen_along_a_bed(planner: Planner) -> None:
    found = neighbours(arranged(planner, ["aab", "bcc"]))
    assert (found.alike_along, found.alike_across) == (2, 0)


def test_likes_are_kept_apart_first_and_then_repeats(planner: Planner) -> None:
    facing = arranged(planner, ["abcd", "abcd"])
    apart = arranged(planner, ["abcd", "badc"])
    fresh = arranged(planner, ["abcd", "cdab"])
    assert freshest([facing, apart, fresh]) == fresh


def test_a_drawn_layout_has_few_likes_side_by_side(planner: Planner) -> None:
    """Eight varieties over four beds; by lot alone about one pair across in eight is alike."""
    plan = planner.plan(LayoutKind.COMPLETE_BLOCKS, planner.factor(8), beds=planner.beds(4, 15))
    found = [neighbours(lay_out(replace(plan, seed=seed))) for seed in range(20)]
    assert sum(each.alike_along for each in found) == 0
    pairs = sum(each.across for each in found)
    assert sum(each.alike_across for each in found) < pairs / 8 / 3
