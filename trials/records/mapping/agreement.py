"""Finds how each table is read: as one of ours, by a reading agreed before, or by asking."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from trials.model.rows import AgreedReading, Sheet
from trials.records.encoded_column import Cells
from trials.records.faults import Faults
from trials.records.files.sheet_parts import is_total
from trials.records.mapping.answers import answered
from trials.records.mapping.apply import apply
from trials.records.mapping.cell_text import about_cells, says_a_number
from trials.records.mapping.gaps import is_ditto
from trials.records.mapping.grades import with_grades
from trials.records.mapping.guess import Guess, guess, guess_as
from trials.records.mapping.marks import about_marks, refused
from trials.records.mapping.numbers import marks_of, split_unit
from trials.records.mapping.plot_labels import BY, KnownPlots
from trials.records.mapping.plots import of_its_trial
from trials.records.mapping.printed_sheets import printed_reading, refuse_torn_rows
from trials.records.mapping.questions import questions
from trials.records.mapping.reading import (
    LENGTHS,
    VALUE,
    DecimalMark,
    Question,
    ReadColumn,
    Reading,
    Unit,
    distinct,
    signature,
)
from trials.records.mapping.remembered import reading_of, reading_text
from trials.records.mapping.titles import by_title, lasting
from trials.records.rules.days import readings_of
from trials.records.rules.factors import plain_heading
from trials.records.rules.forms import FORMS, Form, Kind, Need
from trials.records.rules.headings import fits_well, nearest_form, own_form

SHOWN_ROWS = 10
# Columns beside ours that are nothing but remarks.
_REMARKS = frozenset({"note", "notes", "remark", "remarks", "comment", "comments", "initials"})


@dataclass(frozen=True, slots=True)
class Agreed:
    """What was agreed about files before they are read.

    Attributes
    ----------
    kept
        Readings by which earlier files were loaded: the TOML text, by ``signature``.
    tables
        Readings of single tables, by what each goes by in messages; before all others.
    given
        The reading for these files; before those that are kept.
    guesses
        The guess holds where it leaves no question open.
    answers
        Answers to questions, by their keys; they agree to the rest of the guess.
    accept
        Why records beyond what is likely are true; None holds them.
    asks
        Whether what a cell of our own files could mean is asked; else it is a fault.
    """

    kept: Mapping[str, str] = field(default_factory=dict)
    tables: Mapping[str, Reading] = field(default_factory=dict)
    given: Reading | None = None
    guesses: bool = False
    answers: Mapping[str, str] = field(default_factory=dict)
    accept: str | None = None
    asks: bool = True


@dataclass(frozen=True, slots=True, eq=False)
class Understood:
    """A table in our own headings, or what is to be asked first.

    ``read_by`` is how it was read, where it is not one of ours, and ``reading`` what of that is
    kept for others.
    """

    cells: Cells | None
    reading: AgreedReading | None = None
    asked: Guess | None = None
    read_by: Reading | None = None


def understand(cells: Cells, agreed: Agreed, plots: KnownPlots, faults: Faults) -> Understood:
    """The table in our own headings, or the guess that is to be agreed on first."""
    printed = _printed(cells, agreed, plots)
    if printed is not None:
        if printed.questions and agreed.asks:
            return Understood(None, asked=printed)
        refuse_torn_rows(cells, faults)
        _refuse_marks(cells, agreed, faults)
        return Understood(apply(printed.reading, cells, faults, plots))
    found = guess_for(cells, agreed, plots)
    if found is None:  # one of ours, or of no kind: the judge of headings says what is wrong
        _refuse_marks(cells, replace(agreed, asks=False), faults)
        return Understood(cells)
    if found.questions or not (found.agreed or agreed.guesses or agreed.answers):
        return Understood(None, asked=found)
    kept = AgreedReading(signature(cells.heading), reading_text(lasting(found.reading)))
    return Understood(apply(found.reading, cells, faults, plots), kept, read_by=found.reading)


def _refuse_marks(cells: Cells, agreed: Agreed, faults: Faults) -> None:
    """Refuse what a sheet marks where nobody is asked what becomes of it."""
    for mark in () if agreed.asks else cells.marks:
        faults.add(cells.file, mark.row, mark.heading, refused(mark))


def _printed(cells: Cells, agreed: Agreed, plots: KnownPlots) -> Guess | None:
    """A worksheet of our own workbook, with what must be asked about its marks and cells."""
    reading = printed_reading(cells.heading)
    if reading is None:
        return None
    reading = agreed.tables.get(cells.file, reading)
    for question in _about_printed(reading, cells):
        if question.key in agreed.answers:
            reading = answered(reading, question.key, agreed.answers[question.key])
    left = tuple(_about_printed(reading, cells))
    return Guess(cells, reading, left, (reading.sheet,), agreed=True, plots=plots)


def _about_printed(reading: Reading, cells: Cells) -> list[Question]:
    return [*about_cells(reading, cells), *about_marks(reading, cells)]


def is_ours(cells: Cells) -> bool:
    """Whether a table is a plain file of ours, for which nothing need be agreed."""
    if printed_reading(cells.heading) is not None:
        return True
    form = own_form(cells)
    return form is not None and not _written_otherwise(cells, form)


def own_codes(cells: Cells) -> tuple[str, ...]:
    """The plots' codes in records of a table with our headings."""
    form = own_form(cells)
    if form is None or form.sheet not in VALUE:
        return ()
    named = zip(cells.heading, cells.columns, strict=True)
    return next((column.used() for name, column in named if plain_heading(name) == "plot"), ())


