from __future__ import annotations

import itertools
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from trials.errors import ComparisonRefused
from trials.model.trial import AppliedTo
from trials.stats.design.plots import plots_of
from trials.stats.design.structure import Structure, structure_of
from trials.stats.design.table import PlotTable
from trials.stats.results import LayoutKind

MakeTable = Callable[..., PlotTable]
Columns = dict[str, list[Any]]
WHOLE, SPLIT, STRIP = AppliedTo.WHOLE_PLOT, AppliedTo.SPLIT_PLOT, AppliedTo.STRIP


def crossed(**factors: list[Any]) -> Columns:
    """Every combination of ``factors`` with a measure that rises from row to row."""
    rows = list(itertools.product(*factors.values()))
    columns: Columns = dict(zip(factors, map(list, zip(*rows, strict=True)), strict=True))
    columns["yield"] = [float(i * i % 17) for i in range(len(rows))]
    return columns


def rows_of(columns: Columns, keep: Callable[[dict[str, Any]], bool]) -> Columns:
    kept = [
        dict(zip(columns, row, strict=True))
        for row in zip(*columns.values(), strict=True)
        if keep(dict(zip(columns, row, strict=True)))
    ]
    return {name: [row[name] for row in kept] for name in columns}


def structure(table: PlotTable) -> Structure:
    return structure_of(plots_of(table))


def sources(found: Structure) -> tuple[list[str], list[str]]:
    return [g.source for g in found.fixed], [g.source for g in found.random]


# --- kinds of layout --------------------------------------------------------------------------


def test_without_layout_columns_plots_are_completely_randomised(plot_table: MakeTable) -> None:
    found = structure(plot_table(crossed(entry=list("uvw"), copy=[1, 2, 3]), "entry"))
    assert found.layout.kind is LayoutKind.COMPLETELY_RANDOMISED
    assert found.layout.factors[0].units_per_level == (3, 3, 3)
    assert found.plot_df == 6
    assert sources(found) == ([], [])


def test_complete_blocks_are_fixed(plot_table: MakeTable) -> None:
    found = structure(plot_table(crossed(b=[1, 2, 3], entry=list("uvwx")), "entry", block="b"))
    assert found.layout.kind is LayoutKind.COMPLETE_BLOCKS
    assert sources(found) == (["block"], [])
    assert found.plot_df == 6


def test_blocks_that_each_miss_another_entry_of_many_are_complete(plot_table: MakeTable) -> None:
    columns = crossed(b=[1, 2, 3], entry=list("abcdefghij"))
    columns = rows_of(
        columns, lambda row: (row["b"], row["entry"]) not in {(1, "a"), (2, "b"), (3, "a")}
    )
    found = structure(plot_table(columns, "entry", block="b"))
    assert found.layout.kind is LayoutKind.COMPLETE_BLOCKS
    assert found.layout.factors[0].units_per_level[:3] == (1, 2, 3)


def test_blocks_too_small_for_all_entries_are_random(plot_table: MakeTable) -> None:
    columns: Columns = {"b": [], "entry": []}
    for block, entries in enumerate(itertools.combinations("abcd", 3)):
        columns["b"] += [block] * 3
        columns["entry"] += entries
    columns["yield"] = [float(i % 5) for i in range(12)]
    for part in ("block", "incomplete_block"):
        found = structure(plot_table(columns, "entry", **{part: "b"}))
        assert found.layout.kind is LayoutKind.INCOMPLETE_BLOCKS
        assert sources(found) == ([], [part.replace("_", " ")])


def test_incomplete_blocks_of_a_replicate_are_nested_in_it(
    plot_table: MakeTable, published: Callable[[str], Any]
) -> None:
    oats = published("oats_alpha").columns
    found = structure(plot_table(oats, "variety", block="replicate", incomplete_block="block"))
    assert sources(found) == (["block"], ["incomplete block"])
    assert found.random[0].count == 18  # B1 to B6 in each of three replicates
    # Without the replicates the labels join what lies apart, and nothing can show it.
    joined = structure(plot_table(oats, "variety", incomplete_block="block"))
    assert joined.random[0].count == 6


def test_new_entries_once_and_checks_in_every_block_are_augmented(
    plot_table: MakeTable, published: Callable[[str], Any]
) -> None:
    wheat = published("wheat_augmented").columns
    for part in ("block", "incomplete_block"):
        found = structure(plot_table(wheat, "entry", **{part: "block"}))
        assert found.layout.kind is LayoutKind.AUGMENTED_BLOCKS
        assert found.random == ()
        assert found.plot_df == 10
        assert not found.layout.not_replicated


