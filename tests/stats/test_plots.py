from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from trials.errors import ComparisonRefused
from trials.model.trial import AppliedTo
from trials.stats.design.plots import plots_of
from trials.stats.design.table import PlotTable

MakeTable = Callable[..., PlotTable]


def columns_of(rows: list[tuple[Any, ...]], *names: str) -> dict[str, list[Any]]:
    return {name: [row[i] for row in rows] for i, name in enumerate(names)}


def test_samples_of_a_plot_are_averaged_without_those_not_recorded(plot_table: MakeTable) -> None:
    rows = [
        ("a", "u", 4.0),
        ("a", "u", 6.0),
        ("a", "u", None),
        ("b", "v", 7.0),
        ("c", "u", None),
    ]
    found = plots_of(plot_table(columns_of(rows, "plot", "entry", "yield"), "entry", plot="plot"))
    assert found.table.y[:2].tolist() == [5.0, 7.0]
    assert np.isnan(found.table.y[2])  # not recorded is not zero
    assert [t.labels.levels[c] for t in found.table.treatments for c in t.labels.codes] == [
        "u",
        "v",
        "u",
    ]


def test_samples_weigh_by_their_plants(plot_table: MakeTable) -> None:
    rows = [("a", "u", 4.0, 30), ("a", "u", 8.0, 10), ("b", "v", 7.0, 20)]
    table = plot_table(
        columns_of(rows, "plot", "entry", "yield", "plants"), "entry", plot="plot", plants="plants"
    )
    found = plots_of(table).table
    assert found.y.tolist() == [5.0, 7.0]  # 200 stems of 40 plants
    assert found.plants is not None
    assert found.plants.tolist() == [40.0, 20.0]


def test_plot_numbers_that_repeat_in_blocks_are_different_plots(plot_table: MakeTable) -> None:
    rows = [(1, 1, "u", 1.0), (1, 2, "v", 2.0), (2, 1, "v", 3.0), (2, 2, "u", 4.0)]
    table = plot_table(
        columns_of(rows, "b", "plot", "entry", "yield"), "entry", block="b", plot="plot"
    )
    assert plots_of(table).table.y.size == 4


def test_a_plot_with_two_entries_is_refused(plot_table: MakeTable) -> None:
    rows = [("a", "u", 1.0), ("a", "v", 2.0), ("b", "v", 3.0)]
    table = plot_table(columns_of(rows, "plot", "entry", "yield"), "entry", plot="plot")
    with pytest.raises(ComparisonRefused, match="Plot 'a' has both u and v of entry"):
        plots_of(table)


@pytest.mark.parametrize("parts", [{}, {"block": "b"}], ids=["no layout", "blocks"])
def test_a_table_pasted_twice_is_refused(plot_table: MakeTable, parts: dict[str, str]) -> None:
    rows = [(1, "u", 4.1), (1, "v", 5.2), (2, "u", 4.4), (2, "v", 5.9)]
    columns = columns_of(rows * 2, "b", "entry", "yield")
    with pytest.raises(ComparisonRefused, match="2 times"):
        plots_of(plot_table(columns, "entry", **parts))


def test_a_plot_column_says_that_equal_rows_are_different_plots(plot_table: MakeTable) -> None:
    rows = [(1, "u", 4), (1, "v", 5), (2, "u", 4), (2, "v", 5)] * 2
    columns = columns_of(rows, "b", "entry", "yield")
    columns["plot"] = list(range(8))
    assert plots_of(plot_table(columns, "entry", block="b", plot="plot")).table.y.size == 8


def test_rows_at_one_place_of_a_grid_are_one_plot(plot_table: MakeTable) -> None:
    rows = [
        (1, 1, "u", 2.0),
        (1, 1, "u", 4.0),
        (1, 2, "v", 5.0),
        (2, 1, "v", 6.0),
        (2, 2, "u", 7.0),
    ]
    table = plot_table(columns_of(rows, "r", "c", "entry", "yield"), "entry", row="r", column="c")
    found = plots_of(table)
    assert sorted(found.table.y.tolist()) == [3.0, 5.0, 6.0, 7.0]


def test_rows_without_any_layout_column_are_plots_and_that_is_said(plot_table: MakeTable) -> None:
    rows = [("u", 1.0), ("u", 2.0), ("v", 3.0), ("v", 4.5)]
    found = plots_of(plot_table(columns_of(rows, "entry", "yield"), "entry"))
    assert found.table.y.size == 4
    assert [caution.code for caution in found.cautions] == ["rows-as-plots"]


def test_whole_plots_without_plots_inside_are_the_plots(plot_table: MakeTable) -> None:
    rows = [
        (bed, "yes" if bed % 2 else "no", float(bed * 10 + i)) for bed in range(4) for i in range(5)
    ]
    table = plot_table(
        columns_of(rows, "bed", "pinch", "yield"),
        "pinch",
        whole_plot_unit="bed",
        on={"pinch": AppliedTo.WHOLE_PLOT},
    )
    found = plots_of(table)
    assert found.table.y.tolist() == [2.0, 12.0, 22.0, 32.0]
    assert found.ground.units == ()


def test_nothing_recorded_is_refused(plot_table: MakeTable) -> None:
    table = plot_table(columns_of([("u", None), ("v", None)], "entry", "yield"), "entry")
    with pytest.raises(ComparisonRefused, match="No row has a figure for yield"):
        plots_of(table)


def test_a_single_level_is_refused(plot_table: MakeTable) -> None:
    table = plot_table(columns_of([("u", 1.0), ("u", 2.0)], "entry", "yield"), "entry")
    with pytest.raises(ComparisonRefused, match="only one level of entry"):
        plots_of(table)
