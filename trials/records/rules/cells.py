"""Judges the text of one cell against the rule of its column."""

from __future__ import annotations

import re
import unicodedata
from calendar import monthrange
from collections.abc import Callable, Mapping
from datetime import date, timedelta

from trials.records.faults import Wrong, hint, shown
from trials.records.mapping.noted import DAYS, WORDS, noted, plain_text
from trials.records.rules.days import is_a_week
from trials.records.rules.factors import judge_factors, say_factors
from trials.records.rules.forms import YEARS, Column, Kind, Need

LONGEST_CELL = 1000

Value = str | int | float | date

_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)", re.ASCII)
_DECIMAL_COMMA = re.compile(r"([+-]?\d+),(\d+)", re.ASCII)
_THOUSANDS = re.compile(r"[+-]?\d{1,3}(?:[ ,'\u00a0\u202f]\d{3})+(?:\.\d+)?", re.ASCII)
_EXPONENT = re.compile(r"[+-]?\d+(?:\.\d+)?[eE][+-]?\d{1,2}", re.ASCII)
_WITH_UNIT = re.compile(r"([+-]?\d+(?:\.\d+)?)\s*([a-z]+2?)", re.ASCII | re.IGNORECASE)
_PER_CENT = re.compile(r"(\d+(?:\.\d+)?)\s*%", re.ASCII)
_ISO_DATE = re.compile(r"(\d{4})-(\d{2})-(\d{2})", re.ASCII)
_YEAR_FIRST = re.compile(r"(\d{4})[-/. ](\d{1,2})[-/. ](\d{1,2})(?:[T ].*)?", re.ASCII | re.DOTALL)
_YEAR_LAST = re.compile(r"(\d{1,2})[-/. ](\d{1,2})[-/. ](\d{4}|\d{2})", re.ASCII)
_DAY_NUMBER = re.compile(r"\d{5}", re.ASCII)
_SPREADSHEET_DAY_ZERO = date(1899, 12, 30)
_NOTHING_WORDS = frozenset(
    {"na", "n/a", "nan", "none", "null", "nil", "-", "–", "—", "?", "x", "."}
)
# What a spreadsheet shows in place of a value that it could not reckon.
_FIGURES = frozenset({Kind.WHOLE, Kind.NUMBER, Kind.DATE})
_ERRORS = frozenset(
    {"#REF!", "#N/A", "#DIV/0!", "#VALUE!", "#NAME?", "#NUM!", "#NULL!", "#SPILL!", "#CALC!"}
)


def judge_cell(text: str, column: Column) -> Value | Wrong | None:
    """The value a cell stands for, None where it is empty, or what is wrong with it."""
    if len(text) > LONGEST_CELL:
        return Wrong(
            f"The cell has {len(text):,} characters.",
            f"A cell may have {LONGEST_CELL:,} at most. Check for a quotation mark too many.",
        )
    text = unicodedata.normalize("NFC", text).strip()
    if not text:
        if column.need is Need.FILLED:
            return Wrong("The cell is empty.", f"Write {_WANTED[column.kind](column)}.")
        return None
    if text.upper() in _ERRORS:
        return Wrong(f"The cell shows the error {text.upper()}.", "Write what was recorded.")
    code = unseen(text)
    if code is not None:
        return Wrong(
            f"{shown(text)} has an invisible character (code {code}).",
            "Type the cell again, and save the file as CSV UTF-8.",
        )
    if column.kind in _FIGURES:
        text = plain_text(text)
    return _JUDGES[column.kind](text, column)


def unseen(text: str) -> int | None:
    """The code of the first character that controls something and is nothing to read."""
    return next(
        (ord(c) for c in text if unicodedata.category(c) == "Cc" and c not in "\t\r\n"), None
    )


def _judge_text(text: str, column: Column) -> Value | Wrong:
    return text


def _judge_name(text: str, column: Column) -> Value | Wrong:
    if len(text.splitlines()) > 1:
        return Wrong(f"{shown(text)} runs over several lines.", "Write it on one line.")
    return " ".join(text.split())


