"""How large a plot should be: plants a plot against plots, and Smith's law of plot size."""

from __future__ import annotations

from collections.abc import Sequence
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


@dataclass(frozen=True, slots=True)
class PlantsPerPlot:
    """The best number of plants a plot, and what each number comes to for the same cost.

    ``optimum`` is exact and hardly whole; None where plots do not differ beyond their plants, so
    that no number of plants is too many. ``best`` is the choice with the least error, the fewest
    plants where several tie; None where the cost does not buy ``fewest_plots`` of any size.
    """

    optimum: float | None
    best: PlantsChoice | None
    choices: tuple[PlantsChoice, ...]


def plants_against_plots(
    plot_cv_percent: float,
    plant_cv_percent: float,
    plot_cost: float,
    plant_cost: float,
    cost: float,
    most_plants: int = 40,
    fewest_plots: int = 3,
) -> PlantsPerPlot:
    """How many plants to set in each plot when an entry may cost ``cost`` in all.

    A mean over r plots of n plants has variance (plot^2 + plant^2 / n) / r and costs
    r (plot_cost + n plant_cost). The least error for a cost is at
    n = sqrt(plot_cost plant^2 / (plant_cost plot^2)) (Cochran 1977, Sampling Techniques,
    section 10.6; Snedecor & Cochran 1989, Statistical Methods, chapter 21).

    Parameters
    ----------
    plot_cv_percent : plots' spread beyond what their plants make of it (not the CV of plot means)
    plant_cv_percent : spread of plants within a plot
    plot_cost : what a plot costs however many are in it: its guards, label and edge
    plant_cost, cost : in the same unit as ``plot_cost``, metres of bed for instance
    fewest_plots : choices with fewer plots are left out
    """
    if plot_cv_percent < 0 or plant_cv_percent < 0:
        raise ValueError("a CV is not negative")
    if not (plot_cost > 0 and plant_cost > 0):
        raise ValueError("a plot and a plant each cost something")
    choices = []
    for plants in range(1, most_plants + 1):
        each = plot_cost + plants * plant_cost
        plots = int(cost / each + 1e-9)
        if plots >= fewest_plots:
            variance = (plot_cv_percent**2 + plant_cv_percent**2 / plants) / plots
            choices.append(PlantsChoice(plants, plots, plots * each, sqrt(variance)))
    optimum = (
        None
        if plot_cv_percent == 0
        else sqrt(plot_cost / plant_cost) * plant_cv_percent / plot_cv_percent
    )
    best = min(choices, key=lambda choice: choice.cv_of_mean_percent, default=None)
    return PlantsPerPlot(optimum, best, tuple(choices))


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

    def best_size(self, plot_cost: float, size_cost: float) -> float | None:
        """The size that gives most for its cost; None where larger is always better (b >= 1).

        b K1 / ((1 - b) K2), with K1 the cost of a plot and K2 that of a unit of its size (Smith
        1938, J. Agric. Sci. 28:1).
        """
        if not (plot_cost > 0 and size_cost > 0):
            raise ValueError("a plot and its size each cost something")
        if self.b >= 1:
            return None
        return max(self.b, 0.0) * plot_cost / ((1 - self.b) * size_cost)


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
