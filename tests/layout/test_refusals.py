"""Plans that cannot be laid out: each refusal says what does not fit, and what would."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from trials.errors import PlanRefused, TallybedError
from trials.layout.laying_out import lay_out
from trials.layout.plan import Bed, Planting
from trials.model.trial import AppliedTo, Factor
from trials.stats.results import LayoutKind

if TYPE_CHECKING:
    from tests.layout.conftest import Planner

K, ON = LayoutKind, AppliedTo


def refusal(plan: Any) -> str:
    with pytest.raises(PlanRefused) as caught:
        lay_out(plan)
    assert isinstance(caught.value, TallybedError)
    return str(caught.value)


def test_beds_too_short_are_answered_with_what_fits(planner: Planner) -> None:
    """32 plots of 1.8 m on two beds of 20 m (11 plots each): 2 replicates, or smaller plots."""
    plan = planner.plan(K.COMPLETE_BLOCKS, planner.factor(8), beds=planner.beds(2, 20))
    text = refusal(plan)
    assert "32 plots of 1.8 m need 57.6 m of bed; the beds have 40 m." in text
    assert "2 replicates" in text
    plants = re.search(r"(\d+) plants per plot", text)
    assert plants is not None
    lay_out(replace(plan, replicates=2))
    lay_out(replace(plan, plants_per_plot=int(plants[1])))
    refusal(replace(plan, replicates=3))
    refusal(replace(plan, plants_per_plot=int(plants[1]) + 1))


def test_beds_that_waste_their_ends_are_told_so(planner: Planner) -> None:
    on = planner.factor(2, "pinch", ON.WHOLE_PLOT)
    plan = planner.plan(K.SPLIT_PLOT, on, planner.factor(4), beds=planner.beds(5, 13))
    assert "no whole plots fit in what is left at their ends" in refusal(plan)


def test_fewer_replicates_and_smaller_plots_are_searched_together(planner: Planner) -> None:
    """Six entries on 12 m, 3 rows at 20 cm: 12 plots of 1 m (9 plants, a guard at each end)."""
    plan = planner.plan(
        K.COMPLETE_BLOCKS,
        planner.factor(6),
        beds=planner.beds(1, 12),
        planting=Planting(3, 20),
        plants_per_plot=18,
    )
    text = refusal(plan)
    assert "Both together would fit: 3 replicates of 3 plants" in text
    assert "2 replicates of 9 plants per plot" in text
    lay_out(replace(plan, replicates=2, plants_per_plot=9))
    lay_out(replace(plan, replicates=3, plants_per_plot=3))
    refusal(replace(plan, replicates=2, plants_per_plot=12))
    refusal(replace(plan, replicates=3, plants_per_plot=6))


def test_too_many_entries_are_told_how_many_would_fit(planner: Planner) -> None:
    """40 entries on 30 m: 18 plots of 1.6 m (18 plants) or 30 of 1 m (9 plants)."""
    entries = planner.factor(40)
    plan = planner.plan(
        K.COMPLETE_BLOCKS,
        entries,
        checks=(entries.levels[-1],),
        beds=planner.beds(1, 30),
        planting=Planting(3, 20),
        plants_per_plot=18,
    )
    text = refusal(plan)
    assert (
        "The beds have room for at most 4 entries with 4 replicates of 18 plants per plot" in text
    )
    assert "6 entries with 3 replicates of 18 plants per plot" in text
    assert "10 entries with 3 replicates of 9 plants per plot" in text
    ten = Factor("variety", (*entries.levels[:9], entries.levels[-1]))
    lay_out(replace(plan, factors=(ten,), replicates=3, plants_per_plot=9))
    eleven = Factor("variety", (*entries.levels[:10], entries.levels[-1]))
    refusal(replace(plan, factors=(eleven,), replicates=3, plants_per_plot=9))


def test_a_farm_with_a_metre_of_bed_is_told_that_nothing_fits(planner: Planner) -> None:
    plan = planner.plan(K.COMPLETE_BLOCKS, planner.factor(8), beds=planner.beds(1, 1))
    assert "Not even the smallest plots of two entries fit these beds. Add bed." in refusal(plan)


def test_a_latin_square_needs_as_many_beds_and_replicates_as_entries(planner: Planner) -> None:
    few = planner.plan(K.LATIN_SQUARE, planner.factor(5), replicates=5, beds=planner.beds(4, 30))
    text = refusal(few)
    assert "For a Latin square 5 beds side by side are needed, 9 m of each" in text
    assert "complete blocks with 5 replicates" in text
    text = refusal(planner.plan(K.LATIN_SQUARE, planner.factor(5), replicates=4))
    assert "5 rows and 5 columns, so 5 replicates" in text


def test_strips_need_beds_side_by_side(planner: Planner) -> None:
    strips = planner.factor(3, "cover", ON.STRIP), planner.factor(4, "sowing", ON.STRIP)
    plan = planner.plan(K.STRIPS, *strips, replicates=2, beds=planner.beds(2, 60))
    assert "For crossing strips 3 beds side by side are needed, 7.2 m of each, 2 times" in refusal(
        plan
    )


def test_strips_turn_where_only_the_second_factor_has_few_enough_levels(planner: Planner) -> None:
    strips = planner.factor(3, "cover", ON.STRIP), planner.factor(2, "sowing", ON.STRIP)
    layout = lay_out(planner.plan(K.STRIPS, *strips, beds=planner.beds(2, 60)))
    assert {
        len({dict(p.levels)["sowing"] for p in layout.plots if (p.bed, p.block) == (bed, "1")})
        for bed in ("Bed 1", "Bed 2")
    } == {1}


@pytest.mark.parametrize(
    ("size", "said"),
    [
        (None, "about 3 plots per block work well"),
        (1, "has nothing to compare"),
        (10, "have room for all 10 treatments. Use complete blocks"),
        (12, "have room for all 10 treatments. Use complete blocks"),
    ],
)
def test_block_sizes_are_held_against_the_entries(
    planner: Planner, size: int | None, said: str
) -> None:
    plan = planner.plan(K.INCOMPLETE_BLOCKS, planner.factor(10), block_size=size)
    assert said in refusal(plan)


def test_a_plot_by_itself_is_no_block(planner: Planner) -> None:
    plan = planner.plan(K.INCOMPLETE_BLOCKS, planner.factor(7), block_size=2)
    assert "Use blocks of 3." in refusal(plan)


def test_too_few_entries_for_incomplete_blocks(planner: Planner) -> None:
    plan = planner.plan(K.INCOMPLETE_BLOCKS, planner.factor(3), block_size=2)
    assert "too few for incomplete blocks. Use complete blocks." in refusal(plan)


def test_augmented_blocks_need_checks_and_entries(planner: Planner) -> None:
    varieties = planner.factor(20)
    plan = planner.plan(K.AUGMENTED_BLOCKS, varieties, checks=varieties.levels[:3])
    assert "Name at least 2 checks" in refusal(replace(plan, checks=varieties.levels[:1]))
    assert "17 new entries are too few for 18 blocks" in refusal(replace(plan, replicates=18))
    text = refusal(replace(plan, block_size=6))
    assert "which need 8" in text
    assert "Use 6 blocks" in text
    lay_out(replace(plan, block_size=6, replicates=6))
    assert "compare entries only" in refusal(
        replace(plan, factors=(varieties, planner.factor(2, "pinch")))
    )


def test_rows_and_columns_need_three_rows_and_entries(planner: Planner) -> None:
    assert "Use at least 3 replicates" in refusal(
        planner.plan(K.ROW_COLUMN, planner.factor(6), replicates=2)
    )
    assert "too few for columns" in refusal(planner.plan(K.ROW_COLUMN, planner.factor(2)))
    assert "leaves nothing to estimate error from" in refusal(
        planner.plan(K.LATIN_SQUARE, planner.factor(2), replicates=2)
    )


def test_factors_must_suit_the_ground_of_the_kind(planner: Planner) -> None:
    text = refusal(planner.plan(K.SPLIT_PLOT, planner.factor(6), planner.factor(2, "pinch")))
    assert "a split-plot needs a factor on whole plots" in text
    text = refusal(planner.plan(K.COMPLETE_BLOCKS, planner.factor(6, on=ON.WHOLE_PLOT)))
    assert "needs a factor on plots" in text
    text = refusal(
        planner.plan(K.COMPLETE_BLOCKS, planner.factor(6), planner.factor(2, "p", ON.WHOLE_PLOT))
    )
    assert "p is on whole plots, but complete blocks has none" in text
    assert "use a split-plot" in text
    text = refusal(planner.plan(K.STRIPS, planner.factor(3, "cover", ON.STRIP)))
    assert "Crossing strips take two factors" in text


@pytest.mark.parametrize("name", ["spacing_cm", "netting"])
def test_what_reaches_over_stands_on_whole_plots_with_guards(planner: Planner, name: str) -> None:
    on_plots = Factor(name, ("15", "30"))
    varieties = planner.factor(4)
    text = refusal(planner.plan(K.COMPLETE_BLOCKS, on_plots, varieties))
    assert f"Give {name} to whole plots and use a split-plot" in text
    on_wholes = replace(on_plots, applied_to=ON.WHOLE_PLOT)
    plan = planner.plan(K.SPLIT_PLOT, on_wholes, varieties)
    lay_out(plan)
    assert "Use 1 guard plant or more" in refusal(replace(plan, guard_plants=0))
    lay_out(replace(plan, guard_plants=0, spilling=()))


def test_what_reaches_over_may_be_the_only_factor(planner: Planner) -> None:
    plan = planner.plan(K.COMPLETE_BLOCKS, Factor("netting", ("none", "one layer")))
    lay_out(plan)
    assert "Use 1 guard plant or more" in refusal(replace(plan, guard_plants=0))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"replicates": 1}, "Use at least 2"),
        ({"plants_per_plot": 0}, "use at least 1"),
        ({"guard_plants": -1}, "use 0 or more"),
        ({"planting": Planting(0, 30)}, "0 rows on the bed"),
        ({"planting": Planting(4, 0)}, "A spacing of 0 cm"),
        ({"beds": ()}, "names no bed"),
        ({"beds": (Bed("Ash", 0, 1),)}, "Bed Ash is 0 m by 1 m"),
        ({"beds": (Bed("Ash", 9, 1), Bed("Ash", 9, 1))}, "Bed Ash is named twice"),
        ({"first_number": 0}, "Plot numbers begin at 1"),
        ({"season": 1999}, "Plot codes reach"),
        ({"factors": ()}, "the plan has no factors"),
        ({"factors": (Factor("variety", ("a",)),)}, "nothing to compare"),
        ({"factors": (Factor("variety", ("a", "b", "a")),)}, "a is named twice"),
        ({"factors": (Factor("v", ("a", "b")), Factor("v", ("c", "d")))}, "v is named twice"),
        ({"factors": (Factor("spacing_cm", ("15", "wide")),)}, "'wide' is not a spacing"),
        ({"checks": ("stranger",)}, "No factor has stranger among its levels"),
        ({"checks": ("variety 1", "variety 1")}, "named twice"),
        ({"kind": K.SIDE_BY_SIDE}, "complete blocks with 3 replicates, the cheapest"),
    ],
)
def test_parts_that_cannot_be_are_named(
    planner: Planner, change: dict[str, Any], said: str
) -> None:
    assert said in refusal(replace(planner.plan(K.COMPLETE_BLOCKS, planner.factor(4)), **change))
