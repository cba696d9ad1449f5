"""Plants a plot and plot size against the cost formula worked out by hand and numpy's fit."""

from __future__ import annotations

import numpy as np
import pytest

from trials.layout.power.plot_size import PlotSizeLaw, plants_against_plots, plot_size_law


def two_parts(plants: int) -> float:
    """Plots that differ by 10 % beyond what plants of 40 % make of them."""
    return float(np.sqrt(10.0**2 + 40.0**2 / plants))


def test_the_best_plots_have_the_least_error_for_a_cost() -> None:
    best = plants_against_plots(two_parts, plot_cost=0.5, plant_cost=0.1, cost=12.0)[0]
    # By hand: 9 plants cost 1.4 a plot, 8 plots for 11.2: (100 + 1600 / 9) / 8 = 34.72; 10 plants
    # cost 1.5, 8 plots for 12: (100 + 160) / 8 = 32.5, which nothing else beats.
    assert (best.plants_per_plot, best.plots) == (10, 8)
    assert best.cost == pytest.approx(12.0)
    assert best.cv_of_mean_percent == pytest.approx(np.sqrt(32.5))


def test_with_ground_enough_the_best_plots_are_those_of_the_formulas() -> None:
    # Cochran 1977, section 10.6: sqrt(0.5 x 40^2 / (0.1 x 10^2)) = 8.94 plants.
    plenty = plants_against_plots(two_parts, plot_cost=0.5, plant_cost=0.1, cost=1e6)
    assert plenty[0].plants_per_plot == 9
    # Smith 1938: b K1 / ((1 - b) K2) = 0.6 x 3 / (0.4 x 0.5) = 9.
    law = PlotSizeLaw(0.6, 20.0)
    plenty = plants_against_plots(law.cv_percent, plot_cost=3.0, plant_cost=0.5, cost=1e6)
    assert plenty[0].plants_per_plot == 9
    errors = [choice.cv_of_mean_percent for choice in plenty]
    assert errors == sorted(errors)


def test_two_plots_are_never_proposed() -> None:
    choices = plants_against_plots(two_parts, plot_cost=0.5, plant_cost=0.1, cost=2.0)
    assert choices
    assert all(choice.plots >= 3 for choice in choices)
    assert plants_against_plots(two_parts, plot_cost=0.5, plant_cost=0.1, cost=1.0) == ()


def test_smith_s_law_is_a_weighted_line_through_logarithms() -> None:
    sizes, cvs, dfs = [1.0, 2.0, 4.0, 8.0], [21.0, 16.5, 12.0, 11.0], [47.0, 23.0, 11.0, 5.0]
    slope, level = np.polyfit(np.log(sizes), 2 * np.log(cvs), 1, w=np.sqrt(dfs))
    law = plot_size_law(sizes, cvs, dfs)
    assert law is not None
    assert law.b == pytest.approx(-slope)
    assert law.unit_cv_percent == pytest.approx(np.exp(level / 2))
    assert plot_size_law([2.0, 2.0], [10.0, 12.0], [5.0, 5.0]) is None


def test_ground_without_pattern_has_a_b_of_one() -> None:
    sizes = np.array([1.0, 3.0, 9.0])
    law = plot_size_law(list(sizes), list(20 / np.sqrt(sizes)), [30.0, 20.0, 10.0])
    assert law is not None
    assert law.b == pytest.approx(1.0)
    assert law.cv_percent(4.0) == pytest.approx(10.0)


def test_costs_and_sizes_are_positive() -> None:
    with pytest.raises(ValueError, match="cost"):
        plants_against_plots(two_parts, plot_cost=0.0, plant_cost=0.1, cost=2.0)
    with pytest.raises(ValueError, match="positive"):
        plot_size_law([1.0, 2.0], [10.0, 0.0], [5.0, 5.0])