def _has_other_plots(cells: Cells, plots: KnownPlots) -> bool:
    """Whether codes are written in another way, or totals stand in place of a plot."""
    codes = own_codes(cells)
    totals = (text for text in codes if is_total(text) and text.strip() not in plots.codes)
    return any(totals) or bool(plots.otherwise(codes))


def guess_for(cells: Cells, agreed: Agreed, plots: KnownPlots) -> Guess | None:
    """How a table would be read that is not one of ours; None where it is, or is of no kind."""
    form = own_form(cells)
    printed = _printed(cells, agreed, plots)
    if printed is not None:
        return printed if printed.questions and agreed.asks else None
    if form is not None and not agreed.asks:
        return None
    if is_ours(cells) and not cells.marks and not _has_other_plots(cells, plots):
        return None
    if cells.file in agreed.tables:
        return _agreed_before(agreed.tables[cells.file], cells, agreed, plots)
    known_by = signature(cells.heading)
    if agreed.given is not None and (form is None or _speaks_of(agreed.given, cells)):
        return _agreed_before(agreed.given, cells, agreed, plots)
    if known_by in agreed.kept:
        kept = reading_of(agreed.kept[known_by], "the reading kept for these headings")
        return _agreed_before(kept, cells, agreed, plots)
    if form is not None:
        found = guess_as(cells, form.sheet, plots)
    else:
        found = _nearly_ours(cells, plots) if fits_well(cells) else guess(cells, plots)
    return None if found is None else with_answers(found, agreed.answers)


def _nearly_ours(cells: Cells, plots: KnownPlots) -> Guess | None:
    """A table that lacks columns of ours that may be empty, or has others in their place.

    None where a heading is a slip, or a column is lacking that nothing can stand for.
    """
    form = nearest_form(cells)
    found = guess_as(cells, form.sheet, plots)
    if found is None:
        return None
    read = {column.heading: column for column in found.reading.columns}
    for name in distinct(cells.heading):
        known = plain_heading(name) in form.names or plain_heading(name) in _REMARKS
        if not known and (name not in read or read[name].field is None):
            return None
    had = {column.field for column in read.values()} | dict(found.reading.always).keys()
    lacking = [column for column in form.columns if column.name not in had]
    return found if not any(column.need is Need.FILLED for column in lacking) else None


def _agreed_before(reading: Reading, cells: Cells, agreed: Agreed, plots: KnownPlots) -> Guess:
    """A reading that holds, unless this table raises a question that was not asked then."""
    reading = by_title(_answered(reading, cells, agreed, plots), cells, plots)
    reading = with_grades(of_its_trial(reading, cells, plots), cells, plots)
    left = questions(reading, cells, (), plots) if _speaks_of(reading, cells) else ()
    return Guess(cells, reading, left, (reading.sheet,), agreed=True, plots=plots)


