"""Says in a few words what grows in a plot, and which plots are the check."""

from __future__ import annotations

from enum import StrEnum

from trials.layout.plan import PlannedLayout, PlannedPlot
from trials.model.units import FACTOR_UNITS


class Showing(StrEnum):
    """What a label or a sheet tells beside the plot's code."""

    TREATMENT = "treatment"
    CODE_ALONE = "code alone"  # so that whoever counts does not know what grows there


def level_words(factor: str, level: str) -> str:
    """A level in words: a bare number is given the name of its factor and its unit.

    >>> level_words("spacing_cm", "20")
    'spacing 20 cm'
    >>> level_words("variety", "Ember")
    'Ember'
    """
    if not level.replace(".", "", 1).isdecimal():
        return level
    name, _, unit = factor.rpartition("_")
    if name and unit in FACTOR_UNITS:
        return f"{name.replace('_', ' ')} {level} {unit}"
    return f"{factor.replace('_', ' ')} {level}"


def treatment_words(layout: PlannedLayout, plot: PlannedPlot) -> str:
    """What grows in the plot, the check named as such."""
    return ", ".join(
        f"{level_words(factor, level)} (check)"
        if level in layout.plan.checks
        else level_words(factor, level)
        for factor, level in plot.levels
    )


def place_words(plot: PlannedPlot) -> str:
    """The row and column of a plot in layouts that have them, else nothing."""
    named = (("row", plot.row), ("column", plot.column))
    return ", ".join(f"{what} {name}" for what, name in named if name is not None)
