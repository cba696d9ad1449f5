"""Reads days as people write them, and says where a day could be two."""

from __future__ import annotations

import re
from calendar import monthrange
from datetime import date, timedelta

_YEAR_FIRST = re.compile(r"(\d{4})[-/. ](\d{1,2})[-/. ](\d{1,2})", re.ASCII)
_YEAR_LAST = re.compile(r"(\d{1,2})[-/. ]\s?(\d{1,2})[-/. ]\s?(\d{4}|\d{2})", re.ASCII)
_NO_YEAR = re.compile(r"(\d{1,2})(?:/(\d{1,2})|\.\s?(\d{1,2})\.)", re.ASCII)
_DAY_MONTH = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?[-. /]*([^\W\d_]{3,})\.?[-, /]*(\d{4}|\d{2})?")
_MONTH_DAY = re.compile(r"([^\W\d_]{3,})\.?[- ]*(\d{1,2})(?:st|nd|rd|th)?(?:[-, /]+(\d{4}|\d{2}))?")
_CLOCK = re.compile(r"[T ]\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?(?:Z|[+-]\d{2}:?\d{2})?$")
_WEEKDAY = re.compile(r"^(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,?\s+", re.IGNORECASE)
_SERIAL = re.compile(r"[34]\d{4}|5[0-4]\d{3}", re.ASCII)
_WEEK = re.compile(r"(?:wk|week|kw|woche|semaine|sem|semana|w)\.?[ _-]*\d{1,2}")
_SERIAL_ZERO = date(1899, 12, 30)
# English, German, French, Spanish, Dutch; three letters and more of a name will do.
_MONTHS = (
    ("january", "januar", "janvier", "enero", "januari"),
    ("february", "februar", "février", "fevrier", "febrero", "februari"),
    ("march", "märz", "maerz", "mars", "marzo", "maart"),
    ("april", "avril", "abril"),
    ("may", "mai", "mayo", "mei"),
    ("june", "juni", "juin", "junio"),
    ("july", "juli", "juillet", "julio"),
    ("august", "août", "aout", "agosto", "augustus"),
    ("september", "septembre", "septiembre", "setiembre"),
    ("october", "oktober", "octobre", "octubre"),
    ("november", "novembre", "noviembre"),
    ("december", "dezember", "décembre", "decembre", "diciembre"),
)


def readings_of(text: str, year: int | None = None) -> tuple[date | None, date | None] | None:
    """The day that a text stands for with the day first, and with the month first.

    Parameters
    ----------
    text
        Such as ``2026-07-03``, ``3/7/26``, ``3 Jul``, ``July 3rd, 2026``.
    year
        The year of a day written without one.

    Returns
    -------
    tuple of two days, or None
        They agree where there is but one way to read it; one is None where that way there is no
        such day. None: the text is no day at all, or lacks its year.
    """
    text = _WEEKDAY.sub("", _CLOCK.sub("", text.strip()))
    if found := _YEAR_FIRST.fullmatch(text):
        day = _day(int(found[1]), int(found[2]), int(found[3]))
        return None if day is None else (day, day)
    if found := _YEAR_LAST.fullmatch(text):
        return _either(_full(found[3]), int(found[1]), int(found[2]))
    if found := _NO_YEAR.fullmatch(text):
        return None if year is None else _either(year, int(found[1]), int(found[2] or found[3]))
    named = _named(text)
    if named is None:
        return None
    its_year = named[2] if named[2] is not None else year
    day = None if its_year is None else _day(its_year, named[1], named[0])
    return None if day is None else (day, day)


def is_a_week(text: str) -> bool:
    """Whether a text says a week, which is no day."""
    return _WEEK.fullmatch(text.strip().casefold()) is not None


def lacks_year(text: str) -> bool:
    """Whether a text is a day written without its year."""
    return readings_of(text) is None and readings_of(text, 2024) is not None


def looks_like_a_day(text: str) -> bool:
    """Whether a text is a day, with or without its year."""
    return readings_of(text, 2024) is not None


def serial_day(text: str) -> date | None:
    """The day of a spreadsheet's day number, such as 46206 for 2026-07-03."""
    text = text.strip().removesuffix(".0")
    return _SERIAL_ZERO + timedelta(days=int(text)) if _SERIAL.fullmatch(text) else None


def _either(year: int, first: int, second: int) -> tuple[date | None, date | None] | None:
    both = _day(year, second, first), _day(year, first, second)
    return None if both == (None, None) else both


def _named(text: str) -> tuple[int, int, int | None] | None:
    """Day, month and year of a day whose month is a word."""
    for pattern, day, word in ((_DAY_MONTH, 1, 2), (_MONTH_DAY, 2, 1)):
        found = pattern.fullmatch(text)
        month = None if found is None else _month(found[word])
        if found is not None and month is not None:
            return int(found[day]), month, None if found[3] is None else _full(found[3])
    return None


def _month(word: str) -> int | None:
    word = word.casefold()
    months = {
        number
        for number, names in enumerate(_MONTHS, 1)
        if any(name.startswith(word) for name in names)
    }
    return months.pop() if len(months) == 1 else None


def _full(year: str) -> int:
    return int(year) + (2000 if len(year) == 2 else 0)


def _day(year: int, month: int, day: int) -> date | None:
    if 1950 <= year <= 2199 and 1 <= month <= 12 and 1 <= day <= monthrange(year, month)[1]:
        return date(year, month, day)
    return None
