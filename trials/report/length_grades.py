"""Length grades in words: '40–49 cm', and the longest one '60 cm and over'."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

from trials.model.units import UnitSystem, cm_to_inches, grade_in_inches


def length_words(length_cm: float, system: UnitSystem = UnitSystem.METRIC) -> str:
    """A stem length or a grade as a grower reads it: a grade given as 12 in is shown as 12 in."""
    if system is UnitSystem.US:
        return f"{grade_in_inches(length_cm):g} in"
    return f"{length_cm:g} cm"


def measured_words(length_cm: float, system: UnitSystem = UnitSystem.METRIC) -> str:
    """The length of a measured stem, as finely as it is measured: to a hundredth of an inch."""
    if system is UnitSystem.US:
        return f"{round(cm_to_inches(length_cm), 2):g} in"
    return length_words(length_cm)


def grade_words(
    grades_cm: Iterable[float], system: UnitSystem = UnitSystem.METRIC
) -> dict[float, str]:
    """The words of each grade, from their shortest lengths; each reaches to the next one."""
    steps = sorted(set(grades_cm))
    words = {low: _between(low, high, system) for low, high in pairwise(steps)}
    return words | {longest: f"{length_words(longest, system)} and over" for longest in steps[-1:]}


def _between(low_cm: float, high_cm: float, system: UnitSystem) -> str:
    """Stems are graded by whole centimetres, so that the last one of a grade is one short."""
    if system is UnitSystem.US:
        return f"{grade_in_inches(low_cm):g}–{length_words(high_cm, system)}"
    return f"{low_cm:g}–{length_words(high_cm - 1, system)}"
