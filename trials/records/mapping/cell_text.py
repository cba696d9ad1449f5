"""Questions about cells that say a number in another way, such as sums, ranges and tallies."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from trials.model.rows import Sheet
from trials.records.encoded_column import Cells
from trials.records.faults import shown
from trials.records.mapping.noted import (
    BUNCHES,
    DAYS,
    NOT_RECORDED,
    PLANTS,
    SAYS,
    SECOND_CULLED,
    STEMS,
    TALLIES,
    UNDERSTOOD,
    WORDS,
    Noted,
    noted,
    said_under,
)
from trials.records.mapping.numbers import digits, is_either, marks_of, number, split_unit
from trials.records.mapping.reading import (
    VALUE,
    DecimalMark,
    Question,
    Reading,
    distinct,
    own_unit,
)
from trials.records.rules.forms import FORMS, Kind

# Of the sheets whose cells count one thing, a number behind which that thing is named.
_NAMED: dict[str, str] = {"stems": STEMS, "living": PLANTS}


def is_a_number(text: str) -> bool:
    """Whether a text says a number in another way."""
    return noted(text) is not None


def says_a_number(text: str) -> bool:
    """Whether a text of our own files is no number as it stands, but says one in another way."""
    if marks_of(text) or is_either(text):
        return False
    found = noted(text)
    return found is not None and found.kind not in (WORDS, DAYS)


def noted_in(reading: Reading, cells: Cells) -> Iterator[tuple[str, str, Noted, bool]]:
    """The heading, text and readings of each such cell, and whether it must be a whole number."""
    form = FORMS[reading.sheet]
    for name, column in zip(distinct(cells.heading), cells.columns, strict=True):
        read = reading.column(name)
        spread = reading.spread.cells if read is None and reading.spread is not None else None
        field = spread if read is None else read.field
        if field is None or field in ("grade_cm", "stem"):
            continue
        kind = form.column(field).kind
        if kind not in (Kind.WHOLE, Kind.NUMBER):
            continue
        marks = {mark for mark, _ in reading.marks}
        for text in column.used():
            if text.strip() in marks or not text.strip():
                continue
            bare = split_unit(text)[0] if own_unit(field) is not None else said_under(name, text)
            if not _is_plain(bare) and (found := noted(bare)) is not None:
                yield name, text.strip(), found, kind is Kind.WHOLE


def _is_plain(text: str) -> bool:
    """Whether a text is a number as it stands, with one decimal mark or the other."""
    return (
        bool(marks_of(text))
        or is_either(text)
        or number(text, DecimalMark.POINT) is not None
        or number(text, DecimalMark.COMMA) is not None
    )


def understood(reading: Reading, cells: Cells) -> tuple[tuple[str, str], ...]:
    """The kinds of such cells that can mean one number alone, and the answer that says so."""
    named = _NAMED.get(VALUE.get(reading.sheet, ""))
    found: dict[str, str] = {}
    for _, _, one, _ in noted_in(reading, cells):
        if one.kind in UNDERSTOOD or one.kind == named:
            found[one.kind] = next(iter(one.readings))
    return tuple(found.items())


def about_cells(reading: Reading, cells: Cells) -> list[Question]:
    """A question for each kind of such cells that is not agreed on, with its possible readings."""
    known = {kind for kind, _ in reading.cells}
    kinds: dict[str, list[tuple[str, str, Noted, bool]]] = {}
    for one in noted_in(reading, cells):
        if one[2].kind not in known:
            kinds.setdefault(one[2].kind, []).append(one)
    return [_asked(kind, found, reading.sheet) for kind, found in kinds.items()]


def _asked(kind: str, found: list[tuple[str, str, Noted, bool]], sheet: Sheet) -> Question:
    heading, text, one, _ = found[0]
    at = f"{shown(text)} under {shown(heading)}"
    if kind == BUNCHES:
        return Question(kind, f"{at}: how many stems are in a bunch?", ())
    answers = [
        answer
        for answer in dict.fromkeys(answer for _, _, each, _ in found for answer in each.readings)
        if (answer != SECOND_CULLED or sheet is Sheet.CUTS)
        and all(
            answer not in each.readings or _fits(each.readings[answer], whole)
            for _, _, each, whole in found
        )
    ]
    if kind == TALLIES and all(len(set(one.readings.values())) == 1 for _, _, one, _ in found):
        answers = answers[:1]
    heading, text, one, _ = max(found, key=lambda each: len(set(each[2].readings.values())))
    at = f"{shown(text)} under {shown(heading)}"
    may_be = " or ".join(
        f"{digits(one.readings[answer])} ({answer})" for answer in answers if answer in one.readings
    )
    more = _more(len(found) - 1)
    words = f"{at} is {SAYS[kind]}{more}. Does it mean {may_be or NOT_RECORDED}?"
    return Question(kind, words, (*answers, NOT_RECORDED))


def _fits(value: Decimal, whole: bool) -> bool:
    return not whole or value == value.to_integral_value()


def _more(others: int) -> str:
    """How many other cells are alike, behind what is said of one."""
    if not others:
        return ""
    return f", as {'is' if others == 1 else 'are'} {others} more"
