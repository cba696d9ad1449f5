from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
import pytest

from trials.model.trial import AppliedTo
from trials.stats import Question, compare
from trials.stats.design.table import PlotTable

if TYPE_CHECKING:
    from tests.stats.conftest import Published

MakeTable = Callable[..., PlotTable]


def test_many_error_degrees_of_freedom_need_no_correction(plot_table: MakeTable) -> None:
    rng = np.random.default_rng(21)
    blocks, entries = 4, 9
    b, t = np.divmod(np.arange(blocks * entries), entries)
    y = rng.normal(0, 1, b.size) + b
    found = compare(
        plot_table(
            {"b": b.tolist(), "entry": t.tolist(), "yield": (y + 30).tolist()}, "entry", block="b"
        ),
        Question(),
    )
    grid = y.reshape(blocks, entries)
    in_blocks = entries * np.var(grid.mean(axis=1), ddof=1)
    left = grid - grid.mean(axis=0) - grid.mean(axis=1, keepdims=True) + grid.mean()
    error = np.sum(left**2) / ((blocks - 1) * (entries - 1))
    # Cochran & Cox 1957, section 4.26
    expected = ((blocks - 1) * in_blocks + blocks * (entries - 1) * error) / (
        (blocks * entries - 1) * error
    )
    assert found.relative_efficiency == pytest.approx(expected, rel=1e-9)


def test_a_mean_that_is_not_positive_has_no_cv(plot_table: MakeTable) -> None:
    columns = {"entry": list("uuuvvv"), "yield": [-3.0, -2.5, -2.0, 1.0, 1.5, 2.0]}
    found = compare(plot_table(columns, "entry"), Question())
    assert found.grand_mean < 0
    assert found.cv_percent is None


def test_plots_without_blocks_have_no_efficiency(plot_table: MakeTable) -> None:
    columns = {"entry": list("uuuvvv"), "yield": [3.0, 2.5, 2.0, 1.0, 1.5, 2.2]}
    assert compare(plot_table(columns, "entry"), Question()).relative_efficiency is None


def test_split_plots_beside_complete_blocks_by_hand(
    published: Callable[[str], Published], plot_table: MakeTable
) -> None:
    # Gomez & Gomez 1984, table 3.9: error (a) 141,968 on 10, error (b) 349,580 on 36 degrees of
    # freedom; 6 rates on main plots, 4 varieties in them. Single plots dealt in the blocks:
    # (5 x 141,968 + 18 x 349,580) / 23 = 304,447 on 46. For rates 304,447 / 141,968, less
    # (11 x 49) / (13 x 47) for few degrees of freedom; for varieties 304,447 / 349,580.
    trial = published("rice_nitrogen_split_plot")
    found = compare(
        plot_table(
            trial.columns,
            "nitrogen",
            "variety",
            block="block",
            on={"nitrogen": AppliedTo.WHOLE_PLOT},
        ),
        Question(),
    )
    main, sub = found.unit_efficiencies
    assert (main.unit, main.factors) == ("whole plot", ("nitrogen",))
    assert main.efficiency == pytest.approx(2.1445 * 0.88216, rel=1e-3)
    assert (sub.unit, sub.factors) == ("plot", ("variety",))
    assert sub.efficiency == pytest.approx(0.8709, rel=1e-3)
    assert found.relative_efficiency is None


def test_crossing_strips_beside_complete_blocks(plot_table: MakeTable) -> None:
    rng = np.random.default_rng(4)
    r, a, b = 5, 3, 4
    y = rng.normal(20, 1, (r, a, b)) + rng.normal(0, 2, (r, a, 1)) + rng.normal(0, 1, (r, 1, b))
    block, pinch, entry = (x.ravel().tolist() for x in np.indices(y.shape))
    columns = {"b": block, "pinch": pinch, "entry": entry, "yield": y.ravel().tolist()}
    strip = AppliedTo.STRIP
    table = plot_table(columns, "pinch", "entry", block="b", on={"pinch": strip, "entry": strip})
    found = compare(table, Question())
    mean = y.mean(axis=(1, 2), keepdims=True)
    rows, lines = y.mean(axis=2, keepdims=True) - mean, y.mean(axis=1, keepdims=True) - mean
    left = y - mean - rows - lines
    square = [
        b * np.sum((rows - rows.mean(axis=0)) ** 2) / ((r - 1) * (a - 1)),
        a * np.sum((lines - lines.mean(axis=0)) ** 2) / ((r - 1) * (b - 1)),
        np.sum((left - left.mean(axis=0)) ** 2) / ((r - 1) * (a - 1) * (b - 1)),
    ]
    times = [a - 1, b - 1, (a - 1) * (b - 1)]
    single = sum(t * s for t, s in zip(times, square, strict=True)) / (a * b - 1)
    without = (r - 1) * (a * b - 1)
    worth = {each.factors: each.efficiency for each in found.unit_efficiencies}
    for names, own, t in zip([("pinch",), ("entry",), ()], square, times, strict=True):
        df = (r - 1) * t
        few = (df + 1) * (without + 3) / ((df + 3) * (without + 1)) if df < 20 else 1.0
        assert worth[names] == pytest.approx(single / own * few, rel=1e-9)


def test_a_lost_plot_leaves_no_worth_of_the_layout(
    published: Callable[[str], Published], plot_table: MakeTable
) -> None:
    trial = published("rice_nitrogen_split_plot")
    columns = dict(trial.columns)
    columns["yield"] = [None, *columns["yield"][1:]]
    on = {"nitrogen": AppliedTo.WHOLE_PLOT}
    found = compare(plot_table(columns, "nitrogen", "variety", block="block", on=on), Question())
    assert found.unit_efficiencies == ()
