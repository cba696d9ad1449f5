"""Which grades and which reasons for culling the tally pages offer for a plot."""

from __future__ import annotations

from typing import Protocol

from trials.model.saleable import shortest_grade
from trials.model.units import UnitSystem, grade_in_inches, grade_of_inches

USUAL_REASONS = ("bent", "damaged", "too short", "too open", "insects", "disease")
STEP_CM, STEP_IN = 10, 4
NEAR_CM = 2
GRADES_SHOWN = 6
REASONS_SHOWN = 6


class CountsBy(Protocol):
    """What a trial has planned and used so far; a plot on a day says it as well."""

    @property
    def grades_cm(self) -> tuple[int, ...]: ...
    @property
    def planned_grades_cm(self) -> tuple[int, ...]: ...
    @property
    def cull_reasons(self) -> tuple[str, ...]: ...


def grades_of(
    told: CountsBy, shortest_cm: float, system: UnitSystem
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """The grades to offer, those too short to sell and those to sell.

    They are those that the trial has planned and used and the shortest that can be sold; without
    a plan also those about it.
    """
    lowest = shortest_grade(shortest_cm)
    usual: list[int] = []
    if told.planned_grades_cm:
        pass
    elif system is UnitSystem.US:
        first = max(int(grade_in_inches(shortest_cm) // STEP_IN) - 1, 0) * STEP_IN
        steps = range(first, first + GRADES_SHOWN * STEP_IN, STEP_IN)
        usual = [grade_of_inches(inches) for inches in steps]
    else:
        first = max(lowest // STEP_CM - 1, 0) * STEP_CM
        usual = list(range(first, first + GRADES_SHOWN * STEP_CM, STEP_CM))
    offered = {*told.planned_grades_cm, *told.grades_cm}
    if not any(lowest <= used <= lowest + NEAR_CM for used in offered):
        offered.add(lowest)
    # A grade of a few millimetres more or less than one in use is the same grade in other units.
    apart = [step for step in usual if all(abs(step - grade) > NEAR_CM for grade in offered)]
    grades = sorted({*offered, *apart})
    return (
        tuple(grade for grade in grades if grade < lowest),
        tuple(grade for grade in grades if grade >= lowest),
    )


def reasons_of(told: CountsBy) -> tuple[str, ...]:
    """The reasons for culling to offer: the trial's own, then the usual ones."""
    usual = [reason for reason in USUAL_REASONS if reason not in told.cull_reasons]
    return (*told.cull_reasons, *usual[: max(0, REASONS_SHOWN - len(told.cull_reasons))])
