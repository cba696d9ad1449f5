"""Orders along the walk: what the score counts, and that the lot keeps neighbours fresh."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

import pytest

from trials.layout.designs.orders import MEETS_ITSELF, SAME_ORDER, neighbour_score, ordered
from trials.layout.designs.random_numbers import Lot


@pytest.mark.parametrize(
    ("runs", "score"),
    [
        ([[0, 1, 2, 3]], 0),
        ([[0, 1, 2, 3], [4, 5, 6, 7]], 0),
        ([[0, 1, 2, 3], [4, 1, 2, 5]], 1),  # 1 beside 2 again
        ([[0, 1, 2, 3], [4, 2, 1, 5]], 1),  # whichever way round
        ([[0, 1, 2], [0, 3, 4]], 1),  # 0 at an end again
        ([[0, 1, 2], [2, 3, 4]], 1 + MEETS_ITSELF),  # 2 beside itself, and at an end again
        ([[0, 1, 2], [3, 4, 5], [2, 6, 7]], 1),  # 2 at an end again; 5 beside 2 is fresh
        ([[0, 1, 2], [3, 4, 5], [2, 3, 6]], 2),  # and 2 beside 3 as across the end of a run
        ([[0, 1, 2], [0, 1, 2]], SAME_ORDER + 2 + 2),
    ],
)
def test_the_score_counts_what_was_met_before(runs: list[list[int]], score: int) -> None:
    assert neighbour_score(runs) == score


def test_neighbours_repeat_less_than_by_plain_lot() -> None:
    """Eight entries in four blocks: 28 neighbouring pairs, and 28 pairs there are."""

    def repeated(runs: list[list[int]]) -> int:
        pairs = Counter(frozenset(pair) for run in runs for pair in pairwise(run))
        return sum(n - 1 for n in pairs.values())

    fresh = sum(repeated(ordered(Lot.of(i, "fresh"), [range(8)] * 4)) for i in range(200))
    lot = Lot.of(1, "plain")
    plain = sum(repeated([lot.shuffled(range(8)) for _ in range(4)]) for _ in range(200))
    assert fresh < plain / 2


def test_no_entry_always_stands_at_an_end() -> None:
    for seed in range(300):
        runs = ordered(Lot.of(seed, "ends"), [range(5)] * 4)
        ends = Counter(entry for run in runs for entry in (run[0], run[-1]))
        assert max(ends.values()) < 4


@pytest.mark.slow
def test_every_entry_is_as_likely_as_any_other_to_stand_anywhere() -> None:
    runs, entries, blocks = 3000, 4, 3
    stood: Counter[tuple[int, int, int]] = Counter()
    for seed in range(runs):
        for block, run in enumerate(ordered(Lot.of(seed, "even"), [range(entries)] * blocks)):
            stood.update((block, place, entry) for place, entry in enumerate(run))
    expected = runs / entries
    for block in range(blocks):
        for place in range(entries):
            counts = [stood[block, place, entry] for entry in range(entries)]
            # Upper 0.01 % point of chi-square on 3 degrees of freedom (tables).
            assert sum((n - expected) ** 2 / expected for n in counts) < 21.1


def test_orders_are_all_used_before_one_comes_again() -> None:
    for seed in range(200):
        runs = ordered(Lot.of(seed, "three"), [range(3)] * 6)
        assert len({tuple(run) for run in runs}) == 6


def test_pairs_are_never_all_in_one_order() -> None:
    for seed in range(300):
        assert len({tuple(run) for run in ordered(Lot.of(seed, "two"), [range(2)] * 2)}) == 2
