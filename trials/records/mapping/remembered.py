"""Writes an agreed reading as a small TOML file, and reads one back with every fault named."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import Any, TypeVar

from trials.errors import Fault, FileRefused, RecordsRefused
from trials.model.rows import Sheet
from trials.records.faults import hint, shown
from trials.records.mapping.marks import ONCE
from trials.records.mapping.noted import KINDS
from trials.records.mapping.plot_labels import label_of
from trials.records.mapping.reading import (
    Blank,
    DateOrder,
    DecimalMark,
    Meaning,
    Question,
    ReadColumn,
    Reading,
    Spread,
    Unit,
)
from trials.records.plan.toml_text import quoted
from trials.records.rules.forms import FORMS

LEFT_OUT = "left out"
OPEN = "?"
_KEYS = (
    *("sheet", "trial", "dates", "year", "decimal", "blank", "no_records"),
    *("marks", "cells", "once", "called", "always", "wide", "columns"),
)
_COLUMN_KEYS = ("is", "unit", "sets", "to", "blank")
_WIDE_KEYS = ("headings", "cells", "unit", "below")
Word = TypeVar("Word", bound=StrEnum)


def reading_text(reading: Reading, questions: tuple[Question, ...] = ()) -> str:
    """The reading as TOML; an open question stands as ``"?"`` with its answers beside it."""
    open_ones = {question.key: question for question in questions}
    lines = [
        '# How to read this kind of sheet. Change what is not right, answer each "?", and load',
        "# with: tallybed load FILE --reading THIS_FILE",
        _line("sheet", reading.sheet.value, open_ones),
        f"#   one of: {', '.join(Sheet)}",
        *_trial_lines(reading, open_ones),
        _line("dates", reading.dates, open_ones),
        _line("year", reading.year, open_ones),
        _line("decimal", reading.decimal, open_ones),
        _line("blank", reading.blank, open_ones),
    ]
    if reading.no_records:
        lines.append(f"no_records = {_list(reading.no_records)}")
    marks = dict(reading.marks) | {
        key.removeprefix("mark "): OPEN for key in open_ones if key.startswith("mark ")
    }
    if marks:
        lines += ["", "[marks]  # what stands instead of a count: " + ", ".join(Meaning)]
        lines += [f"{quoted(mark)} = {quoted(str(meaning))}" for mark, meaning in marks.items()]
    for part, says, keys, given in (
        ("cells", "cells with a number written in another way", KINDS, reading.cells),
        ("once", "what this table itself marks; not remembered", tuple(ONCE), reading.once),
    ):
        lines += _answer_lines(f"[{part}]  # {says}", keys, dict(given), open_ones)
    called = dict(reading.called) | {
        key.removeprefix("name "): OPEN for key in open_ones if key.startswith("name ")
    }
    if called:
        lines += ["", "[called]  # shortened names, and what each stands for"]
        lines += [f"{quoted(short)} = {quoted(name)}" for short, name in called.items()]
    form = FORMS[reading.sheet]
    told = dict(reading.always) | {name: OPEN for name in form.names if name in open_ones}
    if told:
        lines += ["", "[always]  # true for every row, but in no column"]
        for name, says in told.items():
            asked = f"  # {open_ones[name].words}" if name in open_ones else ""
            lines.append(f"{name} = {quoted(says)}{asked}")
    if reading.spread is not None:
        spread = reading.spread
        lines += ["", "[wide]  # every heading not listed below"]
        lines += [f"headings = {quoted(spread.headings)}", f"cells = {quoted(spread.cells)}"]
        if spread.below is not None:
            lines.append(f"below = {quoted(spread.below)}")
        lines.append(_line("unit", spread.unit, open_ones))
    lines += ["", f"[columns]  # {form.sheet.value}: {', '.join(form.names)}; or {LEFT_OUT!r}"]
    lines += [_column_line(column, open_ones) for column in reading.columns]
    return "\n".join(lines) + "\n"


def _answer_lines(
    head: str, keys: tuple[str, ...], given: Mapping[str, str], open_ones: Mapping[str, Question]
) -> list[str]:
    """A part of the file that has answers by the names of their questions."""
    lines = [f"{quoted(key)} = {quoted(answer)}" for key, answer in given.items()]
    for key in keys:
        if key in open_ones:
            answers = ", ".join(open_ones[key].answers)
            lines.append(f"{quoted(key)} = {quoted(OPEN)}  # {open_ones[key].words} {answers}")
    return ["", head, *lines] if lines else []


def _trial_lines(reading: Reading, open_ones: Mapping[str, Question]) -> list[str]:
    asked = open_ones.get("of trial")
    if asked is not None:
        answers = ", ".join(asked.answers)
        return [f"trial = {quoted(OPEN)}  # {asked.words} Answer: {answers}."]
    return [] if reading.trial is None else [f"trial = {quoted(reading.trial)}"]


def _line(key: str, value: object, open_ones: Mapping[str, Question]) -> str:
    question = open_ones.get(key)
    if question is not None:
        answers = f" Answer: {', '.join(question.answers)}." if question.answers else ""
        return f"{key} = {quoted(OPEN)}  # {question.words}{answers}"
    if value is None:
        return f"# {key} is not needed"
    return f"{key} = {value if isinstance(value, int) else quoted(str(value))}"


def _column_line(column: ReadColumn, open_ones: Mapping[str, Question]) -> str:
    parts = [f"is = {quoted(column.field or LEFT_OUT)}"]
    asked = open_ones.get(f"unit of {column.heading}")
    if asked is not None:
        parts.append(f"unit = {quoted(OPEN)}")
    elif column.unit is not None:
        parts.append(f"unit = {quoted(column.unit)}")
    if column.sets is not None:
        parts += [f"sets = {quoted(column.sets[0])}", f"to = {quoted(column.sets[1])}"]
    gap = open_ones.get(f"blank {column.heading}")
    if gap is not None or column.blank is not None:
        parts.append(f"blank = {quoted(OPEN if column.blank is None else column.blank)}")
    if gap is not None and asked is None:
        return f"{quoted(column.heading)} = {{{', '.join(parts)}}}  # {gap.words} " + ", ".join(
            gap.answers
        )
    words = "" if asked is None else f"  # {asked.words} {', '.join(asked.answers)}"
    return f"{quoted(column.heading)} = {{{', '.join(parts)}}}{words}"


def _list(texts: tuple[str, ...]) -> str:
    return "[" + ", ".join(map(quoted, texts)) + "]"


def read_reading(path: Path) -> Reading:
    """The reading in a file.

    Raises
    ------
    FileRefused
        The file cannot be read, or is not TOML.
    RecordsRefused
        It says what no reading can; every fault is listed.
    """
    try:
        if path.stat().st_size > 1_000_000:
            raise FileRefused(f"{path}: this is too large to be a reading. Name the right file.")
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError, ValueError) as problem:
        reason = getattr(problem, "strerror", None) or "it is not UTF-8 text"
        raise FileRefused(f"{path}: {reason}. Check the name and the file.") from None
    return reading_of(text, path.name)


def reading_of(text: str, file: str) -> Reading:
    """The reading that a TOML text says; see ``read_reading``."""
    try:
        said = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as problem:
        raise FileRefused(
            f"{file}: this is not valid TOML ({problem}). Correct that line."
        ) from None
    reader = _Reader(file)
    reading = reader.reading(said)
    if reader.faults:
        raise RecordsRefused(reader.faults)
    return reading


class _Reader:
    """Turns what TOML says into a reading, and notes each fault under its key."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.faults: list[Fault] = []

    def fault(self, key: str, problem: str, remedy: str) -> None:
        self.faults.append(Fault(self.file, None, key, problem, remedy, "key"))

    def reading(self, said: Mapping[str, Any]) -> Reading:
        self.known(said, _KEYS, "")
        sheet = self.word(said, "sheet", Sheet) or Sheet.CUTS
        names = FORMS[sheet].names
        wide = self.table(said, "wide")
        self.known(wide, _WIDE_KEYS, "wide.")
        spread = None
        if wide:
            headings, cells = self.text(wide, "headings", "wide"), self.text(wide, "cells", "wide")
            for key, name in (("wide.headings", headings), ("wide.cells", cells)):
                self.named(key, name, names)
            below = self.text(wide, "below", "wide") if "below" in wide else None
            if below is not None:
                self.named("wide.below", below, names)
            spread = Spread(headings, cells, self.word(wide, "unit", Unit, "wide."), below)
        columns = self.table(said, "columns")
        always = self.table(said, "always")
        for key in always:
            self.named(f"always.{key}", key, names)
        year = said.get("year")
        if year is not None and (type(year) is not int or not 1950 <= year <= 2199):
            self.fault("year", f"{shown(str(year))} is not a year.", "Write it as 2026, no quotes.")
            year = None
        marks = self.table(said, "marks")
        totals = said.get("no_records", [])
        if not (isinstance(totals, list) and all(isinstance(word, str) for word in totals)):
            self.fault("no_records", "This is not a list of words.", 'Write it as ["total"].')
            totals = []
        return Reading(
            sheet,
            tuple(self.column(name, entry, sheet) for name, entry in columns.items()),
            spread,
            tuple((key, self.text(always, key, "always")) for key in always),
            self.word(said, "dates", DateOrder),
            year,
            self.word(said, "decimal", DecimalMark),
            self.word(said, "blank", Meaning),
            tuple(
                (mark, meaning)
                for mark in marks
                if (meaning := self.word(marks, mark, Meaning, "marks.")) is not None
            ),
            tuple(word.casefold() for word in totals),
            self.text(said, "trial", "reading") or None if "trial" in said else None,
            self.answers(said, "cells", KINDS),
            self.answers(said, "once", tuple(ONCE)),
            called=tuple(
                (name, self.text(self.table(said, "called"), name, "called"))
                for name in self.table(said, "called")
            ),
        )

    def answers(
        self, said: Mapping[str, Any], part: str, keys: tuple[str, ...]
    ) -> tuple[tuple[str, str], ...]:
        given = self.table(said, part)
        self.known(given, keys, f"{part}.")
        return tuple((key, self.text(given, key, part)) for key in given)

    def column(self, heading: str, entry: object, sheet: Sheet) -> ReadColumn:
        key = f"columns.{heading}"
        if not isinstance(entry, dict):
            self.fault(key, "This is not a column.", 'Write it as {is = "plot"}.')
            return ReadColumn(heading, None)
        self.known(entry, _COLUMN_KEYS, f"{key}.")
        field = self.text(entry, "is", key)
        if field == LEFT_OUT:
            return ReadColumn(heading, None)
        form = FORMS[sheet]
        if not form.factor_columns:
            self.named(f"{key}.is", field, form.names)
        unit = self.word(entry, "unit", Unit, f"{key}.")
        blank = self.word(entry, "blank", Blank, f"{key}.")
        column = ReadColumn(heading, field, unit, blank=blank)
        if "sets" not in entry:
            return column
        sets = self.text(entry, "sets", key)
        self.named(f"{key}.sets", sets, form.names)
        return replace(column, sets=(sets, self.text(entry, "to", key)))

    def known(self, said: Mapping[str, Any], keys: tuple[str, ...], at: str) -> None:
        for key in said:
            if key not in keys:
                remedy = hint(key, keys, f"There are: {', '.join(keys)}.")
                self.fault(f"{at}{key}", "A reading has no such key.", remedy)

    def named(self, key: str, name: str, names: tuple[str, ...]) -> None:
        if name not in names and not (label_of(name) and "plot" in names):
            remedy = hint(name, names, f"There are: {', '.join(names)}.")
            self.fault(key, f"{shown(name)} is not a column of these records.", remedy)

    def table(self, said: Mapping[str, Any], key: str) -> dict[str, Any]:
        found = said.get(key, {})
        if isinstance(found, dict):
            return found
        self.fault(key, "This is not a separate part.", f"Write it under [{key}].")
        return {}

    def text(self, said: Mapping[str, Any], key: str, at: str) -> str:
        found = said.get(key)
        if isinstance(found, str) and found.strip() and found != OPEN:
            return found.strip()
        problem = "This is not answered yet." if found == OPEN else "This must be text."
        self.fault(f"{at}.{key}", problem, "Write it in quotes.")
        return ""

    def word(
        self, said: Mapping[str, Any], key: str, kind: type[Word], at: str = ""
    ) -> Word | None:
        found = said.get(key)
        if found is None:
            return None
        try:
            return kind(found)
        except ValueError:
            words = ", ".join(kind)
            problem = (
                "This is not answered yet."
                if found == OPEN
                else f"{shown(str(found))} is not an answer here."
            )
            self.fault(f"{at}{key}", problem, f"Write one of: {words}.")
            return None
