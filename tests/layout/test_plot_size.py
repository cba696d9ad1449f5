"""Plants a plot and plot size against the cost formula worked out by hand and numpy's fit."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize

from trials.layout.plot_size import PlotSizeLaw, plants_against_plots, plot_size_law


def test_the_optimum_is_where_the_error_for_a_cost_is_least() -> None:
    answer = plants_against_plots(10.0, 40.0, plot_cost=0.5, plant_cost=0.1, cost=12.0)

    def variance_times_cost(plants: float) -> float:
        return float((10.0**2 + 40.0**2 / plants) * (0.5 + 0.1 * plants))

    least = optimize.minimize_scalar(variance_times_cost, bounds=(1, 100), method="bounded")
    assert answer.optimum == pytest.approx(least.x, rel=1e-4)
    assert answer.best is not None
    # By hand: 9 plants cost 1.4 a plot, 8 plots for 11.2: (100 + 1600 / 9) / 8 = 34.72; 10 plants
    # cost 1.5, 8 plots for 12: (100 + 160) / 8 = 32.5, which nothing else beats.
    assert (answer.best.plants_per_plot, answer.best.plots) == (10, 8)
    assert answer.best.cost == pytest.approx(12.0)
    assert answer.best.cv_of_mean_percent == pytest.approx(np.sqrt(32.5))


def test_two_plots_are_never_proposed() -> None:
    answer = plants_against_plots(10.0, 40.0, plot_cost=0.5, plant_cost=0.1, cost=2.0)
    assert all(choice.plots >= 3 for choice in answer.choices)
    poor = plants_against_plots(10.0, 40.0, plot_cost=0.5, plant_cost=0.1, cost=1.0)
    assert poor.best is None
    assert poor.choices == ()


def test_plots_that_do_not_differ_have_no_optimum() -> None:
    answer = plants_against_plots(0.0, 40.0, plot_cost=0.5, plant_cost=0.1, cost=12.0)
    assert answer.optimum is None
    assert answer.best is not None


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


def test_the_best_size_has_the_least_variance_for_its_cost() -> None:
    law = PlotSizeLaw(0.6, 20.0)

    def variance_times_cost(size: float) -> float:
        return float(law.cv_percent(size) ** 2 * (3.0 + 0.5 * size))

    least = optimize.minimize_scalar(variance_times_cost, bounds=(0.1, 100), method="bounded")
    assert law.best_size(3.0, 0.5) == pytest.approx(least.x, rel=1e-4)
    assert PlotSizeLaw(1.0, 20.0).best_size(3.0, 0.5) is None


def test_costs_and_sizes_are_positive() -> None:
    with pytest.raises(ValueError, match="cost"):
        plants_against_plots(10.0, 40.0, plot_cost=0.0, plant_cost=0.1, cost=2.0)
    with pytest.raises(ValueError, match="positive"):
        plot_size_law([1.0, 2.0], [10.0, 0.0], [5.0, 5.0])
