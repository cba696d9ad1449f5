"""How to grow each variety: effects shrunk together, and the price ratio at which they end."""

from __future__ import annotations

import numpy as np
import pytest

from trials.decide import Premium, SeasonMeans, growing

EFFECTS = SeasonMeans(2026, "t", ("a", "b", "c"), np.array([6.0, 1.0, -1.0]), 4 * np.eye(3), 30.0)
PRICES = Premium(60, 40, 1.5)


def test_effects_are_drawn_towards_their_mean() -> None:
    rows = growing(
        "pinch", ("yes", "no"), EFFECTS, {}, usual=50.0, prices=None, varieties=("a", "b", "c")
    )
    first, second, third = rows
    assert (first.level, first.other) == ("yes", "no")
    assert 2.0 < first.gain < 6.0
    assert 1.0 < second.gain < 2.0
    signed = [row.gain if row.level == "yes" else -row.gain for row in rows]
    assert np.mean(signed) == pytest.approx(2.0, abs=1e-6)
    assert -1.0 < signed[2] < 2.0
    assert third.chance >= 0.5
    assert first.low < first.gain < first.high


def test_the_break_even_ratio_is_where_the_gain_is_nothing() -> None:
    """Of a gain g, p comes from prices above the shortest grade's, which grow with ratio - 1."""
    (row,) = growing(
        "pinch", ("yes", "no"), EFFECTS, {"a": 8.0}, usual=50.0, prices=PRICES, varieties=("a",)
    )
    assert row.break_even is not None
    assert row.pays_above
    assert row.gain - 8.0 + 8.0 * (row.break_even - 1) / 0.5 == pytest.approx(0, abs=1e-9)
    (row,) = growing(
        "pinch", ("yes", "no"), EFFECTS, {"a": -2.0}, usual=50.0, prices=PRICES, varieties=("a",)
    )
    assert row.break_even is not None
    assert not row.pays_above  # its stems are shorter: dearer long stems end it
    assert row.break_even > PRICES.ratio
    (row,) = growing(
        "pinch", ("yes", "no"), EFFECTS, {"a": 1.0}, usual=50.0, prices=PRICES, varieties=("a",)
    )
    assert row.break_even is None  # more than the premium is gained: it pays at any price


def test_the_better_level_is_named_however_little_is_gained() -> None:
    """With no spread between the entries all is drawn to the mean of the effects."""
    little = SeasonMeans(2026, "t", ("a", "b"), np.array([-0.5, -0.5]), 1e-4 * np.eye(2), 30.0)
    rows = growing("pinch", ("yes", "no"), little, {}, usual=50.0, prices=None, varieties=("a",))
    (row,) = rows
    assert (row.level, row.other) == ("no", "yes")
    assert row.gain == pytest.approx(0.5, abs=0.01)
