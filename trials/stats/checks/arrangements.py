"""The ways to hold a lottery again: all of them where they are few, a fixed sample elsewhere."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from itertools import combinations, permutations, product
from math import comb, factorial, prod

import numpy as np

from trials.stats.checks.randomised_units import Lines, Lottery
from trials.stats.design.table import Codes

DRAWS = 10_000
MOST_EXACT = 20_000
_SEED = 20_090_321


def arrangements(lottery: Lottery, draws: int = DRAWS) -> tuple[Codes, bool]:
    """Which unit's value each unit gets (a, u), and whether these are all the ways there are."""
    if lottery.lines is not None:
        return _shuffled_lines(lottery.lines, lottery.around, draws)
    members = [
        np.flatnonzero(lottery.around == each) for each in range(int(lottery.around.max()) + 1)
    ]
    sizes = [np.unique(lottery.labels[m], return_counts=True)[1] for m in members]
    ways = prod(_ways(size) for size in sizes)
    # Where each class holds every treatment once, a new naming of the treatments changes nothing,
    # so that one class may stay as it is.
    same = lottery.alone and len(members) > 1 and _alike_once(lottery.labels, members)
    if same:
        ways //= factorial(len(members[0]))
    if ways > MOST_EXACT:
        return _drawn(lottery.around.tobytes(), draws), False
    return np.array(list(_every_way(lottery.labels, members, same)), dtype=np.intp), True


def _alike_once(labels: Codes, members: list[Codes]) -> bool:
    first = np.sort(labels[members[0]])
    return len(np.unique(first)) == len(first) and all(
        np.array_equal(np.sort(labels[m]), first) for m in members
    )


def _ways(sizes: Codes) -> int:
    left, ways = int(sizes.sum()), 1
    for size in sizes:
        ways *= comb(left, int(size))
        left -= int(size)
    return ways


def _every_way(labels: Codes, members: list[Codes], keep_first: bool) -> Iterator[Codes]:
    per_class = [
        [m] if keep_first and i == 0 else [m[list(way)] for way in _dealings(labels[m])]
        for i, m in enumerate(members)
    ]
    for ways in product(*per_class):
        index = np.empty(len(labels), dtype=np.intp)
        for m, way in zip(members, ways, strict=True):
            index[m] = way
        yield index


def _dealings(labels: Codes) -> Iterator[tuple[int, ...]]:
    """Each way to deal one class's units to its labels, order within a label left aside."""
    slots = [np.flatnonzero(labels == label) for label in np.unique(labels)]

    def fill(left: tuple[int, ...], which: int) -> Iterator[dict[int, int]]:
        if which == len(slots):
            yield {}
            return
        for taken in combinations(left, len(slots[which])):
            rest = tuple(unit for unit in left if unit not in taken)
            for later in fill(rest, which + 1):
                yield dict(zip(slots[which].tolist(), taken, strict=True)) | later

    for way in fill(tuple(range(len(labels))), 0):
        yield tuple(way[slot] for slot in range(len(labels)))


@lru_cache(maxsize=2)
def _drawn(classes: bytes, draws: int) -> Codes:
    """The sample for classes of units, given by their bytes: terms on the same units ask again."""
    around = np.frombuffer(classes, dtype=np.intp)
    rng = np.random.default_rng(_SEED)
    # Sorting random numbers within each class shuffles it.
    keys = rng.random((draws, len(around))) + around
    place = np.argsort(np.argsort(around, kind="stable"))
    index = np.take(np.argsort(keys, axis=1), place, axis=1)
    index.flags.writeable = False
    return index


def _shuffled_lines(lines: Lines, around: Codes, draws: int) -> tuple[Codes, bool]:
    """Rows among rows and columns among columns, in each class of ``around`` by itself."""
    grids = []
    for each in range(int(around.max()) + 1):
        members = np.flatnonzero(around == each)
        rows = np.unique(lines.rows[members], return_inverse=True)[1]
        columns = np.unique(lines.columns[members], return_inverse=True)[1]
        at = np.empty((int(rows.max()) + 1, int(columns.max()) + 1), dtype=np.intp)
        at[rows, columns] = members
        grids.append((members, rows, columns, at))
    # Strips of the same treatments in every block: a new naming of the treatments changes nothing,
    # so that one block may stay as it is.
    alike = lines.of_treatments and len({at.shape for _, _, _, at in grids}) == 1
    still = 1 if alike and len(grids) > 1 else 0
    ways = prod(factorial(at.shape[0]) * factorial(at.shape[1]) for _, _, _, at in grids[still:])
    if ways > MOST_EXACT:
        return _drawn_lines(grids, len(around), draws), False
    every = []
    for number, (_, rows, columns, at) in enumerate(grids):
        r, c = at.shape
        orders = [(tuple(range(r)), tuple(range(c)))]
        if number >= still:
            orders = list(product(permutations(range(r)), permutations(range(c))))
        every.append([at[np.array(row)[rows], np.array(column)[columns]] for row, column in orders])
    index = np.empty((ways, len(around)), dtype=np.intp)
    for place, chosen in enumerate(product(*every)):
        for (members, _, _, _), shuffled in zip(grids, chosen, strict=True):
            index[place, members] = shuffled
    return index, True


def _drawn_lines(grids: list[tuple[Codes, Codes, Codes, Codes]], units: int, draws: int) -> Codes:
    rng = np.random.default_rng(_SEED)
    index = np.empty((draws, units), dtype=np.intp)
    for members, rows, columns, at in grids:
        by_row = np.argsort(rng.random((draws, at.shape[0])), axis=1)
        by_column = np.argsort(rng.random((draws, at.shape[1])), axis=1)
        index[:, members] = at[by_row[:, rows], by_column[:, columns]]
    return index