def test_rows_and_columns_are_fixed(plot_table: MakeTable) -> None:
    columns: Columns = {"r": [], "c": [], "entry": []}
    for r, c in itertools.product(range(4), range(4)):
        columns["r"].append(r)
        columns["c"].append(c)
        columns["entry"].append("abcd"[(r + c) % 4])
    columns["yield"] = [float(i * i % 7) for i in range(16)]
    found = structure(plot_table(columns, "entry", row="r", column="c"))
    assert found.layout.kind is LayoutKind.LATIN_SQUARE
    assert sources(found) == (["row", "column"], [])
    assert found.plot_df == 6
    columns["entry"] = [
        "abcd"[(r + 2 * c) % 4] for r, c in zip(columns["r"], columns["c"], strict=True)
    ]
    found = structure(plot_table(columns, "entry", row="r", column="c"))
    assert found.layout.kind is LayoutKind.ROW_COLUMN


def test_whole_plots_are_blocks_by_their_treatment(plot_table: MakeTable) -> None:
    columns = crossed(b=[1, 2, 3], pinch=["no", "yes"], entry=list("uvw"))
    found = structure(plot_table(columns, "pinch", "entry", block="b", on={"pinch": WHOLE}))
    assert found.layout.kind is LayoutKind.SPLIT_PLOT
    assert sources(found) == (["block"], ["whole plot"])
    pinch, entry = found.layout.factors
    assert (pinch.unit, pinch.units_per_level) == ("whole plot", (3, 3))
    assert (entry.unit, entry.units_per_level) == ("plot", (6, 6, 6))


def test_named_whole_plots_stand_without_blocks(plot_table: MakeTable) -> None:
    columns = crossed(bed=[1, 2, 3, 4], entry=list("uvw"))
    columns["pinch"] = ["yes" if bed % 2 else "no" for bed in columns["bed"]]
    found = structure(
        plot_table(columns, "pinch", "entry", whole_plot_unit="bed", on={"pinch": WHOLE})
    )
    assert found.layout.factors[0].units_per_level == (2, 2)
    assert not found.layout.not_replicated


def test_whole_plot_numbers_that_repeat_in_blocks_are_nested(plot_table: MakeTable) -> None:
    columns = crossed(b=[1, 2, 3, 4], bed=[1, 2], entry=list("uvw"))
    columns["pinch"] = [
        "yes" if (block + bed) % 2 else "no"
        for block, bed in zip(columns["b"], columns["bed"], strict=True)
    ]
    found = structure(
        plot_table(columns, "pinch", "entry", block="b", whole_plot_unit="bed", on={"pinch": WHOLE})
    )
    assert found.layout.factors[0].units_per_level == (4, 4)
    assert sources(found) == (["block"], ["whole plot"])


def test_one_bed_through_all_blocks_is_one_unit(plot_table: MakeTable) -> None:
    columns = crossed(b=[1, 2, 3, 4], bed=["long bed", "short bed"], entry=list("uvw"))
    columns["pinch"] = ["yes" if bed == "long bed" else "no" for bed in columns["bed"]]
    found = structure(
        plot_table(columns, "pinch", "entry", block="b", whole_plot_unit="bed", on={"pinch": WHOLE})
    )
    assert found.layout.factors[0].units_per_level == (1, 1)
    assert [item.factor for item in found.layout.not_replicated] == ["pinch"]


def test_a_treatment_that_fills_blocks_was_given_to_blocks(plot_table: MakeTable) -> None:
    columns = crossed(bed=[1, 2, 3, 4], entry=list("uvw"))
    columns["pinch"] = ["yes" if bed % 2 else "no" for bed in columns["bed"]]
    found = structure(plot_table(columns, "pinch", "entry", block="bed"))
    assert found.layout.kind is LayoutKind.SPLIT_PLOT
    pinch = found.layout.factors[0]
    assert (pinch.unit, pinch.units_per_level) == ("block", (2, 2))
    assert sources(found) == ([], ["block"])


def test_strips_cross(plot_table: MakeTable) -> None:
    columns = crossed(b=[1, 2, 3], netting=list("xyz"), pinch=["no", "yes"])
    found = structure(
        plot_table(columns, "netting", "pinch", block="b", on={"netting": STRIP, "pinch": STRIP})
    )
    assert found.layout.kind is LayoutKind.STRIPS
    assert sources(found) == (["block"], ["strip of netting", "strip of pinch"])
    assert [factor.units_per_level for factor in found.layout.factors] == [(3, 3, 3), (3, 3)]


def test_a_third_level_of_plots(plot_table: MakeTable) -> None:
    columns = crossed(b=[1, 2, 3], pinch=["no", "yes"], spacing=[15, 23], entry=list("uv"))
    table = plot_table(
        columns, "pinch", "spacing", "entry", block="b", on={"pinch": WHOLE, "spacing": SPLIT}
    )
    found = structure(table)
    assert found.layout.kind is LayoutKind.SPLIT_SPLIT_PLOT
    assert sources(found) == (["block"], ["whole plot", "split plot"])
    assert [g.count for g in found.random] == [6, 12]


