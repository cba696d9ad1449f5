"""The curve of a sowing, by hand-worked plots."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from trials.decide import (
    PlotCurve,
    Sowing,
    SowingShare,
    curves,
    share_of_later,
    share_within,
    sowing_for_stems,
)


def plot(name: str, stems: list[float], treatment: str = "", planted: int = 150) -> PlotCurve:
    weeks = np.array(stems)[:, None]
    return PlotCurve(name, "t", 2026, "Ash", treatment, weeks, 60.0, planted, 4)


def test_a_curve_has_the_shape_of_the_plots_and_the_level_of_the_draws() -> None:
    level = np.array([10.0, 20.0])
    (curve,) = curves([plot("1", [2, 6, 2]), plot("2", [1, 3, 1])], {"Ash": level})
    # Whichever plots are drawn, a fifth, three fifths and a fifth come in the three weeks.
    assert curve.stems[:, :, 0] == pytest.approx(np.outer(level, [0.2, 0.6, 0.2]))
    assert (curve.days, curve.plots, curve.cuts, curve.assumed) == (60.0, ("1", "2"), 8, False)


def test_a_treatment_gets_its_share_of_the_variety_s_level() -> None:
    plots = [plot("1", [8.0, 4.0], "pinched"), plot("2", [2.0, 2.0], "unpinched")]
    pinched, unpinched = curves(plots, {"Ash": np.full(5, 16.0)})
    # 12 and 4 stems: the mean is 8, so pinched plants give one and a half times the level.
    assert pinched.mean.sum() == pytest.approx(24.0)
    assert unpinched.mean.sum() == pytest.approx(8.0)


def test_plantings_near_the_date_are_used_and_others_are_an_assumption() -> None:
    plots = [plot("1", [1.0, 1.0], planted=150), plot("2", [3.0, 1.0], planted=200)]
    (late,) = curves(plots, {"Ash": np.ones(3)}, planted=205)
    assert (late.plots, late.assumed) == (("2",), False)
    (other,) = curves(plots, {"Ash": np.ones(3)}, planted=260)
    assert (other.plots, other.assumed) == (("1", "2"), True)


def test_a_late_planting_gives_what_late_plots_gave_in_the_records() -> None:
    plots = [plot("1", [6.0, 6.0], planted=150), plot("2", [4.0, 0.0], planted=200)]
    (early,) = curves(plots, {"Ash": np.full(4, 16.0)}, planted=150)
    (late,) = curves(plots, {"Ash": np.full(4, 16.0)}, planted=200)
    # Twelve and four stems, eight on average: one and a half times the level, and half of it.
    assert early.mean.sum() == pytest.approx(24.0)
    assert late.mean.sum() == pytest.approx(8.0)


def test_the_share_of_a_later_sowing_comes_from_plots_planted_as_late() -> None:
    early, late = plot("1", [6.0, 6.0], planted=150), plot("2", [2.0, 4.0], planted=172)
    assert share_of_later([early, late], 1, 21) == SowingShare(0.5, 1)
    assert share_of_later([early, late], 2, 21) is None
    other = replace(late, season=2025)  # the first of its own season: no later one
    assert share_of_later([early, other], 1, 21) is None


def test_a_shorter_season_gives_the_stems_of_its_weeks() -> None:
    plots = [plot("1", [2, 6, 2]), plot("2", [1, 3, 1])]
    assert share_within(plots, 2) == pytest.approx(0.8)
    assert share_within(plots, 1.5) == pytest.approx(0.5)
    assert share_within(plots, 9) == 1.0


def test_a_later_sowing_is_not_credited_with_the_whole_season() -> None:
    # 1,000 stems at 5 a plant: 200 plants in one sowing; where the second gives half as many,
    # a plant of the two gives 3.75 on average and 267 plants are needed.
    one = sowing_for_stems(1000, [5.0], 1.0, 10.0, Sowing(0.0))
    shares = [SowingShare(1.0), SowingShare(0.5, plots=3)]
    two = sowing_for_stems(1000, [5.0], 1.0, 10.0, Sowing(0.0, successions=2), shares)
    assert one.wanted is not None
    assert two.wanted is not None
    assert (one.wanted.plants, two.wanted.plants) == (200, 267)
    assert two.bed_metres == 13.4
    assert two.wanted.recorded == (0, 3)
