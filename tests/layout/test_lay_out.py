"""Every kind of layout over thousands of plans: what the lot may never break."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import pairwise, product
from math import factorial
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from trials.layout import laying_out as drawing
from trials.layout.designs.random_numbers import Lot
from trials.layout.field.beds import plot_ground
from trials.layout.field.codes import is_valid
from trials.layout.fit_to_beds import KINDS
from trials.layout.laying_out import digest, lay_out
from trials.layout.plan import Bed, PlannedLayout, PlannedPlot
from trials.model.trial import AppliedTo, Factor
from trials.stats.design.plots import plots_of
from trials.stats.design.structure import structure_of
from trials.stats.design.table import Labels, PlotTable, Treatment
from trials.stats.results import LayoutKind

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from tests.layout.conftest import Planner

    Parts = Callable[..., dict[tuple[str, ...], list[PlannedPlot]]]

K, ON = LayoutKind, AppliedTo


@pytest.fixture(autouse=True, scope="module")
def few_draws() -> Iterator[None]:
    """Two whole layouts drawn to choose from: what each must be is the same for any number."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(drawing, "DRAWS", 2)
        yield


def level(plot: PlannedPlot, factor: str = "variety") -> str:
    return dict(plot.levels)[factor]


def require_sound_ground(layout: PlannedLayout) -> None:
    """Plots lie within their beds, apart from one another, and are walked in order."""
    length = {bed.name: bed.length_m for bed in layout.plan.beds}
    order = [bed.name for bed in layout.plan.beds]
    assert [plot.position for plot in layout.plots] == list(range(1, len(layout.plots) + 1))
    visited = [order.index(plot.bed) for plot in layout.plots]
    assert visited == sorted(visited)
    for turn, bed in enumerate(sorted(set(visited))):
        plots = [plot for plot in layout.plots if plot.bed == order[bed]]
        starts = [plot.start_m for plot in plots]
        assert starts == sorted(starts, reverse=bool(turn % 2))
        along = sorted(plots, key=lambda plot: plot.start_m)
        assert along[0].start_m >= 0
        assert along[-1].start_m + along[-1].length_m <= length[order[bed]] + 1e-9
        for plot, following in pairwise(along):
            assert plot.start_m + plot.length_m <= following.start_m + 1e-6
    assert all(is_valid(plot.code) for plot in layout.plots)
    assert len({plot.code for plot in layout.plots}) == len(layout.plots)


def require_fresh_orders(orders: list[list[str]]) -> None:
    """No two runs in one order as long as there are orders; never all in the same."""
    different = {tuple(order) for order in orders}
    if len(orders[0]) > 2:
        assert len(different) >= min(len(orders), factorial(len(orders[0])))
    else:
        assert len(orders) == 1 or len(different) > 1


# --- what holds for every kind ----------------------------------------------------------------


def test_every_kind_that_can_be_replicated_is_laid_out(planner: Planner) -> None:
    kinds = {plan.kind for plan in planner.one_of_each_kind()}
    assert kinds == set(KINDS) == set(LayoutKind) - {LayoutKind.SIDE_BY_SIDE}


def test_the_comparison_recognises_every_layout(planner: Planner) -> None:
    """What is laid out is read back as the same kind, with error to judge each factor by."""
    for plan in planner.one_of_each_kind():
        layout = lay_out(plan)

        def labels(part: str, plots: tuple[PlannedPlot, ...] = layout.plots) -> Labels | None:
            named = [getattr(plot, part) for plot in plots]
            return None if named[0] is None else Labels.of(part, named)

        table = PlotTable(
            "stems",
            "stems",
            np.arange(len(layout.plots), dtype=float),
            tuple(
                Treatment(
                    Labels.of(f.name, [level(plot, f.name) for plot in layout.plots]), f.applied_to
                )
                for f in plan.factors
            ),
            tuple(plot.code for plot in layout.plots),
            block=labels("block"),
            row=labels("row"),
            column=labels("column"),
            incomplete_block=labels("incomplete_block"),
            whole_plot_unit=labels("whole_plot"),
            split_plot_unit=labels("split_plot"),
        )
        found = structure_of(plots_of(table)).layout
        assert found.kind is plan.kind
        assert found.not_replicated == ()
        assert found.confounded == ()


@pytest.mark.slow
def test_the_same_seed_gives_the_same_layout_and_another_seed_another(planner: Planner) -> None:
    for plan in planner.one_of_each_kind():
        layouts = [lay_out(plan), lay_out(plan)]
        assert layouts[0] == layouts[1]

        digests = {digest(lay_out(replace(plan, seed=seed))) for seed in range(20)}
        assert len(digests) == 20
        assert digest(layouts[0]) in digests