def _judge_choice(text: str, column: Column) -> Value | Wrong:
    plain = {choice.casefold().replace("_", " "): choice for choice in column.choices}
    choice = plain.get(" ".join(text.casefold().replace("_", " ").split()))
    if choice is not None:
        return str(choice)
    choices = [str(choice) for choice in column.choices]
    remedy = f"Write one of: {', '.join(choices)}."
    near = hint(text, choices, remedy)
    return Wrong(
        f"{shown(text)} is not one of this column's words.",
        remedy if "Did you mean" not in near else f"{near} {remedy}",
    )


def _judge_number(text: str, column: Column) -> Value | Wrong:
    if _NUMBER.fullmatch(text):
        value = float(text)
        if column.range is not None and not column.range.holds(value):
            return _out_of_range(text, value, column)
        return value + 0.0  # a minus sign before nought says nothing
    return _not_a_number(text, column)


def _judge_whole(text: str, column: Column) -> Value | Wrong:
    value = _judge_number(text, column)
    if not isinstance(value, float):
        return value
    if not value.is_integer():
        return Wrong(
            f"{shown(text)} is not a whole number.", "Write the number without a fraction."
        )
    return int(value)


def _out_of_range(text: str, value: float, column: Column) -> Wrong:
    within = column.range
    if within is not None and within.high <= 1 < value <= 100:
        return Wrong(
            f"{shown(text)} is out of range.",
            f"Write a share, {within}: {value / 100:g} for {value:g}%.",
        )
    wrong = "below 0" if value < 0 and within and within.low >= 0 else "out of range"
    return Wrong(f"{shown(text)} is {wrong}.", f"Write {_a_number(column)}.")


def _not_a_number(text: str, column: Column) -> Wrong:
    """Say why text is no number, and how the number that was meant is written, if that shows."""
    problem = f"{shown(text)} is not a number."
    comma = _DECIMAL_COMMA.fullmatch(text)
    if comma and len(comma[2]) != 3:
        return Wrong(problem, f"Use a decimal point: {comma[1]}.{comma[2]}.")
    if _THOUSANDS.fullmatch(text):
        bare = re.sub(r"[ ,'\u00a0\u202f]", "", text)
        point = f" (or {comma[1]}.{comma[2]}, if it is a decimal comma)" if comma else ""
        return Wrong(problem, f"Write the digits without separators: {bare}{point}.")
    if _EXPONENT.fullmatch(text):
        return Wrong(problem, "Write the number out in full, without E.")
    if text.casefold() in _NOTHING_WORDS:
        if column.need is Need.FILLED:
            return Wrong(problem, f"Write {_a_number(column)}.")
        return Wrong(problem, "If nothing was recorded, leave the cell empty. 0 is a count.")
    leading = _WITH_UNIT.fullmatch(text)
    if leading is not None and column.name.endswith(f"_{leading[2].lower()}"):
        return Wrong(problem, f"Write the number alone, without {shown(leading[2])}: {leading[1]}.")
    share = _PER_CENT.fullmatch(text)
    if share and column.range is not None and column.range.high <= 1:
        return Wrong(problem, f"Write it as a share: {float(share[1]) / 100:g}.")
    return Wrong(problem, f"{_possible(text, column)}Write {_a_number(column)}.")


def _possible(text: str, column: Column) -> str:
    """The numbers that a text may mean, where there are any."""
    found = noted(text)
    meant = (
        {}
        if found is None or found.kind in (WORDS, DAYS)
        else dict.fromkeys(found.readings.values())
    )
    whole = column.kind is Kind.WHOLE
    said = [f"{value:f}" for value in meant if not whole or value == int(value)]
    return f"It may mean {' or '.join(said)}. " if said else ""


def _judge_date(text: str, column: Column) -> Value | Wrong:
    iso = _ISO_DATE.fullmatch(text)
    if iso is None:
        return _not_iso(text)
    year, month, day = int(iso[1]), int(iso[2]), int(iso[3])
    value = _day(year, month, day)
    if value is not None:
        if YEARS[0] <= year <= YEARS[1]:
            return value
        return Wrong(f"{text} is too far away.", "Check the year: four digits, such as 2026.")
    return _impossible(text, year, month)


