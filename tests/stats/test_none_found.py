"""Levels with nothing counted: exact bounds by scipy, dispersion by hand."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from tests.stats.by_hand import poisson, sums
from trials.stats import Question, compare
from trials.stats.design.table import PlotTable

MakeTable = Callable[..., PlotTable]

# Stems of three varieties in four blocks, on 12 plants each; W never flowered.
STEMS = {"U": [40, 55, 31, 60], "V": [22, 10, 35, 18], "W": [0, 0, 0, 0]}


def columns(counts: dict[str, list[int]], plants: int = 12) -> dict[str, list[Any]]:
    rows = [(v, b, n) for v, line in counts.items() for b, n in enumerate(line, 1)]
    variety, block, stems = (list(column) for column in zip(*rows, strict=True))
    return {
        "variety": variety,
        "block": block,
        "stems": stems,
        "yield": [n / plants for n in stems],
        "plants": [plants] * len(rows),
    }


def test_no_stem_leaves_room_for_three_over_n(plot_table: MakeTable) -> None:
    table = plot_table(
        columns(STEMS), "variety", block="block", plants="plants", unit="stems/plant"
    )
    found = compare(table, Question())
    (item,) = found.none_found
    assert item.levels == (("variety", "W"),)
    assert item.number == 48
    assert not item.every
    assert stats.poisson.cdf(0, item.bound * 48) == pytest.approx(0.05)
    assert item.bound == pytest.approx(3 / 48, rel=0.002)
    frame = pd.DataFrame(columns({v: STEMS[v] for v in "UV"}))
    rest = np.hstack([np.ones((len(frame), 1)), sums(frame["variety"]), sums(frame["block"])])
    stems, plants = frame["stems"].to_numpy(float), frame["plants"].to_numpy(float)
    _, mean = poisson(stems, rest, plants)
    dispersion = float(np.sum((stems - mean) ** 2 / mean)) / (len(stems) - rest.shape[1])
    assert item.dispersion == pytest.approx(dispersion, rel=1e-6)
    assert item.dispersion is not None
    assert item.allowing == pytest.approx(item.bound * item.dispersion)
    (caution,) = [c for c in found.cautions if c.code == "none-found"]
    assert "None were counted for W on 48 plants" in caution.text
    assert "up to 0.062 stems/plant" in caution.text
    assert "95% bound" in caution.text
    assert "times as much as independent counts" in caution.text


@pytest.mark.parametrize(("every", "counts"), [(False, [0, 0, 0, 0]), (True, [12, 12, 12, 12])])
def test_shares_of_none_and_of_all(plot_table: MakeTable, every: bool, counts: list[int]) -> None:
    given = columns({"U": [6, 7, 5, 8], "V": [9, 8, 10, 7], "W": counts})
    table = plot_table(given, "variety", block="block", plants="plants", unit="share")
    found = compare(table, Question(alpha=0.1))
    (item,) = found.none_found
    assert item.every is every
    way = "greater" if every else "less"
    limits = stats.binomtest(sum(counts), 48, alternative=way).proportion_ci(0.9, "exact")
    assert item.bound == pytest.approx(limits.low if every else limits.high, rel=1e-9)
    # Two levels of four plots: Pearson's chi-squared of both tables over 3 + 3.
    chi = sum(
        stats.chi2_contingency([line, [12 - n for n in line]], correction=False).statistic
        for line in ([6, 7, 5, 8], [9, 8, 10, 7])
    )
    assert item.dispersion == pytest.approx(chi / 6)
    assert item.allowing == pytest.approx(item.bound)  # they vary less than chance would
    code = "all-found" if every else "none-found"
    assert "90% bound" in next(c.text for c in found.cautions if c.code == code)


def test_a_combination_within_levels_that_have_some(plot_table: MakeTable) -> None:
    rows = [(v, p, b) for v in "UV" for p in ("no", "yes") for b in (1, 2, 3)]
    stems = [0, 0, 0, 9, 7, 8, 5, 6, 4, 9, 10, 12]
    given: dict[str, list[Any]] = {
        "variety": [row[0] for row in rows],
        "pinch": [row[1] for row in rows],
        "block": [row[2] for row in rows],
        "yield": [n / 10 for n in stems],
        "plants": [10] * 12,
    }
    found = compare(
        plot_table(given, "variety", "pinch", block="block", plants="plants"), Question()
    )
    (item,) = found.none_found
    assert item.levels == (("variety", "U"), ("pinch", "no"))
    assert item.number == 30


def test_without_counts_there_is_no_bound(plot_table: MakeTable) -> None:
    given = columns(STEMS)
    assert compare(plot_table(given, "variety", block="block"), Question()).none_found == ()
    given["yield"] = [value + 0.013 if value else 0.0 for value in given["yield"]]
    table = plot_table(given, "variety", block="block", plants="plants")
    assert compare(table, Question()).none_found == ()
