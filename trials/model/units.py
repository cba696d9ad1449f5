"""Exact conversions between the metric system and the units growers in the US read; paper sizes.

The inch is 25.4 mm and the foot 304.8 mm exactly (international yard and pound agreement, 1959).
"""

from __future__ import annotations

from enum import StrEnum

CM_PER_INCH = 2.54
M_PER_FOOT = 0.3048
SQ_M_PER_SQ_FOOT = M_PER_FOOT * M_PER_FOOT


# Units that the name of a factor or column may end in.
FACTOR_UNITS = ("cm", "in", "mm", "m", "m2", "g", "kg", "days", "percent")


class UnitSystem(StrEnum):
    """The units a farm likes its figures in."""

    METRIC = "metric"
    US = "us"


class PaperSize(StrEnum):
    """The sheets a farm's printer takes."""

    A4 = "A4"
    LETTER = "Letter"


def fahrenheit_to_celsius(fahrenheit: float) -> float:
    """Temperature in °C of one in °F."""
    return (fahrenheit - 32) / 1.8


def grade_of_inches(inches: float) -> int:
    """The whole centimetres that a length grade given in inches is recorded under."""
    return int(inches_to_cm(inches) + 0.5)


def grade_in_inches(grade_cm: float) -> float:
    """The inches of a length grade: whole ones that are recorded as this grade, else tenths.

    >>> grade_in_inches(30), grade_in_inches(41), grade_in_inches(40)
    (12.0, 16.0, 15.7)
    """
    inches = cm_to_inches(grade_cm)
    whole = float(round(inches))
    return whole if grade_of_inches(whole) == grade_cm else round(inches, 1)


def inches_to_cm(inches: float) -> float:
    """Length in centimetres of a length in inches."""
    return inches * CM_PER_INCH


def cm_to_inches(cm: float) -> float:
    """Length in inches of a length in centimetres."""
    return cm / CM_PER_INCH


def feet_to_m(feet: float) -> float:
    """Length in metres of a length in feet."""
    return feet * M_PER_FOOT


def m_to_feet(m: float) -> float:
    """Length in feet of a length in metres."""
    return m / M_PER_FOOT


def per_m_to_per_foot(per_m: float) -> float:
    """A rate per foot of bed from a rate per metre of bed."""
    return per_m * M_PER_FOOT


def per_sq_m_to_per_sq_foot(per_sq_m: float) -> float:
    """A rate per square foot from a rate per square metre."""
    return per_sq_m * SQ_M_PER_SQ_FOOT


def level_with_unit(factor: str, level: str) -> str:
    """A level of a factor; a bare number with the unit that the factor's name ends in.

    >>> level_with_unit("spacing_cm", "20")
    '20 cm'
    >>> level_with_unit("variety", "Ember")
    'Ember'
    """
    name, _, unit = factor.rpartition("_")
    if name and unit in FACTOR_UNITS and level.replace(".", "", 1).isdecimal():
        return f"{level} {unit}"
    return level
