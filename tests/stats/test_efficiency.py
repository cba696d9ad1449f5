from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from trials.stats import Question, compare
from trials.stats.table import PlotTable

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
