from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trials.paper.fitting import fit, line_height_mm
from trials.paper.page import MISSING, Paper

PAPER = Paper("words", "a farm", date(2027, 3, 1))
words = st.text(st.sampled_from("abcßåÜmW1 -/(漢"), min_size=1, max_size=60)


@settings(deadline=None, derandomize=True, max_examples=150, database=None)
@given(text=words, width=st.floats(8, 80), height=st.floats(3, 40), bold=st.booleans())
def test_no_line_leaves_the_box_and_no_letter_is_lost(
    text: str, width: float, height: float, bold: bool
) -> None:
    fitted = fit(PAPER, text, width, height, largest_pt=14, smallest_pt=5, bold=bold)
    if fitted is None:
        return
    assert "".join("".join(fitted.lines).split()) == "".join(text.replace("漢", MISSING).split())
    assert fitted.height_mm <= height + 1e-6
    for line in fitted.lines:
        assert PAPER.width_mm(line, fitted.size_pt, bold=bold) <= width + 1e-6


def test_short_words_take_the_largest_type() -> None:
    fitted = fit(PAPER, "Z101", 60, 20, largest_pt=16, smallest_pt=6)
    assert fitted is not None
    assert (fitted.lines, fitted.size_pt) == (("Z101",), 16)


def test_type_shrinks_before_a_word_is_parted() -> None:
    box = PAPER.width_mm("Stripplethorn", 8) + 0.1
    fitted = fit(PAPER, "Stripplethorn", box, 20, largest_pt=12, smallest_pt=6)
    assert fitted is not None
    assert (fitted.lines, fitted.size_pt) == (("Stripplethorn",), 8)


def test_a_hyphen_is_the_first_place_to_part_a_word() -> None:
    box = PAPER.width_mm("Übermäßig-", 9) + 0.1
    fitted = fit(PAPER, "Übermäßig-Långnamn", box, 40, largest_pt=9, smallest_pt=9)
    assert fitted is not None
    assert fitted.lines == ("Übermäßig-", "Långnamn")


def test_words_that_have_no_room_are_told_and_not_cut() -> None:
    assert fit(PAPER, "Stripplethorn", 5, 3, largest_pt=9, smallest_pt=6) is None
    tall = line_height_mm(9) - 0.1
    assert fit(PAPER, "Z1", 30, tall, largest_pt=9, smallest_pt=9) is None
    assert fit(PAPER, "Ab cd", 4, 30, largest_pt=9, smallest_pt=9, part_words=False) is not None
    assert fit(PAPER, "Abcd", 4, 30, largest_pt=9, smallest_pt=9, part_words=False) is None


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("Čačak Żółć Ñandú Ωmega Жар", "Čačak Żółć Ñandú Ωmega Жар"),
        ("日本 1", f"{MISSING}{MISSING} 1"),
        ("u\u0308ber", "über"),
        ("a\x07b", f"a{MISSING}b"),
    ],
)
def test_a_character_the_type_lacks_is_seen_to_be_missing(text: str, shown: str) -> None:
    assert PAPER.normalize_text(text) == shown