@pytest.mark.slow
def test_ground_is_sound_for_every_kind_and_many_beds(planner: Planner) -> None:

    lot = Lot.of(1, "beds")
    for plan in planner.one_of_each_kind():
        for seed in range(30):
            room = tuple(
                Bed(f"Bed {i}", 33 + lot.below(300) / 10, 1.2) for i in range(8 + lot.below(4))
            )
            require_sound_ground(lay_out(replace(plan, beds=room, seed=seed)))


def test_codes_go_on_from_the_first_free_number(planner: Planner) -> None:
    plan = planner.plan(K.COMPLETE_BLOCKS, planner.factor(5))
    other = planner.plan(K.COMPLETE_BLOCKS, planner.factor(5), first_number=21)
    codes = [{plot.code for plot in lay_out(each).plots} for each in (plan, other)]
    assert not codes[0] & codes[1]


# --- kind by kind -----------------------------------------------------------------------------


@pytest.mark.slow
def test_complete_blocks_hold_each_treatment_once(planner: Planner, parts: Parts) -> None:
    lot = Lot.of(2, "plans")
    for seed in range(1000):
        entries, replicates = 2 + lot.below(10), 2 + lot.below(5)
        plan = planner.plan(
            K.COMPLETE_BLOCKS,
            planner.factor(entries),
            replicates=replicates,
            beds=planner.beds(7, 1.8 * (entries + lot.below(5))),
            seed=seed,
        )
        layout = lay_out(plan)
        blocks = parts(layout, "block")
        assert list(blocks) == [(str(i + 1),) for i in range(replicates)]
        for plots in blocks.values():
            assert sorted(level(p) for p in plots) == sorted(plan.factors[0].levels)
            assert len({p.bed for p in plots}) == 1
            assert [p.position for p in plots] == list(
                range(plots[0].position, plots[0].position + entries)
            )
        require_fresh_orders([[level(p) for p in plots] for plots in blocks.values()])
        require_sound_ground(layout)


def test_factorials_in_blocks_hold_each_combination_once(planner: Planner, parts: Parts) -> None:
    factors = planner.factor(3), planner.factor(2, "pinch"), planner.factor(2, "feed")
    wanted = sorted(product(*(factor.levels for factor in factors)))
    for plots in parts(lay_out(planner.plan(K.COMPLETE_BLOCKS, *factors)), "block").values():
        assert sorted(tuple(value for _, value in p.levels) for p in plots) == wanted


@pytest.mark.slow
def test_completely_randomised_plots_repeat_each_treatment(planner: Planner) -> None:
    for seed in range(200):
        plan = planner.plan(K.COMPLETELY_RANDOMISED, planner.factor(5), seed=seed)
        counts = Counter(level(plot) for plot in lay_out(plan).plots)
        assert counts == dict.fromkeys(plan.factors[0].levels, 4)


@pytest.mark.slow
def test_latin_squares_hold_each_treatment_once_a_row_and_column(
    planner: Planner, parts: Parts
) -> None:
    for seed in range(400):
        size = 3 + seed % 6
        plan = planner.plan(
            K.LATIN_SQUARE, planner.factor(size), replicates=size * (1 + seed % 2), seed=seed
        )
        layout = lay_out(plan)
        for part in ("row", "column"):
            lines = parts(layout, "block", part)
            assert len(lines) == size * (1 + seed % 2)
            for plots in lines.values():
                assert sorted(level(p) for p in plots) == sorted(plan.factors[0].levels)
        for plots in parts(layout, "block", "row").values():
            assert len({p.bed for p in plots}) == 1
        for plots in parts(layout, "block", "column").values():
            assert len({p.start_m for p in plots}) == 1
        require_sound_ground(layout)


@pytest.mark.slow
def test_rows_are_replicates_and_columns_spread_the_treatments(
    planner: Planner, parts: Parts
) -> None:
    for seed in range(300):
        size, rows = 3 + seed % 8, 3 + seed % 5
        plan = planner.plan(K.ROW_COLUMN, planner.factor(size), replicates=rows, seed=seed)
        layout = lay_out(plan)
        for plots in parts(layout, "row").values():
            assert sorted(level(p) for p in plots) == sorted(plan.factors[0].levels)
        for plots in parts(layout, "column").values():
            counts = Counter(level(p) for p in plots)
            often = [counts[each] for each in plan.factors[0].levels]
            assert max(often) - min(often) <= 1
        assert layout.efficiency is not None
        assert layout.bound is not None
        assert 0 < layout.efficiency <= layout.bound + 1e-9


