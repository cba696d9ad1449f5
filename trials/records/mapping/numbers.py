"""Reads numbers and lengths as people write them, exactly, into the digits our own sheets hold."""

from __future__ import annotations

import re
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation

from trials.records.mapping.reading import AREAS, IN_CM, DecimalMark, Unit

_PLAIN = re.compile(r"[+-]?\d+", re.ASCII)
_EITHER = re.compile(r"[+-]?\d{1,3}[.,]\d{3}", re.ASCII)  # 1,234: a thousand, or a fraction
_COMMA = re.compile(r"[+-]?\d{1,3}(?:[. \u00a0\u202f']\d{3})*,\d+|[+-]?\d+,\d+", re.ASCII)
_POINT = re.compile(r"[+-]?\d{1,3}(?:[, \u00a0\u202f']\d{3})*\.\d+|[+-]?\d*\.\d+", re.ASCII)
_THOUSANDS = re.compile(r"[+-]?\d{1,3}(?:[ \u00a0\u202f']\d{3})+", re.ASCII)
_GROUPED: dict[DecimalMark, re.Pattern[str]] = {
    DecimalMark.POINT: re.compile(r"[+-]?\d{1,3}(?:,\d{3})+", re.ASCII),
    DecimalMark.COMMA: re.compile(r"[+-]?\d{1,3}(?:\.\d{3})+", re.ASCII),
}
_BETWEEN = re.compile("[ \u00a0\u202f']")
_FRACTIONS = {"¼": ".25", "½": ".5", "¾": ".75"}
_EIGHTHS = re.compile(r"(\d+)[ -](\d)/(2|4|8)", re.ASCII)
_FEET_AND_INCHES = re.compile(r"(\d{1,3})\s*(?:'|′|ft\.?)\s*(\d[^\"″”']*?)\s*(?:\"|″|”|''|in\.?)")
_UNITS: dict[str, Unit] = {
    "cm": Unit.CM,
    "mm": Unit.MM,
    "in": Unit.IN,
    "in.": Unit.IN,
    "inch": Unit.IN,
    "inches": Unit.IN,
    '"': Unit.IN,
    "''": Unit.IN,
    "”": Unit.IN,
    "″": Unit.IN,
    "m2": Unit.SQ_M,
    "m²": Unit.SQ_M,
    "sqm": Unit.SQ_M,
    "sq m": Unit.SQ_M,
    "ft2": Unit.SQ_FT,
    "ft²": Unit.SQ_FT,
    "sqft": Unit.SQ_FT,
    "sq ft": Unit.SQ_FT,
    "square feet": Unit.SQ_FT,
    "m": Unit.M,
    "ft": Unit.FT,
    "ft.": Unit.FT,
    "feet": Unit.FT,
    "foot": Unit.FT,
    "'": Unit.FT,
    "′": Unit.FT,
}
_WITH_UNIT = re.compile(
    r"(.*\d\+?[¼½¾]?|[¼½¾])\s*("
    + "|".join(map(re.escape, sorted(_UNITS, key=len, reverse=True)))
    + ")"
)
_RANGE = re.compile(
    r"(?:from |over |>=?\s*|≥\s*)?(\d+(?:[.,]\d+)?)\s*"
    r"(?:\+|(?:-|–|to)\s*\d+(?:[.,]\d+)?|and (?:up|over))?"
)


def unit_word(word: str) -> Unit | None:
    """The unit that a word names."""
    return _UNITS.get(word.casefold())


def split_unit(text: str) -> tuple[str, Unit | None]:
    """A length and the unit written behind it, if there is one."""
    found = _WITH_UNIT.fullmatch(text.strip().casefold())
    return (text.strip(), None) if found is None else (found[1], _UNITS[found[2]])


def unit_of_grade(text: str) -> Unit | None:
    """The unit written in a grade, before or behind its plus."""
    return split_unit(text.strip().rstrip("+").strip())[1]


def marks_of(text: str) -> frozenset[DecimalMark]:
    """The decimal marks a number may have been written with; both where that cannot be told."""
    text = split_unit(text)[0]
    if _EITHER.fullmatch(text) or _PLAIN.fullmatch(text):
        return frozenset(DecimalMark)
    comma, point = bool(_COMMA.fullmatch(text)), bool(_POINT.fullmatch(text))
    return frozenset(
        mark for mark, is_so in ((DecimalMark.COMMA, comma), (DecimalMark.POINT, point)) if is_so
    )


def is_either(text: str) -> bool:
    """Whether a number is one thing with a decimal comma and another with a decimal point."""
    return bool(_EITHER.fullmatch(split_unit(text)[0]))


def number(text: str, mark: DecimalMark) -> Decimal | None:
    """The number a text stands for; None where it is none."""
    text = text.strip()
    if found := _EIGHTHS.fullmatch(text):
        return Decimal(found[1]) + Decimal(found[2]) / Decimal(found[3])
    if text and text[-1] in _FRACTIONS:
        text = (text[:-1].strip() or "0") + _FRACTIONS[text[-1]]
    if _GROUPED[mark].fullmatch(text):
        text = re.sub("[.,]", "", text)
    elif _THOUSANDS.fullmatch(text):
        text = _BETWEEN.sub("", text)
    elif mark is DecimalMark.COMMA and _COMMA.fullmatch(text):
        text = _BETWEEN.sub("", text).replace(".", "").replace(",", ".")
    elif mark is DecimalMark.POINT and _POINT.fullmatch(text):
        text = _BETWEEN.sub("", text).replace(",", "")
    elif not _PLAIN.fullmatch(text):
        return None
    try:
        return Decimal(text) if len(text) <= 30 else None
    except InvalidOperation:
        return None


def digits(value: Decimal) -> str:
    """A number in the digits of our own sheets."""
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def length(text: str, mark: DecimalMark, unit: Unit | None, own: Unit) -> str | None:
    """A length in the unit of our own column; a unit in the cell goes before the column's."""
    bare, written = split_unit(text)
    value = number(bare, mark)
    if found := _FEET_AND_INCHES.fullmatch(text.strip()):
        inches = number(found[2], mark)
        value = None if inches is None else int(found[1]) * 12 + inches
    taken = written or unit
    if value is None or taken is None or (taken in AREAS) is not (own in AREAS):
        return None
    return digits((value * IN_CM[taken] / IN_CM[own]).quantize(Decimal("0.0001")))


def grade(text: str, mark: DecimalMark, unit: Unit | None, *, whole: bool = True) -> str | None:
    """The shortest length of a grade such as ``40-49 cm``, ``40+`` or ``16"``, in cm."""
    # 16"+ and 16+" are one grade.
    bare, written = split_unit(text.strip().rstrip("+").strip())
    bare = split_unit(bare.rstrip("+"))[0]
    found = _RANGE.fullmatch(bare.strip().casefold())
    value = None if found is None else number(found[1], mark)
    taken = written or unit
    if value is None or taken is None or taken in AREAS:
        return None
    cm = value * IN_CM[taken]
    return digits(cm.quantize(Decimal(1), ROUND_HALF_UP) if whole else cm)
