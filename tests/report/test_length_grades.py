"""Length grades in words."""

from __future__ import annotations

from trials.model.units import UnitSystem, grade_of_inches, inches_to_cm
from trials.report.length_grades import grade_words, length_words, measured_words


def test_a_grade_ends_a_centimetre_below_the_next_and_the_last_is_open() -> None:
    assert grade_words([40, 30, 40, 60]) == {
        30: "30–39 cm",
        40: "40–59 cm",
        60: "60 cm and over",
    }


def test_grades_in_inches() -> None:
    # 40 / 2.54 = 15.75, 50 / 2.54 = 19.69
    assert grade_words([40, 50], UnitSystem.US) == {40: "15.7–19.7 in", 50: "19.7 in and over"}


def test_grades_given_in_whole_inches_are_shown_as_they_were_given() -> None:
    """1 in is 2.54 cm exactly; a grade is recorded under its nearest whole centimetre."""
    for inches in range(1, 61):
        assert length_words(grade_of_inches(inches), UnitSystem.US) == f"{inches} in"
        assert length_words(inches_to_cm(inches), UnitSystem.US) == f"{inches} in"
    steps = [grade_of_inches(inches) for inches in (12, 16, 20)]
    words = ["12–16 in", "16–20 in", "20 in and over"]
    assert list(grade_words(steps, UnitSystem.US).values()) == words


def test_without_grades_there_are_no_words() -> None:
    assert grade_words([]) == {}


def test_a_length_alone() -> None:
    assert length_words(40) == "40 cm"
    assert length_words(2.54, UnitSystem.US) == "1 in"


def test_a_measured_stem_is_shown_as_finely_as_it_is_measured() -> None:
    assert measured_words(50.8, UnitSystem.US) == "20 in"
    assert measured_words(50, UnitSystem.US) == "19.69 in"  # 50 / 2.54 = 19.685
    assert measured_words(50.5) == "50.5 cm"
