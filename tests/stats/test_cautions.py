from __future__ import annotations

import itertools
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from trials.model.trial import AppliedTo
from trials.stats import Question, compare
from trials.stats.design.table import PlotTable, Scale
from trials.stats.results import Caution, Comparison, Method

MakeTable = Callable[..., PlotTable]
CODE = "unequal-samples"


def noise(seed: int, **factors: list[Any]) -> dict[str, list[Any]]:
    rows = list(itertools.product(*factors.values()))
    columns: dict[str, list[Any]] = dict(
        zip(factors, map(list, zip(*rows, strict=True)), strict=True)
    )
    columns["yield"] = np.random.default_rng(seed).normal(20, 1, len(rows)).tolist()
    return columns


def caution(found: Comparison, code: str) -> Caution:
    (only,) = [each for each in found.cautions if each.code == code]
    return only


def codes(found: Comparison) -> set[str]:
    return {each.code for each in found.cautions}


def test_a_sound_trial_carries_no_caution(plot_table: MakeTable) -> None:
    columns = noise(1, b=[1, 2, 3, 4], entry=list("uvwx"))
    columns["yield"] = [y + 5 * b for y, b in zip(columns["yield"], columns["b"], strict=True)]
    assert compare(plot_table(columns, "entry", block="b"), Question()).cautions == ()


def test_two_plots_a_level_say_how_wide_the_interval_is(plot_table: MakeTable) -> None:
    columns = noise(2, b=[1, 2], entry=list("uvw"))
    found = compare(plot_table(columns, "entry", block="b"), Question())
    pair = found.all_pairs[0]
    reach = (pair.high - pair.low) / 2
    assert f"±{reach:.3g} kg" in caution(found, "few-units").text


def test_lost_and_absent_plots_are_named(plot_table: MakeTable) -> None:
    columns = noise(3, b=[1, 2, 3, 4], entry=list("uvwx"))
    columns["yield"][5] = None
    columns = {name: values[:-1] for name, values in columns.items()}
    found = compare(plot_table(columns, "entry", block="b"), Question())
    assert caution(found, "missing-plots").plots == ("P6",)
    assert "x in b 4" in caution(found, "absent-plots").text
    assert "have 3 to 4 plots each" in caution(found, "unequal-replication").text


def test_a_level_without_a_single_figure_is_named(plot_table: MakeTable) -> None:
    columns = noise(4, b=[1, 2, 3], entry=list("uvw"))
    columns["yield"] = [
        None if entry == "w" else y
        for entry, y in zip(columns["entry"], columns["yield"], strict=True)
    ]
    found = compare(plot_table(columns, "entry", block="b"), Question(check="w"))
    assert "w (entry)" in caution(found, "no-figures").text
    assert found.with_check == ()
    assert [mean.levels[0][1] for mean in found.means] == ["u", "v"]


def test_blocks_that_did_not_help_stay(plot_table: MakeTable) -> None:
    columns = noise(5, b=[1, 2, 3, 4], entry=list("uvwx"))
    y = np.array(columns["yield"]).reshape(4, 4)
    columns["yield"] = (y - y.mean(axis=1, keepdims=True) + 20).ravel().tolist()
    found = compare(plot_table(columns, "entry", block="b"), Question())
    assert found.relative_efficiency is not None
    assert found.relative_efficiency < 1
    assert "blocks-did-not-help" in codes(found)
    assert found.residual_df == 9


def test_many_entries_that_cannot_be_separated(plot_table: MakeTable) -> None:
    columns = noise(6, b=[1, 2, 3], entry=list("abcdefghij"))
    found = compare(plot_table(columns, "entry", block="b"), Question())
    assert min(pair.p_adjusted for pair in found.all_pairs) > 0.05
    assert "10 levels of entry" in caution(found, "not-separable").text


def test_equal_figures_are_not_tested(plot_table: MakeTable) -> None:
    columns = noise(7, b=[1, 2, 3], entry=list("uvw"))
    columns["yield"] = [4.0] * 9
    found = compare(plot_table(columns, "entry", block="b"), Question())
    assert found.method is Method.DESCRIPTION
    assert "no-spread" in codes(found)
    assert {mean.mean for mean in found.means} == {4.0}


def test_shares_at_their_bounds_are_named(plot_table: MakeTable) -> None:
    columns = noise(8, b=[1, 2, 3], entry=list("uvw"))
    columns["yield"] = [0.0, 0.4, 1.0, 0.2, 0.5, 0.9, 0.1, 0.4, 0.8]
    found = compare(plot_table(columns, "entry", block="b", unit="share"), Question())
    assert caution(found, "share-near-bounds").plots == ("P1", "P3")
    assert "share-near-bounds" not in codes(
        compare(plot_table(columns, "entry", block="b"), Question())
    )


