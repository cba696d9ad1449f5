"""What was compared and what was left out, counted by hand."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from typing import Any

import numpy as np

from trials.stats import PlotTable, Question, compare, second_opinions
from trials.stats.results import Comparison
from trials.stats.what_was_tested import Diagnostic, FactorTested, WhatWasTested, Why

MakeTable = Callable[..., PlotTable]


def crossed(
    plot_table: MakeTable, skip: set[tuple[str, str]], empty: tuple[str, ...] = ()
) -> Comparison:
    """a x b in three blocks, without what ``skip`` names; no figures for the levels ``empty``."""
    rows = [
        (block, a, b)
        for block, a, b in itertools.product("123", ("a1", "a2", "a3"), ("b1", "b2"))
        if (a, b) not in skip
    ]
    block, first, second = zip(*rows, strict=True)
    luck = np.random.default_rng(2).normal(10, 1, len(rows))
    y = [None if set(row) & set(empty) else value for row, value in zip(rows, luck, strict=True)]
    columns: dict[str, list[Any]] = {
        "block": list(block),
        "a": list(first),
        "b": list(second),
        "yield": y,
    }
    table = plot_table(columns, "a", "b", block="block")
    return second_opinions(table, Question(), compare(table, Question()))


def test_a_full_factorial_is_complete(plot_table: MakeTable) -> None:
    tested = crossed(plot_table, set()).tested
    assert tested == WhatWasTested(
        (
            FactorTested("a", 3, 3, 6, "a:b", (), (), None),
            FactorTested("b", 1, 1, 3, "a:b", (), (), None),
        )
    )
    assert tested.complete


def test_an_empty_combination_is_named_with_what_it_leaves_out(plot_table: MakeTable) -> None:
    tested = crossed(plot_table, {("a3", "b2")}).tested
    a, b = tested.factors
    # a1 - a2 is left over both levels of b; 3 pairs within b1, 1 within b2.
    assert a == FactorTested("a", 3, 1, 4, "a:b", ("a3",), (), Why.EMPTY)
    # b2 has no mean over all of a, so b1 has nothing to be compared with; within a1 and a2 it has.
    assert b == FactorTested("b", 1, 0, 2, "a:b", ("b1", "b2"), (), Why.EMPTY)
    assert tested.empty == ((("a", "a3"), ("b", "b2")),)
    assert tested.untested == ("a", "b")
    assert not tested.complete


def test_factors_that_always_go_together_are_not_compared(plot_table: MakeTable) -> None:
    levels = ("a1", "a2", "a3"), ("b1", "b2")
    together = set(itertools.product(*levels)) - {("a1", "b1"), ("a2", "b2")}
    found = crossed(plot_table, together)
    assert found.tested.always_together == (("a", "b"),)
    assert [each.why for each in found.tested.factors] == [Why.TOGETHER, Why.TOGETHER]
    assert not found.all_pairs
    assert Diagnostic.RANDOMISATION not in found.solid.made


def test_groups_that_never_met_do_not_always_go_together(plot_table: MakeTable) -> None:
    apart = {("a1", "b2"), ("a2", "b2"), ("a3", "b1")}  # a1 and a2 with b1, a3 with b2
    tested = crossed(plot_table, apart).tested
    assert tested.always_together == ()
    assert tested.factors[0] == FactorTested(
        "a", 3, 0, 1, "a:b", ("a1", "a2", "a3"), (), Why.TOGETHER
    )


def test_a_level_without_figures_is_named(plot_table: MakeTable) -> None:
    tested = crossed(plot_table, set(), empty=("a2",)).tested
    assert tested.factors[0] == FactorTested("a", 1, 1, 2, "a:b", (), ("a2",), None)
    assert not tested.complete


def test_a_constant_measure_has_no_variation_and_no_lack_of_replication(
    plot_table: MakeTable,
) -> None:
    columns = {"entry": list("xyz") * 3, "block": list("111222333"), "yield": [7.0] * 9}
    found = compare(plot_table(columns, "entry", block="block"), Question())
    assert found.tested.factors[0].why is Why.CONSTANT
    assert not found.layout.not_replicated


def test_four_plots_allow_no_check(plot_table: MakeTable) -> None:
    columns = {"entry": list("xyxy"), "block": list("1122"), "yield": [4.1, 6.0, 4.3, 6.25]}
    table = plot_table(columns, "entry", block="block")
    solid = second_opinions(table, Question(), compare(table, Question())).solid
    assert solid.made == ()
    assert [name for name, _ in solid.not_made] == [
        Diagnostic.NORMALITY,
        Diagnostic.EQUAL_VARIANCES,
        Diagnostic.OUTLYING_PLOTS,
        Diagnostic.LEAVE_ONE_OUT,
        Diagnostic.RANDOMISATION,
    ]
    assert solid.randomisation is not None
    assert dict(solid.randomisation.at_best) == {"entry": 0.5}  # x y or y x in the second block