def test_block_labels_that_repeat_over_seasons_are_nested(plot_table: MakeTable) -> None:
    columns = crossed(year=[2025, 2026], b=[1, 2, 3], entry=list("uvwx"))
    found = structure(plot_table(columns, "entry", block="b", season="year"))
    assert sources(found) == (["block"], ["entry × season"])
    assert found.fixed[0].count == 6


# --- what is not replicated, and what goes together -------------------------------------------


def test_one_strip_each_tests_nothing(plot_table: MakeTable) -> None:
    columns = crossed(netting=list("xyz"), pinch=["no", "yes"])
    found = structure(
        plot_table(columns, "netting", "pinch", on={"netting": STRIP, "pinch": STRIP})
    )
    assert found.layout.kind is LayoutKind.SIDE_BY_SIDE
    assert [item.factor for item in found.layout.not_replicated] == ["netting", "pinch"]


def test_a_factorial_without_copies_tests_nothing(plot_table: MakeTable) -> None:
    found = structure(plot_table(crossed(entry=list("uvw"), pinch=["no", "yes"]), "entry", "pinch"))
    assert found.answers_nothing
    assert len(found.layout.not_replicated) == 2


def test_the_remedy_counts_the_units(plot_table: MakeTable) -> None:
    columns = crossed(pinch=["no", "yes"], entry=list("uvw"), copy=[1, 2, 3])
    columns["plot"] = list(range(18))
    found = structure(plot_table(columns, "pinch", "entry", plot="plot", on={"pinch": WHOLE}))
    (item,) = found.layout.not_replicated
    assert "only one whole plot" in item.reason
    assert "6 whole plots in all" in item.remedy


@pytest.mark.parametrize("other", ["season", "block"])
def test_an_entry_that_never_meets_another_is_confounded(plot_table: MakeTable, other: str) -> None:
    columns = crossed(group=[1, 2], copy=[1, 2, 3], entry=list("uvwx"))
    columns = rows_of(columns, lambda row: (row["entry"] in "uv") == (row["group"] == 1))
    columns["plot"] = list(range(12))
    found = structure(plot_table(columns, "entry", plot="plot", **{other: "group"}))
    if other == "season":
        assert found.layout.confounded == (("entry", "season"),)
    else:
        assert found.layout.kind is LayoutKind.INCOMPLETE_BLOCKS


def test_a_covariate_that_only_follows_the_blocks_is_refused(plot_table: MakeTable) -> None:
    columns = crossed(b=[1, 2, 3], entry=list("uvw"))
    columns["slope"] = [float(b) for b in columns["b"]]
    with pytest.raises(ComparisonRefused, match="slope"):
        structure(plot_table(columns, "entry", block="b", covariates=["slope"]))


def test_a_whole_plot_with_two_levels_is_refused(plot_table: MakeTable) -> None:
    columns = crossed(bed=[1, 2], entry=list("uv"), pinch=["no", "yes"])
    with pytest.raises(ComparisonRefused, match="Whole plot '1' carries no and yes"):
        structure(plot_table(columns, "pinch", "entry", whole_plot_unit="bed", on={"pinch": WHOLE}))


def test_contrasts_between_units_of_one_kind_are_not_carried(plot_table: MakeTable) -> None:
    columns = crossed(pinch=["no", "yes"], entry=list("uv"), copy=[1, 2, 3])
    columns["plot"] = list(range(12))
    found = structure(plot_table(columns, "pinch", "entry", plot="plot", on={"pinch": WHOLE}))
    # cells: no u, no v, yes u, yes v
    contrasts = np.array(
        [
            [1.0, -1.0, 0.0, 0.0],  # entries in one bed
            [0.5, -0.5, 0.5, -0.5],  # entries over both beds
            [1.0, -1.0, -1.0, 1.0],  # their interaction
            [1.0, 0.0, -1.0, 0.0],  # one entry in either bed
            [0.5, 0.5, -0.5, -0.5],  # the beds
        ]
    )
    assert found.carries(contrasts).tolist() == [True, True, True, False, False]


def test_rows_without_columns_are_refused_beside_blocks(plot_table: MakeTable) -> None:
    columns = crossed(b=[1, 2, 3], r=[1, 2], entry=list("uv"))
    with pytest.raises(ComparisonRefused, match="Rows and columns go together"):
        structure(plot_table(columns, "entry", block="b", row="r"))


def test_named_pieces_of_a_block_in_which_all_treatments_change_are_incomplete_blocks(
    plot_table: MakeTable,
) -> None:
    columns = crossed(b=[1, 2, 3], bed=[1, 2], entry=list("uvwx"))
    columns = rows_of(
        columns,
        lambda row: (row["entry"] in ("uw" if row["b"] == 1 else "ux")) == (row["bed"] == 1),
    )
    found = structure(plot_table(columns, "entry", block="b", whole_plot_unit="bed"))
    assert sources(found) == (["block"], ["incomplete block"])
