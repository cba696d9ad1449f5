"""Trends over numeric levels, against a published partition and regressions in numpy."""
# ruff: noqa: SIM300 - F is the name of a statistic, not a constant

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import stats

from tests.stats.by_hand import dummies, f_between
from trials.model.trial import Better
from trials.stats import PlotTable, Question, compare
from trials.stats.design.table import Scale
from trials.stats.trends import numbers_of
from trials.stats.what_was_tested import Trend

MakeTable = Callable[..., PlotTable]
SPACINGS = (15.0, 20.0, 30.0, 45.0)


def only(table: PlotTable, question: Question | None = None) -> Trend:
    (trend,) = compare(table, question or Question()).trends
    return trend


def test_seed_rates_of_rice_are_parted_as_published(
    published: Callable[[str], Any], plot_table: MakeTable
) -> None:
    """Gomez & Gomez 1984, section 5.1.4 (values from memory): linear 760,035, quadratic 74,405."""
    trial = published("rice_seed_rate_rcbd")
    trend = only(plot_table(trial.columns, "rate", block="block"))
    error = trial.expect["MSE"]
    assert trend.straight.F * error == pytest.approx(760_035, abs=1)
    assert trend.bend.F * error == pytest.approx(74_405, abs=1)
    assert trend.rest is not None
    total = trend.straight.F + trend.bend.F + 3 * trend.rest.F
    assert total * error == pytest.approx(trial.expect["SS"]["trt"], abs=2)
    assert (trend.straight.den_df, trend.rest.num_df) == (15, 3)
    assert trend.best is None


def bent(seed: int, top: float = 28.0, noise: float = 0.6) -> dict[str, list[Any]]:
    rng = np.random.default_rng(seed)
    spacing, block = np.repeat(SPACINGS, 5), np.tile(np.arange(5), 4)
    y = 14 - 0.02 * (spacing - top) ** 2 + 0.5 * block + rng.normal(0, noise, 20)
    level = [f"{each:g} cm" for each in spacing]
    return {"spacing": level, "block": block.tolist(), "yield": y.tolist(), "x": spacing.tolist()}


def test_the_parts_are_those_of_a_regression(plot_table: MakeTable) -> None:
    frame = bent(3)
    trend = only(plot_table(frame, "spacing", block="block"))
    y, x, blocks = np.array(frame["yield"]), np.array(frame["x"])[:, None], dummies(frame["block"])
    levels = dummies(frame["spacing"])
    # Each part beside all else that the levels explain, on the error of the whole model.
    straight = x - x.mean()
    square = np.column_stack([straight**2])
    for part, effect, rest in ((trend.bend, square, straight),):
        explained = f_between(y, np.hstack([effect, rest]), blocks)
        assert explained[0] > 0
        left, df = _left(y, levels, blocks)
        drop = _left(y, rest, blocks)[0] - _left(y, np.hstack([rest, effect]), blocks)[0]
        assert part.F == pytest.approx(drop / (left / df), rel=1e-9)
        assert part.p == pytest.approx(stats.f.sf(part.F, 1, df), rel=1e-9)
    means = [np.mean(y[np.array(frame["x"]) == level]) for level in SPACINGS]
    assert trend.slope == pytest.approx(np.polyfit(SPACINGS, means, 1)[0])
    c, b, _ = np.polyfit(SPACINGS, means, 2)
    assert trend.best == pytest.approx(-b / (2 * c))
    assert (trend.unit, trend.lowest, trend.highest) == ("cm", 15, 45)


def _left(y: Any, *parts: Any) -> tuple[float, int]:
    from tests.stats.by_hand import squares_left

    return squares_left(y, *parts)


@pytest.mark.slow
def test_the_interval_of_the_best_level_holds_as_often_as_promised(plot_table: MakeTable) -> None:
    held = told = 0
    for seed in range(150):
        trend = only(plot_table(bent(seed, 30.0, 1.5), "spacing", block="block"))
        if trend.best_low is not None and trend.best_high is not None:
            told += 1
            held += trend.best_low <= 30.0 <= trend.best_high
    assert told > 130
    assert held / told == pytest.approx(0.95, abs=3 * np.sqrt(0.05 * 0.95 / told))


def test_no_best_where_less_is_better_or_the_scale_is_another(plot_table: MakeTable) -> None:
    table = plot_table(bent(3), "spacing", block="block")
    assert only(table).best is not None
    assert only(table, Question(better=Better.LOWER)).best is None
    assert compare(replace(table, y=table.y + 40), Question(scale=Scale.LOG)).trends == ()


@pytest.mark.parametrize(
    ("levels", "read"),
    [
        (("9 in", "12 in", "18 in"), ([9, 12, 18], "in")),
        (("15", "22.5", "30"), ([15, 22.5, 30], "")),
        (("9 in", "12 in"), None),
        (("9 in", "12 cm", "18 in"), None),
        (("early", "2", "3"), None),
        (("2", "2.0", "3"), None),
    ],
)
def test_levels_are_numbers_of_one_unit(
    levels: tuple[str, ...], read: tuple[list[float], str] | None
) -> None:
    found = numbers_of(levels)
    assert (None if found is None else (list(found[0]), found[1])) == read
