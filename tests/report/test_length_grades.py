"""Length grades in words."""

from __future__ import annotations

from trials.report.length_grades import grade_words, length_words
from trials.units import UnitSystem


def test_a_grade_ends_a_centimetre_below_the_next_and_the_last_is_open() -> None:
    assert grade_words([40, 30, 40, 60]) == {
        30: "30–39 cm",
        40: "40–59 cm",
        60: "60 cm and over",
    }


def test_grades_in_inches() -> None:
    # 40 / 2.54 = 15.75, 50 / 2.54 = 19.69
    assert grade_words([40, 50], UnitSystem.US) == {40: "15.7–19.7 in", 50: "19.7 in and over"}


def test_without_grades_there_are_no_words() -> None:
    assert grade_words([]) == {}


def test_a_length_alone() -> None:
    assert length_words(40) == "40 cm"
    assert length_words(2.54, UnitSystem.US) == "1.0 in"
