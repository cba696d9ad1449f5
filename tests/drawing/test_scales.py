"""Ticks are round, places do not overlap, and lines of words keep to their room."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trials.drawing.scales import (
    Scale,
    apart,
    lines_of,
    round_ticks,
    scale_over,
    shown,
    tick_words,
    width_px,
)


def test_ticks_are_round_and_few() -> None:
    assert round_ticks(0, 10, 6) == (0, 2, 4, 6, 8, 10)
    assert round_ticks(12.3, 27.9) == (15, 20, 25)
    assert round_ticks(-4.5, 1.5) == (-4, -2, 0)
    assert round_ticks(5, 5) == ()


@given(st.floats(-1e6, 1e6), st.floats(1e-3, 1e6))
def test_ticks_lie_within_and_at_most_as_many(low: float, span: float) -> None:
    ticks = round_ticks(low, low + span)
    assert len(ticks) <= 7
    assert all(low - 1e-6 * span <= tick <= low + span * 1.000001 for tick in ticks)


def test_tick_words_tell_the_ticks_apart() -> None:
    assert tick_words((0.0, 0.5, 1.0)) == ("0.0", "0.5", "1.0")
    assert tick_words((-2.0, 0.0, 2.0), signed=True) == ("−2", "0", "+2")
    assert tick_words((0.0, 1000.0)) == ("0", "1,000")


def test_a_scale_puts_its_ends_at_its_ends() -> None:
    scale = Scale(10, 20, 100, 300)
    assert (scale.at(10), scale.at(15), scale.at(20)) == (100, 200, 300)
    assert scale_over([3.0], 0, 1).at(3.0) == pytest.approx(0.5)


@given(st.lists(st.floats(0, 300), min_size=1, max_size=15))
def test_places_lie_apart_and_in_their_order(places: list[float]) -> None:
    moved = apart(places, 17, 0, 300)
    order = sorted(range(len(places)), key=lambda i: places[i])
    assert all(b - a >= 17 - 1e-6 for a, b in pairwise(moved[i] for i in order))
    assert all(-1e-6 <= place <= 300 + 1e-6 for place in moved)


def test_places_that_lie_apart_stay() -> None:
    assert apart([10, 200, 100], 17, 0, 300) == (10, 200, 100)


@given(st.text(max_size=60), st.floats(20, 200))
def test_lines_keep_to_their_room(text: str, room: float) -> None:
    lines = lines_of(text, room)
    assert 1 <= len(lines) <= 3
    assert all(width_px(line) <= max(room, width_px("W")) + 15 for line in lines)


def test_what_cannot_be_seen_is_left_out() -> None:
    assert shown("a\u202eb\n c\x00") == "ab c"
    assert lines_of("one two three four five six", 40, most=2)[-1].endswith("…")
