"""Reads the wide worksheets of our own workbook: one row per plot, as on the printed sheets."""

from __future__ import annotations

import re
from collections.abc import Sequence

from trials.model.rows import Sheet
from trials.model.trial import Outcome
from trials.model.units import UnitSystem, grade_in_inches, grade_of_inches
from trials.records.encoded_column import Cells
from trials.records.faults import Faults, Wrong, shown
from trials.records.mapping.reading import Meaning, ReadColumn, Reading, Unit
from trials.records.rules.cells import judge_cell
from trials.records.rules.forms import FORMS

PLOT, GROWS, DAY, MISSED = "plot", "what grows there", "cut_on", "missed"
TICKS = ("x", "X", "yes", "missed")
_GRADE = re.compile(r"(\d{1,3}) cm", re.ASCII)
_GRADE_IN = re.compile(r"(\d{1,3}(?:\.\d)?) in", re.ASCII)
_CULLED = re.compile(r"culled: (.+)")
_STEM = re.compile(r"stem (\d{1,3}), (cm|in)", re.ASCII)
_BEFORE = (ReadColumn(PLOT, "plot"), ReadColumn(GROWS, None), ReadColumn(DAY, "cut_on"))


def grade_column(grade_cm: int, units: UnitSystem = UnitSystem.METRIC) -> str:
    """The heading over the stems of a length grade, by its shortest length."""
    return f"{grade_in_inches(grade_cm):g} in" if units is UnitSystem.US else f"{grade_cm} cm"


def cull_column(reason: str) -> str:
    """The heading over the stems culled for a reason."""
    return f"culled: {reason}"


def stem_column(number: int, units: UnitSystem = UnitSystem.METRIC) -> str:
    """The heading over the length of a plot's first stem, its second, ..."""
    return f"stem {number}, {'in' if units is UnitSystem.US else 'cm'}"


def printed_reading(written: Sequence[str]) -> Reading | None:
    """How a worksheet of our own with these headings is read; None where it is anything else."""
    heading = [name.strip() for name in written]
    if heading[:3] != [PLOT, GROWS, DAY] or len(set(heading)) < len(heading):
        return None
    if heading[3:4] == [MISSED]:
        columns = [_count(name) for name in heading[4:]]
        tick = ReadColumn(MISSED, "stems", sets=("grade_cm", ""))
        if not columns or None in columns:
            return None
        return Reading(
            Sheet.CUTS,
            (*_BEFORE, tick, *filter(None, columns)),
            always=(("outcome", Outcome.PICKED.value),),
            blank=Meaning.NOT_RECORDED,
            marks=tuple((tick, Meaning.MISSED) for tick in TICKS),
        )
    stems = [_STEM.fullmatch(name) for name in heading[3:]]
    if not stems or None in stems:
        return None
    measured = (
        ReadColumn(found.string, "length_cm", Unit(found[2]), ("stem", found[1]))
        for found in filter(None, stems)
    )
    return Reading(Sheet.STEM_SAMPLES, (*_BEFORE, *measured))


def _count(name: str) -> ReadColumn | None:
    if found := _GRADE.fullmatch(name):
        return ReadColumn(name, "stems", sets=("grade_cm", found[1]))
    if found := _GRADE_IN.fullmatch(name):
        return ReadColumn(name, "stems", sets=("grade_cm", str(grade_of_inches(float(found[1])))))
    if found := _CULLED.fullmatch(name):
        return ReadColumn(name, "stems", sets=("cull_reason", found[1].strip()))
    return None


def refuse_torn_rows(cells: Cells, faults: Faults) -> None:
    """Refuse rows ticked as missed that hold stems, ticks for stems, and days that are none."""
    texts = [[column.texts[code].strip() for code in column.codes] for column in cells.columns]
    has_tick = cells.heading[3].strip() == MISSED
    first = 4 if has_tick else 3
    day = FORMS[Sheet.CUTS].column(DAY)
    for record, number in enumerate(cells.row_numbers):
        row = int(number)
        tick = texts[3][record] if has_tick else ""
        filled = {
            name: text
            for name, column in zip(cells.heading[first:], texts[first:], strict=True)
            if (text := column[record])
        }
        if tick and tick not in TICKS:
            words = f"{shown(tick)} is not a tick."
            remedy = "Write x if the plot was due and not picked, or empty the cell."
            faults.add(cells.file, row, MISSED, Wrong(words, remedy))
        elif tick and filled:
            words = f"The plot is ticked as missed, but {shown(next(iter(filled)))} is filled."
            remedy = "Empty the tick or the stems: a missed plot has no stems."
            faults.add(cells.file, row, MISSED, Wrong(words, remedy))
        for name, text in filled.items():
            if has_tick and text in TICKS:
                words = f"{shown(text)} is not a number of stems."
                remedy = "Write the number of stems. If nobody picked, tick the column 'missed'."
                faults.add(cells.file, row, name, Wrong(words, remedy))
        # The judge of cells sees only rows that become records.
        judged = judge_cell(texts[2][record], day)
        if texts[2][record] and not tick and not filled and isinstance(judged, Wrong):
            faults.add(cells.file, row, DAY, judged)


def is_filled(row: Sequence[str]) -> bool:
    """Whether anything is written on a row of a worksheet but what was there, or a proper day."""
    day = FORMS[Sheet.CUTS].column(DAY)
    return any(row[3:]) or (bool(row[2]) and isinstance(judge_cell(row[2], day), Wrong))