@pytest.mark.slow
@pytest.mark.usefixtures("short_search")
def test_incomplete_blocks_are_resolvable_and_meet_evenly(planner: Planner, parts: Parts) -> None:
    sizes = [(6, 3, 2), (9, 4, 3), (10, 3, 4), (12, 3, 4), (13, 3, 4), (16, 4, 4), (7, 4, 3)]
    for seed in range(350):
        count, replicates, most = sizes[seed % len(sizes)]
        plan = planner.plan(
            K.INCOMPLETE_BLOCKS,
            planner.factor(count),
            replicates=replicates,
            block_size=most,
            seed=seed,
        )
        layout = lay_out(plan)
        for plots in parts(layout, "block").values():
            assert sorted(level(p) for p in plots) == sorted(plan.factors[0].levels)
        blocks = parts(layout, "incomplete_block")
        assert {len(plots) for plots in blocks.values()} <= {most, most - 1}
        meetings = Counter(
            frozenset((level(p), level(q)))
            for plots in blocks.values()
            for p, q in product(plots, repeat=2)
            if level(p) < level(q)
        )
        pairs = count * (count - 1) // 2
        often = [*meetings.values(), *([0] * (pairs - len(meetings)))]
        # With unequal blocks a larger one holds a pair again and again of necessity.
        assert max(often) - min(often) <= 2 + (count % most > 0)
        assert layout.efficiency is not None
        assert layout.bound is not None
        assert 0 < layout.efficiency <= layout.bound + 1e-9
        require_sound_ground(layout)


