"""What a text of one column means in our own words, by the reading of its table."""

from __future__ import annotations

from collections.abc import Callable

from trials.model.rows import Sheet
from trials.records.mapping.grades import grade_in_cm
from trials.records.mapping.noted import NOT_RECORDED, PLOTS, SECOND_CULLED, noted, plain_text
from trials.records.mapping.numbers import digits, length, number, split_unit
from trials.records.mapping.plot_labels import KnownPlots, label_of
from trials.records.mapping.reading import (
    NOTHING,
    DateOrder,
    DecimalMark,
    Reading,
    Unit,
    own_unit,
)
from trials.records.rules.days import readings_of, serial_day
from trials.records.rules.forms import FORMS, Kind


def meant_by(
    field: str, reading: Reading, unit: Unit | None, plots: KnownPlots
) -> Callable[[str], str]:
    """How a text of one column is put into our own words."""
    column = FORMS[reading.sheet].column(field)
    mark = reading.decimal or DecimalMark.POINT
    own = own_unit(field)
    if field == "plot":
        agreed = dict(reading.cells).get(PLOTS)
        return lambda text: plots.code(text, agreed)
    if label_of(field) is not None:
        called = dict(reading.called)
        return lambda text: called.get(text.strip(), text.strip())
    if column.kind is Kind.DATE:
        return lambda text: _day(text, reading)
    if field == "grade_cm":
        return lambda text: _or_as_it_is(
            text, grade_in_cm(_last_word(text), mark, unit, reading.grades)
        )
    if field == "stem":
        return lambda text: "".join(c for c in text if c.isdigit()) or text.strip()
    if own is not None:
        return lambda text: _length(text, reading, mark, unit, own)
    if column.kind in (Kind.WHOLE, Kind.NUMBER):
        return lambda text: _number(text, reading, mark)
    return str.strip


def _number(text: str, reading: Reading, mark: DecimalMark) -> str:
    """A number in our digits, by what was agreed about cells that say one in another way."""
    value = number(plain_text(text), mark)
    if value is not None:
        return digits(value)
    found = noted(text)
    answer = None if found is None else dict(reading.cells).get(found.kind)
    if found is None or answer is None:
        return text.strip()
    if answer == NOT_RECORDED:
        return NOTHING
    if answer == SECOND_CULLED and reading.sheet is Sheet.CUTS:
        return text.strip()  # until the culls have a row of their own
    value = found.value(answer)
    return text.strip() if value is None else digits(value)


def _length(text: str, reading: Reading, mark: DecimalMark, unit: Unit | None, own: Unit) -> str:
    meant = length(plain_text(text), mark, unit, own)
    if meant is not None:
        return meant
    bare, written = split_unit(plain_text(text))
    said = _number(bare, reading, mark)
    if said == NOTHING:
        return NOTHING
    return _or_as_it_is(text, length(said, mark, written or unit, own))


def _last_word(text: str) -> str:
    """A grade without the word 'grade' before it."""
    first, _, rest = text.strip().partition(" ")
    return rest if first.casefold() in {"grade", "length"} and rest else text


def _or_as_it_is(text: str, meant: str | None) -> str:
    return text.strip() if meant is None else meant


def _day(text: str, reading: Reading) -> str:
    both = readings_of(text, reading.year)
    if both is None:
        serial = serial_day(text)
        return text.strip() if serial is None else serial.isoformat()
    day = both[1] if reading.dates is DateOrder.MONTH else both[0]
    if reading.dates is None and both[0] != both[1]:
        day = None  # never assumed: the judge of days asks
    return text.strip() if day is None else day.isoformat()