def with_answers(found: Guess, answers: Mapping[str, str]) -> Guess:
    """The guess with those of its questions answered that an answer is given to."""
    kind = next((kind for kind in Sheet if kind.value == answers.get("sheet")), None)
    if kind is not None and (kind is not found.reading.sheet or len(found.sheets) > 1):
        found = guess_as(found.cells, kind, found.plots) or found
    return _asked_again(
        found, _answered(found.reading, found.cells, Agreed(answers=answers), found.plots)
    )


def taken_as(found: Guess, heading: str, field: str | None, unit: Unit | None = None) -> Guess:
    """The guess with one column taken for another of ours, or left out."""
    there = [column for column in found.reading.columns if column.heading != heading]
    column = ReadColumn(heading, field, unit)
    return _asked_again(found, replace(found.reading, columns=(*there, column)))


def kinds_of_sheet() -> tuple[Sheet, ...]:
    """The kinds of records a sheet may hold."""
    return tuple(Sheet)


def fields_of(found: Guess) -> tuple[str, ...]:
    """The columns of ours that a column of somebody's may be, and the labels that tell plots."""
    names = FORMS[found.reading.sheet].names
    labels = found.plots.names if found.reading.sheet in VALUE else ()
    return (*names, *(BY + label for label in labels))


def agreed_on(found: Sequence[Guess], accept: str | None = None) -> Agreed:
    """What it means to agree to these guesses, none of which leaves a question open."""
    tables = {guess.cells.file: guess.reading for guess in found}
    kept = {signature(guess.cells.heading): reading_text(lasting(guess.reading)) for guess in found}
    return Agreed(kept=kept, tables=tables, accept=accept)


def _asked_again(found: Guess, reading: Reading) -> Guess:
    reading = of_its_trial(reading, found.cells, found.plots)
    reading = with_grades(reading, found.cells, found.plots)
    sheets = found.sheets if len(found.sheets) > 1 else ()
    left = questions(reading, found.cells, sheets, found.plots)
    return replace(found, reading=reading, questions=left)


def _answered(reading: Reading, cells: Cells, agreed: Agreed, plots: KnownPlots) -> Reading:
    """The reading with the answers there are; an answer may raise another question."""
    done: set[str] = set()
    while True:
        asked = [question.key for question in questions(reading, cells, (), plots)]
        now = [key for key in asked if key in agreed.answers and key not in done]
        if not now:
            return reading
        for key in now:
            reading = answered(reading, key, agreed.answers[key])
        done.update(now)


def _speaks_of(reading: Reading, cells: Cells) -> bool:
    there = {plain_heading(name) for name in distinct(cells.heading)}
    return all(
        plain_heading(column.heading) in there
        for column in reading.columns
        if column.field is not None
    )


def _is_no_cell_of_ours(kind: Kind) -> Callable[[str], bool]:
    """What finds ditto marks among names and days, and lengths with a unit."""
    if kind in (Kind.NAME, Kind.DATE):
        return is_ditto
    return lambda text: kind is Kind.NUMBER and split_unit(text)[1] in LENGTHS


def _written_otherwise(cells: Cells, form: Form) -> bool:
    """Whether a table with our headings has cells that are not written as ours are.

    Other dates than ours all down, decimal commas, or numbers said in another way.
    """
    for name, column in zip(cells.heading, cells.columns, strict=True):
        kind = form.column(plain_heading(name)).kind
        if form.sheet in VALUE and any(map(_is_no_cell_of_ours(kind), column.used())):
            return True
        counted = form.sheet in VALUE and kind in (Kind.NUMBER, Kind.WHOLE)
        if counted and any(map(says_a_number, column.used())):
            return True
        texts = [text.strip() for text in column.texts if text.strip()]
        if kind is Kind.DATE and texts and not any(text[:4].isdigit() for text in texts):
            if all(readings_of(text, 2024) is not None for text in texts):
                return True
        elif kind is Kind.NUMBER and cells.separator != ",":
            marks = [marks_of(text) for text in texts]
            if any(its == {DecimalMark.COMMA} for its in marks) and all(
                DecimalMark.COMMA in its for its in marks
            ):
                return True
    return False


def as_understood(found: Guess) -> Cells | None:
    """The first rows of a guess in our own headings; what is open in them stays as it stands."""
    read = apply(found.reading, found.cells.top(SHOWN_ROWS), Faults(), found.plots)
    return None if read is None else read.top(SHOWN_ROWS)
