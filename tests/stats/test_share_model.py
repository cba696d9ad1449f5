"""The share model, which statsmodels fits, against the same model written out in numpy."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from tests.stats.by_hand import f_of_drop
from trials.stats import Question, compare, second_opinions
from trials.stats.checks.share_model import fit_shares, share_test
from trials.stats.design.table import Codes, Floats, PlotTable

MakeTable = Callable[..., PlotTable]


def dummies(codes: Codes) -> Floats:
    return np.eye(int(np.max(codes)) + 1)[np.asarray(codes)]


def in_blocks(seed: int) -> tuple[Codes, Codes, Floats, Floats]:
    """Tall stems of 5 varieties in 4 blocks, of 30 to 60 stems a plot, over-dispersed."""
    rng = np.random.default_rng(seed)
    entry, block = np.tile(np.arange(5), 4), np.repeat(np.arange(4), 5)
    numbers = rng.integers(30, 61, 20).astype(float)
    odds = np.exp(-0.6 + 0.35 * entry + 0.1 * block + rng.normal(0, 0.3, 20))
    return entry, block, numbers, rng.binomial(numbers.astype(int), odds / (1 + odds)).astype(float)


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_blocks_agree_with_numpy(seed: int) -> None:
    entry, block, numbers, counts = in_blocks(seed)
    effect, rest = dummies(entry)[:, 1:], dummies(block)
    found = share_test(counts, numbers, effect, rest)
    assert found is not None
    assert (found.num_df, found.den_df) == (4, 12)
    expected = f_of_drop(counts, numbers, effect, rest, shares=True)
    assert [found.F, found.p, found.dispersion] == pytest.approx(expected, rel=1e-6)


def test_a_level_with_none_has_a_limit() -> None:
    entry, block, numbers, counts = in_blocks(3)
    effect, rest = dummies(entry)[:, 1:], dummies(block)
    counts[entry == 0] = 0
    found = share_test(counts, numbers, effect, rest)
    assert found is not None
    nearly = np.where(entry == 0, 1e-9, counts)
    expected = f_of_drop(nearly, numbers, effect, rest, shares=True)
    assert pytest.approx(expected[0], rel=1e-4) == found.F


def test_a_mean_of_exactly_none_adds_nothing_to_the_dispersion() -> None:
    """As with very many plots, where a level's mean comes to rest at 0 itself."""
    entry, block, numbers, counts = in_blocks(3)
    effect, rest = dummies(entry)[:, 1:], dummies(block)
    counts[entry == 0] = 0

    def fit(
        counts: Floats, numbers: Floats, columns: Floats, square: float
    ) -> tuple[float, Floats]:
        deviance, mean = fit_shares(counts, numbers, columns, square)
        return deviance, np.where(mean < 1e-3, 0.0, mean)

    usual = share_test(counts, numbers, effect, rest)
    found = share_test(counts, numbers, effect, rest, fit)
    assert usual is not None
    assert found is not None
    assert found.p == pytest.approx(usual.p, rel=1e-3)


def test_none_at_all_or_all_there_were_is_no_test() -> None:
    entry, block, numbers, _ = in_blocks(4)
    effect, rest = dummies(entry)[:, 1:], dummies(block)
    assert share_test(np.zeros(20), numbers, effect, rest) is None
    assert share_test(numbers, numbers, effect, rest) is None
    with pytest.raises(ValueError, match="at most all"):
        share_test(numbers + 1, numbers, effect, rest)


def test_shares_of_a_table_have_a_second_opinion(plot_table: MakeTable) -> None:
    entry, block, numbers, counts = in_blocks(5)
    columns = {
        "entry": entry.tolist(),
        "block": block.tolist(),
        "yield": (counts / numbers).tolist(),
        "stems": numbers.tolist(),
    }
    table = plot_table(columns, "entry", block="block", plants="stems", unit="share")
    found = second_opinions(table, Question(), compare(table, Question())).solid.count_model
    assert found is not None
    expected = f_of_drop(counts, numbers, dummies(entry)[:, 1:], dummies(block), shares=True)
    assert found.p[0][1] == pytest.approx(expected[1], rel=1e-6)
    assert found.method == f"share model (variance: {expected[2]:.2g} times that of chance)"
