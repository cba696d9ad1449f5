"""Resolvable incomplete blocks: which entries share a block, before any lot is drawn.

The construction depends on the numbers alone (entries, replicates, block size); the lot decides
later which variety is which entry. Starts are square and rectangular lattices from a finite field
(Yates 1936, Annals of Eugenics 7:121) and alpha arrays (Patterson & Williams 1976, Biometrika
63:83); entries of two blocks of a replicate are then interchanged as long as the average
efficiency factor rises.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, islice

import numpy as np

from trials.layout.designs.efficiency import (
    Floats,
    Whole,
    average_efficiency,
    efficiency_bound,
)
from trials.layout.designs.finite_field import finite_field
from trials.layout.designs.random_numbers import Lot

# Figures that differ by less are the same figure computed in another order: machines may then not
# choose differently among them.
SAME = 1e-9
# Work spent on a design, in numbers touched: about a second on a small machine. Counted, not
# timed, so that every machine stops at the same design.
WORK = 30_000_000
OVERHEAD = 6_000  # what a step costs beside, in the same unit
STARTS = 4  # alpha arrays to climb from
TRIES = 100  # arrays drawn for each; also disturbances until one leaves a design connected
KICKS = 3  # interchanges at random before a new ascent

Replicate = tuple[tuple[int, ...], ...]


@dataclass(frozen=True, slots=True)
class IncompleteBlocks:
    """Replicates of blocks of entries (numbers from 0), the larger blocks first.

    ``bound`` is an efficiency factor that no resolvable blocks of these sizes exceed.
    """

    replicates: tuple[Replicate, ...]
    efficiency: float
    bound: float

    @property
    def blocks(self) -> Replicate:
        """All blocks, replicate by replicate."""
        return tuple(block for replicate in self.replicates for block in replicate)


def block_sizes(entries: int, most: int) -> tuple[int, ...]:
    """Sizes of the blocks of a replicate: none above ``most``, as equal as can be, larger first."""
    blocks = -(-entries // most)
    size, over = divmod(entries, blocks)
    return (size + 1,) * over + (size,) * (blocks - over)


@lru_cache(maxsize=64)
def incomplete_blocks(entries: int, replicates: int, most: int) -> IncompleteBlocks:
    """The best resolvable blocks of at most ``most`` plots that a fixed amount of search finds.

    The efficiency is 0 where no design was found that connects all entries.
    """
    sizes = block_sizes(entries, most)
    bound = efficiency_bound(entries, replicates, sizes)
    best, reached = _searched(entries, replicates, sizes, bound)
    return IncompleteBlocks(
        tuple(_blocks(row, len(sizes)) for row in best),
        average_efficiency([b for row in best for b in _blocks(row, len(sizes))], entries),
        max(bound, reached),
    )


def _blocks(row: Whole, blocks: int) -> Replicate:
    inside = (tuple(int(entry) for entry in np.flatnonzero(row == b)) for b in range(blocks))
    return tuple(sorted(inside, key=len, reverse=True))


# --- the search -------------------------------------------------------------------------------


def _searched(
    entries: int, replicates: int, sizes: Sequence[int], bound: float
) -> tuple[Whole, float]:
    """Block numbers (replicates, entries) of the best design found, and its efficiency.

    Ascents start from every construction in turn; when those are used up the best design is
    disturbed by a few interchanges at random and climbed from again.
    """
    step = replicates * entries**2 + entries**3 // 50 + OVERHEAD
    left = max(WORK // step, 4)
    lot = Lot.of(entries * 10_000 + replicates * 100 + len(sizes), "incomplete blocks")
    best, reached = next(_arrays(entries, replicates, sizes, lot)), 0.0
    for start in _starts(entries, replicates, sizes, lot):
        climbed, found, left = _climbed(start, sizes, left)
        if found > reached + SAME:
            best, reached = climbed, found
        if left <= 0 or reached >= bound - SAME:
            return best, reached
    while reached > 0 and left > 0 and reached < bound - SAME:
        climbed, found, left = _climbed(_disturbed(best, lot), sizes, left)
        if found > reached - SAME:  # equally good designs are walked through, not returned from
            best, reached = climbed, max(found, reached)
    return best, reached


def _disturbed(design: Whole, lot: Lot) -> Whole:
    entries = design.shape[1]
    for _ in range(TRIES):
        changed = design.copy()
        for _ in range(KICKS):
            row = changed[lot.below(len(changed))]
            one, other = lot.below(entries), lot.below(entries)
            row[one], row[other] = row[other], row[one]
        if _connected(changed):
            return changed
    return design


def _connected(design: Whole) -> bool:
    """Whether every two entries can be compared: in whole numbers, so beyond any rounding."""
    entries = design.shape[1]
    reached = np.zeros(entries, dtype=bool)
    reached[0] = True
    while True:
        more = reached.copy()
        for block in design:
            more |= np.bincount(block[reached], minlength=entries)[block] > 0
        if (more == reached).all():
            return bool(reached.all())
        reached = more


def _climbed(start: Whole, sizes: Sequence[int], steps: int) -> tuple[Whole, float, int]:
    """Make the best interchange until none helps: the design, its efficiency, steps left."""
    design = start.copy()
    replicates, entries = design.shape
    while True:
        inverse, lost = _inverse(design, sizes)
        steps -= 1
        if steps <= 0:
            break
        gain = _gains(design, sizes, inverse)
        least = gain.min()
        if not least < -SAME * lost:
            break
        row, one, other = np.unravel_index(int(np.argmax(gain <= least + SAME * lost)), gain.shape)
        design[row, one], design[row, other] = design[row, other], design[row, one]
    return design, (entries - 1) / (lost * replicates), steps


def _inverse(design: Whole, sizes: Sequence[int]) -> tuple[Floats, float]:
    """The inverse of the information matrix with the mean restored, and its trace without it."""
    replicates, entries = design.shape
    information = replicates * np.eye(entries) + replicates / entries
    for block in np.eye(len(sizes))[design]:  # (entries, blocks)
        information -= (block / np.asarray(sizes, dtype=np.float64)) @ block.T
    inverse = np.linalg.inv(information)
    return inverse, float(np.trace(inverse)) - 1 / replicates


def _gains(design: Whole, sizes: Sequence[int], inverse: Floats) -> Floats:
    """What each interchange (replicate, entry, entry) adds to the trace of the inverse.

    An interchange changes the information matrix by -(a u' + u a'), with u the difference of the
    two entries and a = n1 / k1 - n2 / k2 + u (1 / k1 + 1 / k2) / 2 of their blocks n1 and n2. The
    trace of the new inverse follows from that of a matrix of two rows (Woodbury's identity), so
    that all interchanges are judged at once.
    """
    share = 1 / np.asarray(sizes, dtype=np.float64)
    gains = np.empty((design.shape[0], design.shape[1], design.shape[1]))
    both = np.stack([inverse, inverse @ inverse])
    diagonal = np.diagonal(both, axis1=1, axis2=2)
    uu = diagonal[:, :, None] + diagonal[:, None, :] - 2 * both
    for row, block in enumerate(design):
        weighted = np.eye(len(sizes))[block] * share
        per_block = both @ weighted  # (2, entries, blocks)
        within = (weighted.T @ per_block)[:, block][:, :, block]
        cross = per_block[:, :, block]  # of entry y with the block of entry x
        own = np.diagonal(cross, axis1=1, axis2=2)
        half = (share[block][:, None] + share[block][None, :]) / 2
        crossed = cross + cross.transpose(0, 2, 1) - own[:, :, None] - own[:, None, :]
        spread = np.diagonal(within, axis1=1, axis2=2)
        aa = spread[:, :, None] + spread[:, None, :] - 2 * within
        aa += half * (2 * crossed + half * uu)
        au = crossed + half * uu
        free = 1 - au[0]
        determinant = aa[0] * uu[0] - free * free
        change = -(uu[0] * aa[1] + 2 * free * au[1] + aa[0] * uu[1])
        same = block[:, None] == block[None, :]
        worse = same | (determinant > -SAME)  # what would leave entries unconnected is no choice
        gains[row] = np.where(worse, np.inf, change / np.where(worse, -1.0, determinant))
    return gains


# --- where it starts --------------------------------------------------------------------------


def _starts(entries: int, replicates: int, sizes: Sequence[int], lot: Lot) -> Iterator[Whole]:
    """Designs to climb from, (replicates, entries) of block numbers, the most promising first."""
    lattice = _lattice(entries, replicates, sizes)
    if lattice is not None:
        yield lattice
    for _ in range(STARTS):
        arrays = islice(_arrays(entries, replicates, sizes, lot), TRIES)
        connected = [each for each in arrays if _connected(each)]
        if connected:
            yield min(connected, key=_meetings)


def _lattice(entries: int, replicates: int, sizes: Sequence[int]) -> Whole | None:
    """A square or rectangular lattice: no two entries meet twice; None where none is known.

    Entry (q, x) of replicate i stands in block x - q i of a finite field, or of the remainders
    where their number has no small factor; the rows q are a further replicate of a square.
    """
    size, blocks = sizes[0], len(sizes)
    square = entries == blocks * blocks
    field = finite_field(blocks)
    factor = next(divisor for divisor in range(2, blocks + 1) if blocks % divisor == 0)
    orthogonal = blocks if field is not None else factor
    if size > blocks or replicates > orthogonal + square:
        return None
    lattice = np.empty((replicates, size * blocks), dtype=np.intp)
    for i in range(replicates):
        for q in range(size):
            for x in range(blocks):
                if i == orthogonal:
                    block = q
                elif field is not None:
                    block = field.minus(x, field.times(q, i))
                else:
                    block = (x - q * i) % blocks
                lattice[i, q * blocks + x] = block
    return _ordered(lattice[:, :entries], blocks)


def _meetings(design: Whole) -> int:
    """The sum of squares of what two blocks have in common, which equal meetings make least."""
    blocks = int(design.max()) + 1
    shared = (np.bincount(a * blocks + b) for a, b in combinations(design, 2))
    return sum(int(common @ common) for common in shared)


def _arrays(entries: int, replicates: int, sizes: Sequence[int], lot: Lot) -> Iterator[Whole]:
    """Alpha arrays with shifts by lot; the first replicate and the first row have none."""
    size, blocks = sizes[0], len(sizes)
    place = np.arange(blocks)
    while True:
        alpha = np.empty((replicates, size * blocks), dtype=np.intp)
        for i in range(replicates):
            for q in range(size):
                shift = lot.below(blocks) if i and q else 0
                alpha[i, q * blocks : (q + 1) * blocks] = (place - shift) % blocks
        yield _ordered(alpha[:, :entries], blocks)


def _ordered(design: Whole, blocks: int) -> Whole:
    """The same design with the larger blocks of each replicate numbered first."""
    ordered = np.empty_like(design)
    for row, numbers in enumerate(design):
        by_size = np.argsort(-np.bincount(numbers, minlength=blocks), kind="stable")
        rank = np.empty(blocks, dtype=np.intp)
        rank[by_size] = np.arange(blocks)
        ordered[row] = rank[numbers]
    return ordered