@pytest.mark.parametrize(("years", "said"), [([2026], True), ([2025, 2026], False)])
def test_one_season_is_said_to_be_one(plot_table: MakeTable, years: list[int], said: bool) -> None:
    columns = noise(9, year=years, b=[1, 2, 3], entry=list("uvw"))
    found = compare(plot_table(columns, "entry", block="b", season="year"), Question())
    assert ("one-season" in codes(found)) is said


def test_an_interaction_of_single_beds_is_read_with_care(plot_table: MakeTable) -> None:
    columns = noise(10, pinch=["no", "yes"], copy=[1, 2, 3], entry=list("uvw"))
    columns["plot"] = list(range(18))
    found = compare(
        plot_table(columns, "pinch", "entry", plot="plot", on={"pinch": AppliedTo.WHOLE_PLOT}),
        Question(),
    )
    assert "pinch:entry" in caution(found, "single-units-interact").text


def sampled(
    seed: int, ground_sd: float, row_sd: float, samples: Callable[[str, int], int]
) -> dict[str, list[Any]]:
    """Rows of three entries in plots of four blocks, as many a plot as ``samples`` says."""
    rng = np.random.default_rng(seed)
    rows = [
        (f"{entry}{block}", block, entry, plot + rng.normal(0, row_sd))
        for block in range(1, 5)
        for entry in "uvw"
        for plot in [20 + rng.normal(0, ground_sd)]
        for _ in range(samples(entry, block))
    ]
    names = ("plot", "b", "entry", "yield")
    return dict(zip(names, map(list, zip(*rows, strict=True)), strict=True))


def test_unequal_samples_name_the_plots_and_how_unequally_they_are_known(
    plot_table: MakeTable,
) -> None:
    columns = sampled(8, 1.0, 2.0, lambda entry, block: 2 if (entry, block) == ("v", 3) else 10)
    table = plot_table(columns, "entry", block="b", plot="plot")
    found = caution(compare(table, Question()), "unequal-samples")
    assert found.plots == ("b 3, entry v",)
    assert "have 2 to 10 samples" in found.text
    # The weights that the plots would have, worked out from the rows by loops and least squares.
    plots: dict[tuple[int, str], list[float]] = {}
    for b, entry, y in zip(columns["b"], columns["entry"], columns["yield"], strict=True):
        plots.setdefault((b, entry), []).append(y)
    within = sum(((np.array(y) - np.mean(y)) ** 2).sum() for y in plots.values())
    within /= sum(len(y) - 1 for y in plots.values())
    design = np.array(
        [[float(b == i) for i in range(1, 5)] + [float(e == i) for i in "vw"] for b, e in plots]
    )
    means = np.array([np.mean(y) for y in plots.values()])
    left = means - design @ np.linalg.lstsq(design, means, rcond=None)[0]
    between = (left**2).sum() / 6 - within * np.mean([1 / len(y) for y in plots.values()])
    weights = [1 / (max(between, 0.0) + within / n) for n in (2, 10)]
    assert f"varies {weights[1] / weights[0]:.2g} times as much" in found.text


def test_a_level_with_few_samples_is_named_as_less_sure(plot_table: MakeTable) -> None:
    few = sampled(9, 0.3, 3.0, lambda entry, block: 2 if entry == "w" else 12)
    said = caution(compare(plot_table(few, "entry", block="b", plot="plot"), Question()), CODE).text
    assert "It matters for w, with fewer samples than the rest" in said
    # Where plots differ by their ground, how many samples stand behind them hardly matters.
    even = sampled(9, 5.0, 0.5, lambda entry, block: 2 if entry == "w" else 12)
    assert CODE not in codes(compare(plot_table(even, "entry", block="b", plot="plot"), Question()))
    ground = sampled(9, 2.0, 1.5, lambda entry, block: 2 if entry == "w" else 12)
    table = plot_table(ground, "entry", block="b", plot="plot")
    assert "hardly matters" in caution(compare(table, Question()), CODE).text
    said = caution(compare(table, Question(scale=Scale.LOG)), CODE).text
    assert "times as much" not in said  # samples were averaged on another scale


def test_equal_samples_carry_no_caution(plot_table: MakeTable) -> None:
    even = sampled(10, 1.0, 1.0, lambda entry, block: 5)
    assert CODE not in codes(compare(plot_table(even, "entry", block="b", plot="plot"), Question()))
