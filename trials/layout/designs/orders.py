"""Orders along the walk: drawn by lot, and of several lots the one with the freshest neighbours.

The score of an order counts what has been met before along the walk: one for each earlier time
that two entries side by side were neighbours already, and one for each earlier time that an entry
at an end of its run stood at an end. An entry that meets itself across the end of a run, and a run
in the same order as an earlier one, weigh more than any such count. Only places are scored, never
names, so each entry is as likely as any other to stand anywhere.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from math import factorial

from trials.layout.designs.random_numbers import Lot

DRAWS = 32  # lots drawn for each run
MEETS_ITSELF = 100
SAME_ORDER = 10_000
# Two entries have but two orders: to choose between them would leave nothing to the lot.
FEWEST_SCORED = 3

Draw = Callable[[Lot, Sequence[int]], list[int]]


class Neighbours:
    """What has stood beside what, and at which ends, along the walk so far."""

    def __init__(self) -> None:
        self._pairs: Counter[tuple[int, int]] = Counter()
        self._ends: Counter[int] = Counter()
        self._orders: Counter[tuple[int, ...]] = Counter()
        self._last: int | None = None

    def score(self, order: Sequence[int]) -> int:
        """How much of ``order`` has been met before; 0 is wholly fresh."""
        met = sum(self._pairs[_pair(a, b)] for a, b in pairwise(order))
        met += self._ends[order[0]] + self._ends[order[-1]]
        met += MEETS_ITSELF * sum(a == b for a, b in pairwise(order))
        if self._last is not None:
            met += self._pairs[_pair(self._last, order[0])]
            met += MEETS_ITSELF * (self._last == order[0])
        return met + SAME_ORDER * self._orders[tuple(order)]

    def note(self, order: Sequence[int]) -> None:
        """Take a run into account."""
        joined = order if self._last is None else [self._last, *order]
        self._pairs.update(_pair(a, b) for a, b in pairwise(joined))
        self._ends.update((order[0], order[-1]))
        self._orders[tuple(order)] += 1
        self._last = order[-1]

    def exhausted(self, order: Sequence[int]) -> bool:
        """Whether every order of these entries has been used."""
        used = sum(sorted(each) == sorted(order) for each in self._orders)
        return used >= factorial(len(order))

    def used(self, order: Sequence[int]) -> bool:
        """Whether an earlier run stood in this order."""
        return self._orders[tuple(order)] > 0


def neighbour_score(runs: Iterable[Sequence[int]]) -> int:
    """The score of a whole walk: each run's score after those before it."""
    met, total = Neighbours(), 0
    for run in runs:
        total += met.score(run)
        met.note(run)
    return total


def shuffled(lot: Lot, run: Sequence[int]) -> list[int]:
    """The plainest draw: every order equally likely."""
    return lot.shuffled(run)


def ordered(lot: Lot, runs: Sequence[Sequence[int]], draw: Draw = shuffled) -> list[list[int]]:
    """Each run of entries in an order drawn by lot, no two in the same as long as orders last.

    Of the ``DRAWS`` lots of a run the one with the lowest score is kept, the first of equals. Runs
    of two are drawn as they come, but for the last where all before it fell alike.
    """
    met = Neighbours()
    found: list[list[int]] = []
    for number, run in enumerate(runs):
        if len(run) < FEWEST_SCORED:
            order = draw(lot, run)
            last = number == len(runs) - 1
            if last and number and all(order == each for each in found):
                order.reverse()
        else:
            order = min((draw(lot, run) for _ in range(DRAWS)), key=met.score)
            while met.used(order) and not met.exhausted(order):
                order = draw(lot, run)
        met.note(order)
        found.append(order)
    return found


def _pair(a: int, b: int) -> tuple[int, int]:
    return (a, b) if a < b else (b, a)
