"""The fixed points against integrals that are known in closed form."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from trials.stats.distributions.lattice import MOST_DIMENSIONS, POINTS, normal_points


def test_each_dimension_alone_is_as_even_as_it_can_be() -> None:
    places = np.sort(stats.norm.cdf(normal_points(6)), axis=1)
    # Folding puts the points on two even grids, so that none is further off than one step.
    assert np.abs(places - (np.arange(POINTS) + 0.5) / POINTS).max() < 1.0 / POINTS


@pytest.mark.parametrize("shifts", [1, 3])
def test_smooth_integrals_in_many_dimensions(shifts: int) -> None:
    points = normal_points(12, shifts)
    assert points.shape == (12, shifts * POINTS)
    # E exp(a'z) = exp(a'a / 2); E cos(a'z) = exp(-a'a / 2).
    a = 0.8 ** np.arange(12)
    assert np.exp(0.5 * a @ points).mean() == pytest.approx(np.exp(a @ a / 8), abs=2e-3)
    assert np.cos(a @ points).mean() == pytest.approx(np.exp(-a @ a / 2), abs=1.5e-3)


def test_the_largest_of_three() -> None:
    # E max = 3 / (2 sqrt(pi)): David & Nagaraja 2003, Order Statistics, section 3.2 (from memory).
    assert normal_points(3).max(axis=0).mean() == pytest.approx(1.5 / np.sqrt(np.pi), abs=2e-4)


def test_more_dimensions_than_it_was_made_for_are_refused() -> None:
    with pytest.raises(ValueError, match=f"1 to {MOST_DIMENSIONS} dimensions"):
        normal_points(MOST_DIMENSIONS + 1)
