"""What must be asked before a sheet is read, because its cells could mean two things."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trials.model.rows import Sheet
from trials.records.encoded_column import Cells
from trials.records.faults import Faults, shown
from trials.records.mapping.apply import apply
from trials.records.mapping.cell_text import about_cells, is_a_number
from trials.records.mapping.columns import says_missed, texts_of, value_columns
from trials.records.mapping.gaps import has_gaps, tells_which, without_dittos
from trials.records.mapping.marks import COUNTED, about_marks
from trials.records.mapping.noted import heading_counts
from trials.records.mapping.numbers import is_either, marks_of, split_unit, unit_of_grade
from trials.records.mapping.plot_labels import KnownPlots
from trials.records.mapping.plots import about_codes, about_names, told_by, trials_told
from trials.records.mapping.reading import (
    ASKED,
    COUNTS,
    DAY,
    LENGTHS,
    VALUE,
    Blank,
    DateOrder,
    DecimalMark,
    Meaning,
    Question,
    Reading,
    Unit,
    distinct,
    own_unit,
    units_of,
)
from trials.records.mapping.repeats import about_repeats
from trials.records.mapping.totals import Mask, about_totals, rows_of
from trials.records.rules.days import lacks_year, readings_of
from trials.records.rules.forms import FORMS, Kind, Need

_MOST_MARKS = 8
# What may be the same for every row, so that a sheet has no column for it.
_TOLD = {
    "trait": "What was scored?",
    "trial": "Which trial are they from?",
    "house": "Which seed house are they from?",
    "from_packs": "From how many packets do these prices apply?",
    "available": "Are all of them available?",
    "crop": "Which crop are they?",
    "season": "Which season (year) are they from?",
    "site": "Which site are they at?",
    "packed_for": "Which year were they packed for?",
    "bed": "Which bed are they in?",
}
TOLD_ONCE = frozenset(_TOLD)


def questions(
    reading: Reading,
    cells: Cells,
    sheets: Sequence[Sheet] = (),
    plots: KnownPlots | None = None,
) -> tuple[Question, ...]:
    """All that is open in a reading of this table, in the order in which to ask."""
    asked: list[Question] = []
    cells = without_dittos(reading, cells)
    records = rows_of(reading, cells, plots).records
    if len(sheets) > 1:
        names = tuple(sheet.value for sheet in sheets)
        asked.append(Question("sheet", "What was counted or measured here?", names))
    asked += _about_plots(reading, cells, plots or KnownPlots())
    asked += about_names(reading, cells, plots or KnownPlots())
    asked += about_codes(reading, cells, plots or KnownPlots())
    asked += _about_columns(reading, cells)
    asked += _about_gaps(reading, cells, records)
    asked += _about_days(reading, cells)
    asked += _about_numbers(reading, cells)
    asked += about_cells(reading, cells)
    asked += _about_units(reading, cells)
    asked += _about_blanks(reading, cells, records)
    asked += _about_what_is_not_there(reading)
    asked += about_totals(reading, cells, plots)
    asked += about_marks(reading, cells)
    if not asked and reading.sheet is Sheet.CUTS:
        asked += about_repeats(reading, apply(reading, cells, Faults(), plots))
    return tuple(asked)


def _about_plots(reading: Reading, cells: Cells, plots: KnownPlots) -> list[Question]:
    trials = () if reading.trial is not None else trials_told(reading, cells, plots)
    if len(trials) < 2:
        return []
    names = " and ".join(told_by(reading, cells).names)
    words = f"Plots of that {names} are in {' and in '.join(trials)}: which trial are they from?"
    return [Question("of trial", words, trials)]


def _about_columns(reading: Reading, cells: Cells) -> list[Question]:
    """Columns of counts that no heading explains, and a column that says what is counted."""
    asked = [
        Question(
            f"column {column.heading}",
            f"{shown(column.heading)} contains numbers. Write: stems (to add them up), a length "
            "grade in cm such as 40, why they were culled, or left out.",
            (),
        )
        for column in reading.columns
        if column.field == ASKED
    ]
    named = zip(distinct(cells.heading), cells.columns, strict=True)
    for name, column in named if reading.sheet is Sheet.CUTS else ():
        read = reading.column(name)
        texts = [text.strip() for text in column.used() if heading_counts(text)]
        if read is not None and read.field is None and texts and COUNTED not in dict(reading.once):
            words = f"{shown(texts[0])} under {shown(name)}: are the numbers next to it stems?"
            asked.append(Question(COUNTED, words, ("stems",)))
    return asked


def _about_gaps(reading: Reading, cells: Cells, records: Mask) -> list[Question]:
    """A block, plot or day that is written once for the rows below it, as in merged cells."""
    asked = []
    for read, column in tells_which(reading, cells):
        if read.blank is None and has_gaps(column, records):
            words = f"Some cells under {shown(read.heading)} are blank. What does a blank mean?"
            asked.append(Question(f"blank {read.heading}", words, tuple(Blank)))
    return asked


def _about_days(reading: Reading, cells: Cells) -> list[Question]:
    asked = []
    days = texts_of(reading, cells, (Kind.DATE,), headings=True)
    either = [
        (text, both)
        for text in days
        if (both := readings_of(text, reading.year or 2024))
        and None not in both
        and both[0] != both[1]
    ]
    if either and reading.dates is None:
        text, (first, second) = either[0]
        days_meant = [f"{day.day} {day:%B}" for day in (first, second) if day is not None]
        asked.append(
            Question(
                "dates", f"{shown(text)}: is that {' or '.join(days_meant)}?", tuple(DateOrder)
            )
        )
    if reading.year is None and any(map(lacks_year, days)):
        text = next(filter(lacks_year, days))
        asked.append(Question("year", f"{shown(text)} has no year: which is it?", ()))
    return asked


def _about_numbers(reading: Reading, cells: Cells) -> list[Question]:
    if reading.decimal is not None:
        return []
    texts = [split_unit(text)[0] for text in texts_of(reading, cells, (Kind.NUMBER, Kind.WHOLE))]
    for text in texts:
        if is_either(text):
            whole, fraction = text.translate({44: None, 46: None}), text.replace(",", ".")
            words = f"{shown(text)}: is that {whole} or {fraction}? What stands before a fraction?"
            return [Question("decimal", words, tuple(DecimalMark))]
    marks = frozenset(DecimalMark)
    for text in texts:
        marks &= marks_of(text) or marks
        if not marks:
            words = f"Some numbers have a decimal comma, some a point ({shown(text)}): which holds?"
            return [Question("decimal", words, tuple(DecimalMark))]
    return []


def _about_units(reading: Reading, cells: Cells) -> list[Question]:
    asked = []
    for name, column in zip(distinct(cells.heading), cells.columns, strict=True):
        read = reading.column(name)
        if read is None or read.sets is not None or own_unit(read.field) is None or read.unit:
            continue
        bare = [t for t in column.used() if t.strip() and unit_of_grade(t) is None]
        if bare:
            words = f"{shown(bare[0])} under {shown(name)}: in what unit?"
            asked.append(Question(f"unit of {name}", words, units_of(read.field)))
    spread = reading.spread
    if spread is None or spread.unit is not None:
        return asked
    wide = [name for name in distinct(cells.heading) if reading.column(name) is None]
    said = [text for name in wide for field, text in spread.parts(name) if own_unit(field)]
    lengths = [text for text in dict.fromkeys(said) if split_unit(text)[1] is None]
    if lengths:
        words = f"The grades {', '.join(map(shown, lengths[:4]))}: in what unit?"
        asked.append(Question("unit", words, (Unit.CM, Unit.IN, Unit.MM)))
    elif own_unit(spread.cells) and wide:
        texts = texts_of(reading, cells, (Kind.NUMBER,))
        bare = [t for t in texts if split_unit(t)[1] is None]
        if bare:
            asked.append(Question("unit", f"{shown(bare[0])}: in what unit?", LENGTHS))
    return asked


def _about_blanks(reading: Reading, cells: Cells, records: Mask) -> list[Question]:
    value = VALUE.get(reading.sheet)
    if value not in COUNTS:
        return []
    columns = value_columns(reading, cells)
    records = records & ~_said_missed(reading, cells)
    asked = []
    missed = (Meaning.MISSED,) if reading.sheet is Sheet.CUTS else ()
    answers = (Meaning.NOT_RECORDED, Meaning.ZERO, *missed)
    texts = [text.strip() for _, column in columns for text in column.at(records).used()]
    if reading.blank is None and "" in texts:
        words = "Some cells of the count are blank. What does a blank mean?"
        asked.append(Question("blank", words, answers))
    known = {mark for mark, _ in reading.marks}
    marks = dict.fromkeys(
        text
        for text in texts
        if text and not any(map(str.isdigit, text)) and text not in known and not is_a_number(text)
    )
    open_marks = [mark for mark in marks if not (missed and says_missed(mark))]
    if len(open_marks) <= _MOST_MARKS:
        asked += [
            Question(f"mark {mark}", f"What does {shown(mark)} say instead of a count?", answers)
            for mark in open_marks
            if len(mark) <= 20
        ]
    return asked


def _said_missed(reading: Reading, cells: Cells) -> Mask:
    """The rows of which their own column says that nobody picked."""
    for name, column in zip(distinct(cells.heading), cells.columns, strict=True):
        read = reading.column(name)
        if read is not None and read.field == "outcome":
            return column.where(says_missed)
    return np.zeros(len(cells), dtype=bool)


def _about_what_is_not_there(reading: Reading) -> list[Question]:
    form = FORMS[reading.sheet]
    had = {column.field for column in reading.columns if column.sets is None}
    had |= {column.sets[0] for column in reading.columns if column.sets}
    had |= {name for name, _ in reading.always}
    if reading.spread is not None:
        had |= {reading.spread.headings, reading.spread.cells, reading.spread.below}
    asked = []
    day = DAY.get(reading.sheet)
    if day is not None and day not in had:
        asked.append(Question(day, "No column gives the day. Which day was it?", ()))
    open_ones = any(column.field == ASKED for column in reading.columns)
    if reading.sheet is Sheet.CUTS and not had & {"grade_cm", "cull_reason"} and not open_ones:
        words = (
            "No column gives the length grade. How long is the shortest of these stems, in cm? "
            "Stems in a grade below the trial's minimum saleable length do not count as marketable."
        )
        asked.append(Question("grade_cm", words, ()))
    asked += [
        Question(column.name, _TOLD[column.name], column.choices)
        for column in form.columns
        if column.name in _TOLD and column.need is Need.FILLED and column.name not in had
    ]
    return asked