def _day(year: int, month: int, day: int) -> date | None:
    if not (1 <= year <= 9999 and 1 <= month <= 12 and 1 <= day <= monthrange(year, month)[1]):
        return None
    return date(year, month, day)


def _impossible(text: str, year: int, month: int) -> Wrong:
    if 1 <= month <= 12 and year >= 1:
        last = date(year, month, monthrange(year, month)[1])
        remedy = f"The last day of that month is {last}."
    else:
        remedy = "Write year, month and day, such as 2026-08-31."
    return Wrong(f"There is no such day as {shown(text)}.", remedy)


def _not_iso(text: str) -> Wrong:
    """Say that a date is not year-month-day, and write out the days it may mean."""
    problem = f"{shown(text)} is not a date written year-month-day."
    meant: list[date | None] = []
    if first := _YEAR_FIRST.fullmatch(text):
        year, month, day = int(first[1]), int(first[2]), int(first[3])
        if _day(year, month, day) is None:
            return _impossible(text, year, month)
        meant = [_day(year, month, day)]
    elif last := _YEAR_LAST.fullmatch(text):
        year = int(last[3]) + (2000 if len(last[3]) == 2 else 0)
        meant = [_day(year, int(last[2]), int(last[1])), _day(year, int(last[1]), int(last[2]))]
    elif _DAY_NUMBER.fullmatch(text):
        meant = [_SPREADSHEET_DAY_ZERO + timedelta(days=int(text))]
    if is_a_week(text):
        return Wrong(f"{shown(text)} is a week, not a day.", "Write the day, such as 2026-08-31.")
    days = list(dict.fromkeys(day for day in meant if day is not None))
    if not days:
        return Wrong(problem, "Write it as 2026-08-31.")
    said = " or ".join(f"{day} ({day.day} {day:%B})" for day in days)
    return Wrong(problem, f"Write {said}." if len(days) == 1 else f"Which day is it? Write {said}.")


def _judge_factors(text: str, column: Column) -> Value | Wrong:
    judged = judge_factors(text)
    return judged if isinstance(judged, Wrong) else say_factors(judged)


def _judge_margin(text: str, column: Column) -> Value | Wrong:
    number = text.removesuffix("%").strip()
    if _NUMBER.fullmatch(number) and 0 < float(number) <= 1_000_000:
        return f"{number} %" if text.endswith("%") else number
    return Wrong(
        f"{shown(text)} is not an equivalence margin.",
        "Write a number above 0 in the measure's unit, such as 3, or a percentage, such as 10%.",
    )


def _a_number(column: Column) -> str:
    kind = "a whole number" if column.kind is Kind.WHOLE else "a number"
    return kind if column.range is None else f"{kind}, {column.range}"


_JUDGES: Mapping[Kind, Callable[[str, Column], Value | Wrong]] = {
    Kind.NAME: _judge_name,
    Kind.TEXT: _judge_text,
    Kind.WHOLE: _judge_whole,
    Kind.NUMBER: _judge_number,
    Kind.DATE: _judge_date,
    Kind.CHOICE: _judge_choice,
    Kind.FACTORS: _judge_factors,
    Kind.MARGIN: _judge_margin,
}

_WANTED: Mapping[Kind, Callable[[Column], str]] = {
    Kind.NAME: lambda column: f"the {column.name.replace('_', ' ')}",
    Kind.TEXT: lambda column: f"the {column.name.replace('_', ' ')}",
    Kind.WHOLE: _a_number,
    Kind.NUMBER: _a_number,
    Kind.DATE: lambda column: "the day, such as 2026-08-31",
    Kind.CHOICE: lambda column: f"one of: {', '.join(column.choices)}",
    Kind.FACTORS: lambda column: "what was varied, such as 'variety on plots'",
    Kind.MARGIN: lambda column: "a number, such as 3, or a percentage, such as 10%",
}
