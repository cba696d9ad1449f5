"""Arithmetic on plot values: what a layout can answer, and every comparison it carries.

The law of this folder: a comparison is made of one value a plot and the labels of the layout.
Nothing here knows a database, a file or a screen; a figure that does not exist is None; no figure
is given that the layout cannot carry.
"""

from __future__ import annotations

from trials.stats import results
from trials.stats.comparison import adjusted_means, compare
from trials.stats.model import AdjustedMeans
from trials.stats.opinions import second_opinions
from trials.stats.results import Comparison
from trials.stats.table import Labels, PlotTable, Question, Scale, Treatment

__all__ = [
    "AdjustedMeans",
    "Comparison",
    "Labels",
    "PlotTable",
    "Question",
    "Scale",
    "Treatment",
    "adjusted_means",
    "compare",
    "results",
    "second_opinions",
]
