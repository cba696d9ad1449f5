"""Letters say what the pairs say, for any pattern of significance."""

from __future__ import annotations

import re
from random import Random
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from trials.stats.design.table import Codes
from trials.stats.families.letters import letters


def pattern(k: int, pairs: list[Any]) -> NDArray[np.bool_]:
    differ = np.zeros((k, k), dtype=bool)
    for i, j in pairs:
        differ[i, j] = differ[j, i] = True
    return differ


def single(text: str) -> set[Any]:
    return set(re.findall(r"[a-z]\d*", text))


def shared(texts: list[str] | tuple[str, ...]) -> NDArray[np.bool_]:
    """Which pairs of entries share a letter: what the display says to its reader."""
    return np.array([[bool(single(a) & single(b)) for b in texts] for a in texts])


def in_order(k: int) -> Codes:
    return np.arange(k)


def test_no_pair_that_differs_needs_one_letter() -> None:
    assert letters(pattern(4, []), in_order(4)) == ("a", "a", "a", "a")


def test_all_pairs_that_differ_need_a_letter_each() -> None:
    everything = ~np.eye(3, dtype=bool)
    assert letters(everything, in_order(3)) == ("a", "b", "c")


def test_the_usual_staircase() -> None:
    # Best and second share, second and third share, best and third differ.
    assert letters(pattern(3, [(0, 2)]), in_order(3)) == ("a", "ab", "b")


def test_letters_follow_the_order_from_best_to_worst() -> None:
    assert letters(pattern(3, [(0, 2)]), np.array([2, 1, 0])) == ("b", "ab", "a")


def test_a_pattern_that_no_line_could_draw() -> None:
    # Best and worst do not differ, but the middle one differs from both: unequal replication.
    assert letters(pattern(3, [(0, 1), (1, 2)]), in_order(3)) == ("a", "b", "a")


@pytest.mark.slow
@settings(max_examples=200, deadline=None)
@given(st.integers(1, 14), st.floats(0, 1), st.randoms(use_true_random=False))
def test_pairs_share_a_letter_exactly_where_they_do_not_differ(
    k: int, share: float, random: Random
) -> None:
    differ = pattern(k, [(i, j) for i in range(k) for j in range(i) if random.random() < share])
    order = list(range(k))
    random.shuffle(order)
    found = letters(differ, np.array(order))
    assert np.array_equal(shared(found), ~differ)
    assert all(found)
    assert "a" in single(found[order[0]])
    # No letter can be spared: without it, some pair or entry is left without one.
    for spared in set.union(*map(single, found)):
        rest = ["".join(single(text) - {spared}) for text in found]
        assert not np.array_equal(shared(rest), ~differ)


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(0, 10), min_size=2, max_size=25))
def test_equal_errors_need_one_letter_for_each_run_of_entries(means: list[float]) -> None:
    # With one least difference the runs that do not differ are the maximal cliques, and each
    # starts at an entry whose run is not inside the one before: the known minimum.
    ranked = np.sort(np.array(means))[::-1]
    differ = np.abs(ranked[:, None] - ranked) > 2.0
    ends = [np.flatnonzero(~differ[i]).max() for i in range(len(means))]
    runs = len(set(ends))
    found = letters(differ, in_order(len(means)))
    assert len(set.union(*map(single, found))) == runs


def test_two_hundred_entries_past_the_end_of_the_alphabet() -> None:
    means = np.random.default_rng(0).normal(size=200)
    differ = np.abs(means[:, None] - means) > 0.7
    found = letters(differ, np.argsort(-means))
    assert np.array_equal(shared(found), ~differ)
    assert "a" in single(found[int(np.argmax(means))])
    assert len(set.union(*map(single, found))) > 26


def test_a_lopsided_pattern_is_refused() -> None:
    differ = np.zeros((2, 2), dtype=bool)
    differ[0, 1] = True
    with pytest.raises(ValueError, match="symmetric"):
        letters(differ, in_order(2))
