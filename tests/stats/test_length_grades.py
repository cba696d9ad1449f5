"""Stems by length grade, worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from trials.stats.design.table import Floats, Labels
from trials.stats.length_grades import GradeShare, grade_shares

NAN = float("nan")


def shares(stems: list[list[float]], plants: list[float]) -> tuple[GradeShare, ...]:
    levels = Labels.of("variety", ["A", "A", "B"])
    table: Floats = np.array(stems)
    return grade_shares(levels, (30.0, 40.0), table, np.array(plants))


def test_plots_weigh_alike_whatever_their_plants() -> None:
    found = shares([[10, 30], [20, 20], [0, 9]], [10, 20, 9])
    # A: plot means (1, 3) and (1, 1); B: (0, 1)
    assert found == (
        GradeShare("A", 30.0, 1.0, 1 / 3),
        GradeShare("A", 40.0, 2.0, 2 / 3),
        GradeShare("B", 30.0, 0.0, 0.0),
        GradeShare("B", 40.0, 1.0, 1.0),
    )


@pytest.mark.parametrize(
    ("stems", "plants"),
    [
        ([[NAN, NAN], [20, 20], [0, 9]], [10, 20, 9]),
        ([[10, 30], [20, 20], [0, 9]], [NAN, 20, 9]),
        ([[10, 30], [20, 20], [0, 9]], [0, 20, 9]),
    ],
)
def test_a_plot_not_picked_or_without_living_plants_is_left_out(
    stems: list[list[float]], plants: list[float]
) -> None:
    found = shares(stems, plants)
    assert found[0] == GradeShare("A", 30.0, 1.0, 0.5)


def test_a_level_without_plots_is_left_out() -> None:
    found = shares([[10, 30], [20, 20], [NAN, NAN]], [10, 20, 9])
    assert {item.level for item in found} == {"A"}


def test_without_stems_there_is_no_share() -> None:
    found = shares([[10, 30], [20, 20], [0, 0]], [10, 20, 9])
    assert [(item.stems_per_plant, item.share) for item in found[2:]] == [(0.0, None), (0.0, None)]
