"""What must be asked before a sheet is read, because its cells could mean two things."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from trials.batch import Sheet
from trials.errors import TallybedError, UnknownName
from trials.records.faults import shown
from trials.records.plot_labels import KnownPlots
from trials.records.reading import (
    COUNTS,
    DAY,
    LENGTHS,
    VALUE,
    Blank,
    DateOrder,
    DecimalMark,
    Meaning,
    Reading,
    Unit,
    distinct,
    own_unit,
    units_of,
)
from trials.records.reading_days import lacks_year, readings_of
from trials.records.reading_gaps import has_gaps, notes, records, tells_which
from trials.records.reading_numbers import is_either, marks_of, split_unit
from trials.records.reading_plots import told_by, trials_told
from trials.records.sheets import FORMS, Kind, Need
from trials.records.spellings import Cells, Spelled

_MOST_MARKS = 8
# What may be the same for every row, so that a sheet has no column for it.
_TOLD = {
    "trait": "What was scored?",
    "trial": "Of which trial are they?",
    "house": "Of which seed house are they?",
    "from_packs": "From how many packets on do these prices hold?",
    "available": "Can all of them be ordered?",
    "crop": "Of which crop are they?",
    "season": "Of which season (year) are they?",
    "site": "At which site are they?",
    "packed_for": "For which year were they packed?",
    "bed": "In which bed do they lie?",
}
TOLD_ONCE = frozenset(_TOLD)
_SAYS_MISSED = frozenset({"missed", "not picked", "not cut", "no pick"})


@dataclass(frozen=True, slots=True)
class Question:
    """One thing to ask: its name, the words, and the answers there are (none: write it)."""

    key: str
    words: str
    answers: tuple[str, ...]


def questions(
    reading: Reading,
    cells: Cells,
    sheets: Sequence[Sheet] = (),
    plots: KnownPlots | None = None,
) -> tuple[Question, ...]:
    """All that is open in a reading of this table, in the order in which to ask."""
    asked: list[Question] = []
    if len(sheets) > 1:
        names = tuple(sheet.value for sheet in sheets)
        asked.append(Question("sheet", "What was counted or measured here?", names))
    asked += _about_plots(reading, cells, plots or KnownPlots())
    asked += _about_gaps(reading, cells)
    asked += _about_days(reading, cells)
    asked += _about_numbers(reading, cells)
    asked += _about_units(reading, cells)
    asked += _about_blanks(reading, cells)
    asked += _about_what_is_not_there(reading)
    return tuple(asked)


def _about_plots(reading: Reading, cells: Cells, plots: KnownPlots) -> list[Question]:
    trials = () if reading.trial is not None else trials_told(reading, cells, plots)
    if len(trials) < 2:
        return []
    names = " and ".join(told_by(reading, cells).names)
    words = f"Plots of that {names} are in {' and in '.join(trials)}: of which trial are they?"
    return [Question("of trial", words, trials)]


def _about_gaps(reading: Reading, cells: Cells) -> list[Question]:
    """A block, plot or day that is written once for the rows below it, as in merged cells."""
    asked = []
    for read, column in tells_which(reading, cells):
        if read.blank is None and has_gaps(column, records(reading, cells) & ~notes(cells)):
            words = f"Some cells under {shown(read.heading)} are blank. What does a blank say?"
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
        bare = [t for t in column.texts if t.strip() and split_unit(t)[1] is None]
        if bare:
            words = f"{shown(bare[0])} under {shown(name)}: in what unit?"
            asked.append(Question(f"unit of {name}", words, units_of(read.field)))
    spread = reading.spread
    if spread is None or spread.unit is not None:
        return asked
    wide = [name for name in distinct(cells.heading) if reading.column(name) is None]
    lengths = [name for name in wide if split_unit(name)[1] is None]
    if own_unit(spread.headings) and lengths:
        words = f"The grades {', '.join(map(shown, lengths[:4]))}: in what unit?"
        asked.append(Question("unit", words, (Unit.CM, Unit.IN, Unit.MM)))
    elif own_unit(spread.cells) and wide:
        texts = texts_of(reading, cells, (Kind.NUMBER,))
        bare = [t for t in texts if split_unit(t)[1] is None]
        if bare:
            asked.append(Question("unit", f"{shown(bare[0])}: in what unit?", LENGTHS))
    return asked


def _about_blanks(reading: Reading, cells: Cells) -> list[Question]:
    value = VALUE.get(reading.sheet)
    if value not in COUNTS:
        return []
    columns = value_columns(reading, cells)
    asked = []
    missed = (Meaning.MISSED,) if reading.sheet is Sheet.CUTS else ()
    answers = (Meaning.NOT_RECORDED, Meaning.ZERO, *missed)
    texts = [text.strip() for _, column in columns for text in column.used()]
    if reading.blank is None and "" in texts:
        words = "Some cells of the count are blank. What does a blank say?"
        asked.append(Question("blank", words, answers))
    known = {mark for mark, _ in reading.marks}
    marks = dict.fromkeys(
        text for text in texts if text and not any(map(str.isdigit, text)) and text not in known
    )
    open_marks = [mark for mark in marks if not (missed and says_missed(mark))]
    if len(open_marks) <= _MOST_MARKS:
        asked += [
            Question(f"mark {mark}", f"What does {shown(mark)} say in place of a count?", answers)
            for mark in open_marks
            if len(mark) <= 20
        ]
    return asked


def _about_what_is_not_there(reading: Reading) -> list[Question]:
    form = FORMS[reading.sheet]
    had = {column.field for column in reading.columns if column.sets is None}
    had |= {column.sets[0] for column in reading.columns if column.sets}
    had |= {name for name, _ in reading.always}
    if reading.spread is not None:
        had |= {reading.spread.headings, reading.spread.cells}
    asked = []
    day = DAY.get(reading.sheet)
    if day is not None and day not in had:
        asked.append(Question(day, "No column says the day. Which day was it?", ()))
    if reading.sheet is Sheet.CUTS and not had & {"grade_cm", "cull_reason"}:
        words = "No column says the length grade. From what length in cm are these stems?"
        asked.append(Question("grade_cm", words, ()))
    asked += [
        Question(column.name, _TOLD[column.name], column.choices)
        for column in form.columns
        if column.name in _TOLD and column.need is Need.FILLED and column.name not in had
    ]
    return asked


def says_missed(text: str) -> bool:
    """Whether a cell says in words that nobody picked."""
    return text.strip().casefold() in _SAYS_MISSED


def value_columns(reading: Reading, cells: Cells) -> list[tuple[str, Spelled]]:
    """The columns that hold what was counted or measured, by their headings."""
    value = VALUE.get(reading.sheet)
    found = []
    for name, column in zip(distinct(cells.heading), cells.columns, strict=True):
        read = reading.column(name)
        field = reading.spread.cells if read is None and reading.spread else read and read.field
        if field == value:
            found.append((name, column))
    return found


def texts_of(
    reading: Reading, cells: Cells, kinds: tuple[Kind, ...], *, headings: bool = False
) -> list[str]:
    """The different texts that stand for values of some kinds, with headings that do too."""
    form = FORMS[reading.sheet]
    told = [(name, says) for name, says in reading.always if name in form.names] if headings else []
    found = [says for name, says in told if form.column(name).kind in kinds]
    for name, column in zip(distinct(cells.heading), cells.columns, strict=True):
        read = reading.column(name)
        if read is None and reading.spread is not None:
            if headings and form.column(reading.spread.headings).kind in kinds:
                found.append(name)
            field: str | None = reading.spread.cells
        else:
            field = None if read is None else read.field
        if field and form.column(field).kind in kinds:
            found += [text for text in column.texts if text.strip()]
    return found


def answered(reading: Reading, key: str, answer: str) -> Reading:
    """The reading with one question answered.

    Raises
    ------
    TallybedError
        The answer is none of those there are.
    """
    text = answer.strip()
    if key == "dates":
        return replace(reading, dates=DateOrder(_one_of(text, DateOrder, key)))
    if key == "decimal":
        return replace(reading, decimal=DecimalMark(_one_of(text, DecimalMark, key)))
    if key == "blank":
        return replace(reading, blank=Meaning(_one_of(text, Meaning, key)))
    if key == "year":
        if not (text.isdecimal() and 1950 <= int(text) <= 2199):
            raise TallybedError(f"{shown(text)} is no year. Write it as 2026.")
        return replace(reading, year=int(text))
    if key == "of trial":
        return replace(reading, trial=text)
    if key == "unit" and reading.spread is not None:
        unit = Unit(_one_of(text, Unit, key))
        return replace(reading, spread=replace(reading.spread, unit=unit))
    if key.startswith("unit of "):
        unit, heading = Unit(_one_of(text, Unit, key)), key.removeprefix("unit of ")
        columns = tuple(
            replace(c, unit=unit) if c.heading == heading else c for c in reading.columns
        )
        return replace(reading, columns=columns)
    if key.startswith("blank "):
        meant, heading = Blank(_one_of(text, Blank, key)), key.removeprefix("blank ")
        columns = tuple(
            replace(c, blank=meant) if c.heading == heading else c for c in reading.columns
        )
        return replace(reading, columns=columns)
    if key.startswith("mark "):
        meaning = Meaning(_one_of(text, Meaning, key))
        return replace(reading, marks=(*reading.marks, (key.removeprefix("mark "), meaning)))
    if key in FORMS[reading.sheet].names:
        return replace(reading, always=(*reading.always, (key, text)))
    raise UnknownName("question", key, ("dates", "decimal", "blank", "year", "unit"))


def _one_of(text: str, kinds: type, key: str) -> str:
    answers = [str(kind) for kind in kinds]  # type: ignore[attr-defined]
    plain = text.casefold().replace("-", " ").replace("_", " ")
    if plain not in answers:
        raise TallybedError(
            f"{shown(text)} is no answer to {shown(key)}. Answer one of: {', '.join(answers)}."
        )
    return plain
