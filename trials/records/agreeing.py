"""Finds how each table is read: as one of ours, by a reading agreed before, or by asking."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from trials.batch import AgreedReading, Sheet
from trials.records.factors import plain_heading
from trials.records.faults import Faults
from trials.records.headings import fits_well, own_form
from trials.records.plot_labels import BY, KnownPlots
from trials.records.reading import (
    VALUE,
    DecimalMark,
    ReadColumn,
    Reading,
    Unit,
    distinct,
    signature,
)
from trials.records.reading_apply import apply
from trials.records.reading_days import readings_of
from trials.records.reading_file import reading_of, reading_text
from trials.records.reading_guess import Guess, guess, guess_as
from trials.records.reading_numbers import marks_of
from trials.records.reading_plots import of_its_trial
from trials.records.reading_questions import answered, questions
from trials.records.reading_title import by_title, lasting
from trials.records.sheets import FORMS, Form, Kind
from trials.records.spellings import Cells

SHOWN_ROWS = 10


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
    """

    kept: Mapping[str, str] = field(default_factory=dict)
    tables: Mapping[str, Reading] = field(default_factory=dict)
    given: Reading | None = None
    guesses: bool = False
    answers: Mapping[str, str] = field(default_factory=dict)
    accept: str | None = None


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
    found = guess_for(cells, agreed, plots)
    if found is None:  # one of ours, or of no kind: the judge of headings says what is wrong
        return Understood(cells)
    if found.questions or not (found.agreed or agreed.guesses or agreed.answers):
        return Understood(None, asked=found)
    kept = AgreedReading(signature(cells.heading), reading_text(lasting(found.reading)))
    return Understood(apply(found.reading, cells, faults, plots), kept, read_by=found.reading)


def is_ours(cells: Cells) -> bool:
    """Whether a table is a plain file of ours, for which nothing need be agreed."""
    form = own_form(cells)
    return form is not None and not _written_otherwise(cells, form)


def guess_for(cells: Cells, agreed: Agreed, plots: KnownPlots) -> Guess | None:
    """How a table would be read that is not one of ours; None where it is, or is of no kind."""
    if is_ours(cells):
        return None
    form = own_form(cells)
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
        found = None if fits_well(cells) else guess(cells, plots)
    return None if found is None else with_answers(found, agreed.answers)


def _agreed_before(reading: Reading, cells: Cells, agreed: Agreed, plots: KnownPlots) -> Guess:
    """A reading that holds, unless this table raises a question that was not asked then."""
    reading = by_title(_answered(reading, cells, agreed, plots), cells, plots)
    reading = of_its_trial(reading, cells, plots)
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
    sheets = found.sheets if len(found.sheets) > 1 else ()
    left = questions(reading, found.cells, sheets, found.plots)
    return replace(found, reading=reading, questions=left)


def _answered(reading: Reading, cells: Cells, agreed: Agreed, plots: KnownPlots) -> Reading:
    for question in questions(reading, cells, (), plots):
        if question.key in agreed.answers:
            reading = answered(reading, question.key, agreed.answers[question.key])
    return reading


def _speaks_of(reading: Reading, cells: Cells) -> bool:
    there = {plain_heading(name) for name in distinct(cells.heading)}
    return all(
        plain_heading(column.heading) in there
        for column in reading.columns
        if column.field is not None
    )


def _written_otherwise(cells: Cells, form: Form) -> bool:
    """Whether a table with our headings has other dates than ours all down, or decimal commas."""
    for name, column in zip(cells.heading, cells.columns, strict=True):
        kind = form.column(plain_heading(name)).kind
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
