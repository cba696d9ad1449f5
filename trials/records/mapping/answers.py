"""Answers to questions about somebody's own sheet, put into its reading."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from enum import StrEnum
from typing import TypeVar

from trials.errors import TallybedError, UnknownName
from trials.records.faults import shown
from trials.records.mapping.marks import ONCE
from trials.records.mapping.noted import BUNCHES, KINDS, PLOTS
from trials.records.mapping.reading import (
    VALUE,
    Blank,
    DateOrder,
    DecimalMark,
    Meaning,
    ReadColumn,
    Reading,
    Unit,
)
from trials.records.rules.forms import FORMS

Word = TypeVar("Word", bound=StrEnum)
# Puts an answer into a reading: the reading, what the key says behind its first word, the answer.
_Put = Callable[[Reading, str, str], Reading]


def answered(reading: Reading, key: str, answer: str) -> Reading:
    """The reading with one question answered.

    Raises
    ------
    TallybedError
        The answer is none of those there are.
    """
    text = answer.strip()
    if key in _PUT:
        return _PUT[key](reading, key, text)
    if key == PLOTS:
        return replace(reading, cells=(*_but(reading, key), (key, text)))
    if key in KINDS:
        return replace(reading, cells=(*reading.cells, (key, _size(text, key))))
    if key in ONCE:
        _one_of(text, key, ONCE[key])
        return replace(reading, once=(*reading.once, (key, text.casefold())))
    for beginning, put in _PUT_BEHIND.items():
        if key.startswith(beginning):
            return put(reading, key.removeprefix(beginning), text)
    if key in FORMS[reading.sheet].names:
        return replace(reading, always=(*reading.always, (key, text)))
    raise UnknownName("question", key, ("dates", "decimal", "blank", "year", "unit"))


def _but(reading: Reading, key: str) -> tuple[tuple[str, str], ...]:
    return tuple(one for one in reading.cells if one[0] != key)


def _word(text: str, key: str, kind: type[Word]) -> Word:
    plain = text.casefold().replace("-", " ").replace("_", " ")
    _one_of(plain, key, tuple(kind), text)
    return kind(plain)


def _one_of(plain: str, key: str, answers: tuple[str, ...], written: str | None = None) -> None:
    if plain.casefold() not in [str(answer) for answer in answers]:
        raise TallybedError(
            f"{shown(written or plain)} is not an answer to {shown(key)}. "
            f"Answer one of: {', '.join(answers)}."
        )


def _size(text: str, key: str) -> str:
    """An answer about cells; of bunches it is how many stems there are in one."""
    if key == BUNCHES and not (text.isascii() and text.isdigit()) and text != "not recorded":
        raise TallybedError(f"{shown(text)} is not a number of stems in a bunch. Write it as 10.")
    return text.casefold()


def _year(reading: Reading, key: str, text: str) -> Reading:
    if not (text.isdecimal() and 1950 <= int(text) <= 2199):
        raise TallybedError(f"{shown(text)} is not a year. Write it as 2026.")
    return replace(reading, year=int(text))


def _unit_of_spread(reading: Reading, key: str, text: str) -> Reading:
    if reading.spread is None:
        raise UnknownName("question", key, ("dates", "decimal", "blank", "year"))
    return replace(reading, spread=replace(reading.spread, unit=_word(text, key, Unit)))


def _column(reading: Reading, heading: str, change: Callable[[ReadColumn], ReadColumn]) -> Reading:
    columns = tuple(change(c) if c.heading == heading else c for c in reading.columns)
    return replace(reading, columns=columns)


def _unit(reading: Reading, heading: str, text: str) -> Reading:
    unit = _word(text, f"unit of {heading}", Unit)
    return _column(reading, heading, lambda column: replace(column, unit=unit))


def _blank(reading: Reading, heading: str, text: str) -> Reading:
    blank = _word(text, f"blank {heading}", Blank)
    return _column(reading, heading, lambda column: replace(column, blank=blank))


def _mark(reading: Reading, mark: str, text: str) -> Reading:
    meaning = _word(text, f"mark {mark}", Meaning)
    return replace(reading, marks=(*reading.marks, (mark, meaning)))


def _counts(reading: Reading, heading: str, text: str) -> Reading:
    """What a column of counts is: stems, a length grade in cm, or why they were culled."""
    stems = VALUE[reading.sheet]
    plain = " ".join(text.split())
    if plain.casefold() == "left out":
        read = ReadColumn(heading, None)
    elif plain.casefold() == "stems":
        read = ReadColumn(heading, stems)
    elif plain.isascii() and plain.isdigit():
        read = ReadColumn(heading, stems, sets=("grade_cm", plain))
    else:
        read = ReadColumn(heading, stems, sets=("cull_reason", plain))
    return _column(reading, heading, lambda _: read)


_PUT: Mapping[str, _Put] = {
    "dates": lambda reading, key, text: replace(reading, dates=_word(text, key, DateOrder)),
    "decimal": lambda reading, key, text: replace(reading, decimal=_word(text, key, DecimalMark)),
    "blank": lambda reading, key, text: replace(reading, blank=_word(text, key, Meaning)),
    "year": _year,
    "of trial": lambda reading, key, text: replace(reading, trial=text),
    "unit": _unit_of_spread,
}
_PUT_BEHIND: Mapping[str, _Put] = {
    "unit of ": _unit,
    "blank ": _blank,
    "mark ": _mark,
    "column ": _counts,
    "name ": lambda reading, name, text: replace(reading, called=(*reading.called, (name, text))),
}
