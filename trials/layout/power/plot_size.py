"""How large a plot should be: plants a plot against plots, and Smith's law of plot size."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np


@dataclass(frozen=True, slots=True)
class PlantsChoice:
    """A way to spend the ground of one entry; ``cv_of_mean_percent`` is that of its mean."""

    plants_per_plot: int
    plots: int
    cost: float
    cv_of_mean_percent: float


def plants_against_plots(
    cv_percent_of: Callable[[int], float],
    plot_cost: float,
    plant_cost: float,
    cost: float,
    most_plants: int = 40,
    fewest_plots: int = 3,
) -> tuple[PlantsChoice, ...]:
    """What each number of plants a plot comes to when an entry may cost ``cost``, the best first.

    A mean over r plots of n plants has the CV of such plots over the root of r, and costs
    r (plot_cost + n plant_cost). Where plots and plants each have their part the least error is
    at n = sqrt(plot_cost plant^2 / (plant_cost plot^2)) (Cochran 1977, Sampling Techniques,
    section 10.6); by Smith's law at b plot_cost / ((1 - b) plant_cost) (Smith 1938, J. Agric.
    Sci. 28:1). Plots are whole, so every size is tried; of sizes that tie the smaller is taken.

    Parameters
    ----------
    cv_percent_of : the CV of plots of so many plants
    plot_cost : what a plot costs however many are in it: its guards, label and edge
    plant_cost, cost : in the same unit as ``plot_cost``, metres of bed for instance
    fewest_plots : choices with fewer plots are left out
    """
    if not (plot_cost > 0 and plant_cost > 0):
        raise ValueError("a plot and a plant each cost something")
    choices = []
    for plants in range(1, most_plants + 1):
        each = plot_cost + plants * plant_cost
        plots = int(cost / each + 1e-9)
        if plots >= fewest_plots:
            error = cv_percent_of(plants) / sqrt(plots)
            choices.append(PlantsChoice(plants, plots, plots * each, error))
    return tuple(sorted(choices, key=lambda choice: choice.cv_of_mean_percent))


@dataclass(frozen=True, slots=True)
class PlotSizeLaw:
    """Smith's law: the variance of a plot's mean falls as its size to the power -``b``.

    ``b`` is 1 where neighbouring ground is no more alike than distant ground, and near 0 where a
    larger plot tells nothing new. ``unit_cv_percent`` is the CV of plots of size 1.
    """

    b: float
    unit_cv_percent: float

    def cv_percent(self, size: float) -> float:
        """The CV of plots of ``size``, in the unit of size the law was found in."""
        if not size > 0:
            raise ValueError(f"a plot has a size above 0, not {size!r}")
        return float(self.unit_cv_percent * size ** (-self.b / 2))


def plot_size_law(
    sizes: Sequence[float], cv_percents: Sequence[float], dfs: Sequence[float]
) -> PlotSizeLaw | None:
    """Fit Smith's law to the CVs of plots of several sizes, or None where all have one size.

    The logarithm of the variance on that of the size, weighted by the degrees of freedom, since
    those are inversely as its sampling variance (Smith 1938, J. Agric. Sci. 28:1).
    """
    size = np.asarray(sizes, dtype=float)
    cv = np.asarray(cv_percents, dtype=float)
    weight = np.asarray(dfs, dtype=float)
    if not (np.all(size > 0) and np.all(cv > 0) and np.all(weight > 0)):
        raise ValueError("sizes, CVs and degrees of freedom are all positive")
    if np.unique(size).size < 2:
        return None
    x, y = np.log(size), 2 * np.log(cv)
    x_mean, y_mean = np.average(x, weights=weight), np.average(y, weights=weight)
    slope = np.sum(weight * (x - x_mean) * (y - y_mean)) / np.sum(weight * (x - x_mean) ** 2)
    return PlotSizeLaw(float(-slope), float(np.exp((y_mean - slope * x_mean) / 2)))
