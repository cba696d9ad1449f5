"""Arithmetic on plot values: what a layout can answer, and every comparison it carries.

The law of this folder: a comparison is made of one value a plot and the labels of the layout.
Nothing here knows a database, a file or a screen; a figure that does not exist is None; no figure
is given that the layout cannot carry. Names are fetched from their rooms when first used, so that
who writes down a result waits for none of the arithmetic.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trials.model.lazy_imports import door

if TYPE_CHECKING:
    from trials.stats.checks.opinions import second_opinions as second_opinions
    from trials.stats.comparison import adjusted_means as adjusted_means
    from trials.stats.comparison import compare as compare
    from trials.stats.design.linear_model import AdjustedMeans as AdjustedMeans
    from trials.stats.design.table import Labels as Labels
    from trials.stats.design.table import PlotTable as PlotTable
    from trials.stats.design.table import Question as Question
    from trials.stats.design.table import Scale as Scale
    from trials.stats.design.table import Treatment as Treatment
    from trials.stats.results import Comparison as Comparison

__all__, __getattr__ = door(__name__, __file__)
