"""Length grades in inches taken for the grades in centimetres that their trial is graded by."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal

from trials.model.rows import Sheet
from trials.records.encoded_column import Cells
from trials.records.mapping.columns import grades_in
from trials.records.mapping.numbers import grade, unit_of_grade
from trials.records.mapping.plot_labels import KnownPlots
from trials.records.mapping.plots import codes_in
from trials.records.mapping.reading import DecimalMark, Reading, Unit

# A grade in whole inches is meant for one in cm that is no further off than half an inch.
_NEAR = Decimal("1.27")


def with_grades(reading: Reading, cells: Cells, plots: KnownPlots) -> Reading:
    """The reading with the grades of its plots' trials, where it has grades in inches."""
    if reading.sheet is not Sheet.CUTS or not any(_in_inches(reading, cells)):
        return replace(reading, grades=())
    agreed = dict(reading.cells).get("plots")
    codes = {plots.code(text, agreed) for text in codes_in(reading, cells)}
    trials = [
        trial
        for trial, its in plots.of_trial.items()
        if trial in (reading.trial, agreed) or codes & its
    ]
    grades = {grade for trial in trials for grade in plots.grades.get(trial, ())}
    return replace(reading, grades=tuple(sorted(grades)))


def _in_inches(reading: Reading, cells: Cells) -> Iterator[bool]:
    for text, unit in grades_in(reading, cells):
        yield (unit_of_grade(text) or unit) is Unit.IN


def grade_in_cm(
    text: str, mark: DecimalMark, unit: Unit | None, grades: Sequence[int]
) -> str | None:
    """The shortest length of a grade in whole cm; one in inches is the trial's nearest."""
    exact = grade(text, mark, unit, whole=False)
    if exact is None:
        return None
    if (unit_of_grade(text) or unit) is Unit.IN and grades:
        near = min(grades, key=lambda cm: abs(cm - Decimal(exact)))
        if abs(near - Decimal(exact)) <= _NEAR:
            return str(near)
    return grade(text, mark, unit)