@pytest.mark.slow
def test_augmented_blocks_spread_their_checks(planner: Planner, parts: Parts) -> None:
    lot = Lot.of(3, "plans")
    for seed in range(500):
        checks, blocks = 2 + lot.below(3), 2 + lot.below(5)
        varieties = planner.factor(checks + blocks + lot.below(40))
        plan = planner.plan(
            K.AUGMENTED_BLOCKS,
            varieties,
            checks=varieties.levels[:checks],
            replicates=blocks,
            seed=seed,
        )
        layout = lay_out(plan)
        counts = Counter(level(plot) for plot in layout.plots)
        assert counts == {each: blocks if each in plan.checks else 1 for each in varieties.levels}
        held = list(parts(layout, "block").values())
        assert max(map(len, held)) - min(map(len, held)) <= 1
        for plots in held:
            at = [i for i, p in enumerate(plots) if level(p) in plan.checks]
            assert sorted(level(plots[i]) for i in at) == sorted(plan.checks)
            stretches = [len(plots) * i // checks for i in range(checks + 1)]
            for place, (start, end) in zip(at, pairwise(stretches), strict=True):
                assert start <= place < end


@pytest.mark.slow
@pytest.mark.parametrize("splits", [1, 3])
def test_whole_plots_are_intact_and_hold_everything_inside(
    planner: Planner, parts: Parts, splits: int
) -> None:
    lot = Lot.of(splits, "plans")
    for seed in range(150):
        whole = planner.factor(2 + lot.below(2), "pinch", ON.WHOLE_PLOT)
        netting = planner.factor(2, "netting", ON.WHOLE_PLOT)
        feed = planner.factor(splits, "feed", ON.SPLIT_PLOT)
        inside = planner.factor(2 + lot.below(3)), planner.factor(2, "age")
        factors = (whole, netting, *([feed] if splits > 1 else []), *inside)
        kind = K.SPLIT_SPLIT_PLOT if splits > 1 else K.SPLIT_PLOT
        plots_a_whole = splits * len(inside[0].levels) * 2
        room = planner.beds(30, 1.8 * (plots_a_whole + lot.below(20)))
        layout = lay_out(planner.plan(kind, *factors, replicates=3, beds=room, seed=seed))
        require_sound_ground(layout)
        blocks = parts(layout, "block")
        for plots in blocks.values():
            carried = [tuple(value for _, value in p.levels) for p in plots]
            assert sorted(carried) == sorted(product(*(f.levels for f in factors)))
        for plots in parts(layout, "whole_plot").values():
            assert len({(level(p, "pinch"), level(p, "netting")) for p in plots}) == 1
            assert len({p.bed for p in plots}) == 1
            assert len(plots) == plots_a_whole
            assert plots[-1].position - plots[0].position == plots_a_whole - 1
        if splits > 1:
            for plots in parts(layout, "split_plot").values():
                assert len({level(p, "feed") for p in plots}) == 1
                assert plots[-1].position - plots[0].position == plots_a_whole // splits - 1
        require_fresh_orders([[str(p.levels) for p in plots] for plots in blocks.values()])


@pytest.mark.slow
def test_strips_cross_in_every_block(planner: Planner, parts: Parts) -> None:
    for seed in range(200):
        cover = planner.factor(2 + seed % 2, "cover", ON.STRIP)
        sowing = planner.factor(3, "sowing", ON.STRIP)
        inside = [planner.factor(2)] if seed % 3 == 0 else []
        plan = planner.plan(K.STRIPS, cover, sowing, *inside, beds=planner.beds(7, 25), seed=seed)
        layout = lay_out(plan)
        require_sound_ground(layout)
        for plots in parts(layout, "block").values():
            carried = [tuple(value for _, value in p.levels) for p in plots]
            assert sorted(carried) == sorted(product(*(f.levels for f in plan.factors)))
            by_bed: dict[str, set[str]] = {}
            along: dict[str, set[float]] = {}
            for plot in plots:
                by_bed.setdefault(plot.bed, set()).add(level(plot, "cover"))
                along.setdefault(level(plot, "sowing"), set()).add(plot.start_m)
            assert all(len(covers) == 1 for covers in by_bed.values())
            assert len(by_bed) == len(cover.levels)
            taken = [start for starts in along.values() for start in starts]
            assert len(taken) == len(set(taken))


# --- fitting ----------------------------------------------------------------------------------


def test_blocks_end_with_beds_where_they_can(planner: Planner, parts: Parts) -> None:
    """Six plots a bed and blocks of four: each block keeps a bed to itself."""
    plan = planner.plan(K.COMPLETE_BLOCKS, planner.factor(4), beds=planner.beds(4, 6 * 1.8))
    beds = [{p.bed for p in plots} for plots in parts(lay_out(plan), "block").values()]
    assert beds == [{"Bed 1"}, {"Bed 2"}, {"Bed 3"}, {"Bed 4"}]


def test_blocks_follow_one_another_where_beds_are_few(planner: Planner) -> None:
    plan = planner.plan(K.COMPLETE_BLOCKS, planner.factor(4), beds=planner.beds(3, 6 * 1.8))
    assert Counter(plot.bed for plot in lay_out(plan).plots) == {
        "Bed 1": 6,
        "Bed 2": 6,
        "Bed 3": 4,
    }


def test_forty_new_packets_and_three_checks_fit_a_hundred_and_twenty_metres(
    planner: Planner,
) -> None:
    varieties = planner.factor(43)
    plan = planner.plan(
        K.AUGMENTED_BLOCKS,
        varieties,
        checks=varieties.levels[:3],
        replicates=5,
        beds=planner.beds(4, 30),
    )
    layout = lay_out(plan)
    assert len(layout.plots) == 55
    assert sum(plot.length_m for plot in layout.plots) == pytest.approx(99)


def test_spacings_stand_as_wholes_with_their_own_plants(planner: Planner) -> None:
    spacing = Factor("spacing_cm", ("15", "30"), ON.WHOLE_PLOT)
    layout = lay_out(planner.plan(K.SPLIT_PLOT, spacing, planner.factor(3)))
    for plot in layout.plots:
        assert plot.plants_set == (32 if level(plot, "spacing_cm") == "15" else 16)
        assert plot.guards_set == (16 if level(plot, "spacing_cm") == "15" else 8)
        assert plot.length_m == pytest.approx(plot_ground(layout.plan).length_m)
        assert plot.net_area_m2 == pytest.approx(1.2 * 1.2)


# --- the digest -------------------------------------------------------------------------------


def test_the_digest_shows_any_change(planner: Planner) -> None:

    layout = lay_out(planner.plan(K.COMPLETE_BLOCKS, planner.factor(4)))
    first, second = layout.plots[:2]
    changes: list[Any] = [
        replace(layout, plots=(second, first, *layout.plots[2:])),
        replace(layout, plots=layout.plots[1:]),
        replace(layout, plots=(replace(first, block="9"), *layout.plots[1:])),
        replace(layout, plots=(replace(first, levels=second.levels), *layout.plots[1:])),
        replace(layout, plots=(replace(first, start_m=0.001), *layout.plots[1:])),
        replace(layout, plan=replace(layout.plan, seed=2)),
    ]
    digests = {digest(each) for each in [layout, *changes]}
    assert len(digests) == 1 + len(changes)
    assert all(len(each) == 64 for each in digests)
