"""Layouts that block two ways: Latin squares, and rows of complete replicates with columns.

A row is a stretch of one bed, a column the plots at the same distance from the head of the beds.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import combinations
from math import comb

import numpy as np

from trials.errors import PlanRefused
from trials.layout.designs.efficiency import Floats
from trials.layout.designs.incomplete import SAME
from trials.layout.designs.orders import DRAWS, neighbour_score
from trials.layout.designs.random_numbers import Lot
from trials.layout.designs.randomised import Drawn, Kind
from trials.layout.field.plot_order import Spot
from trials.layout.plan import TrialPlan
from trials.layout.treatments import treatments_on
from trials.model.trial import AppliedTo
from trials.stats.what_was_tested import Levels

TRIED_SHIFTS = 2_000  # sets of shifts judged before the best is taken


def _grid(rows: int, columns: int, square: int = 0, block: str | None = None) -> list[Spot]:
    return [
        Spot(
            block=block,
            row=str(row + 1),
            column=str(column + 1),
            rectangle=square,
            across=row,
            along=column,
        )
        for row in range(rows)
        for column in range(columns)
    ]


def _squares(plan: TrialPlan) -> tuple[Spot, ...]:
    size = len(_treatments(plan))
    if size < 3:
        raise PlanRefused(
            f"A Latin square of {size} treatments leaves nothing to estimate error from. Use "
            "complete blocks."
        )
    squares, rest = divmod(plan.replicates, size)
    if rest:
        raise PlanRefused(
            f"A Latin square of {size} treatments has {size} rows and {size} columns, so "
            f"{size} replicates (or {2 * size} in two squares), not {plan.replicates}. For "
            f"{plan.replicates} replicates use rows and columns, or complete blocks."
        )
    return tuple(
        spot
        for square in range(squares)
        for spot in _grid(size, size, square, str(square + 1) if squares > 1 else None)
    )


def _latin_square(plan: TrialPlan, spots: Sequence[Spot], lot: Lot) -> Drawn:
    """Rows, columns and treatments of a cyclic square, each by lot (Fisher 1935, section 33)."""
    treatments = _treatments(plan)
    size = len(treatments)
    squares = [_shifted(lot, size, tuple(range(size))) for _ in range(len(spots) // (size * size))]
    return Drawn(tuple(treatments[n] for square in squares for row in square for n in row))


def _rows(plan: TrialPlan) -> tuple[Spot, ...]:
    size, rows = len(_treatments(plan)), plan.replicates
    # Error degrees of freedom: (rows - 1)(columns - 1) less those of the treatments.
    if rows < 3:
        raise PlanRefused(
            f"Rows and columns with {rows} rows leave nothing to estimate error from. Use at "
            "least 3 replicates, or complete blocks."
        )
    if size < 3:
        raise PlanRefused(f"{size} treatments are too few for columns. Use complete blocks.")
    return tuple(_grid(rows, size))


def _rows_and_columns(plan: TrialPlan, spots: Sequence[Spot], lot: Lot) -> Drawn:
    """Each row a complete replicate; columns as well balanced as cyclic shifts make them."""
    treatments = _treatments(plan)
    size, rows = len(treatments), plan.replicates
    shifts, efficiency = best_shifts(size, rows)
    walk = _shifted(lot, size, shifts)
    levels = tuple(treatments[number] for row in walk for number in row)
    return Drawn(levels, efficiency, columns_bound(size, rows))


def _shifted(lot: Lot, size: int, shifts: Sequence[int]) -> list[list[int]]:
    """Rows of 0 to ``size`` - 1 by those shifts; of several lots that with freshest neighbours."""

    def drawn() -> list[list[int]]:
        names, columns = lot.shuffled(range(size)), lot.shuffled(range(size))
        return [[names[(c + shift) % size] for c in columns] for shift in lot.shuffled(shifts)]

    return min((drawn() for _ in range(DRAWS)), key=_walked_score)


def _walked_score(rows: list[list[int]]) -> int:
    """The score along the walk: up one bed and down the next."""
    return neighbour_score(row if i % 2 == 0 else row[::-1] for i, row in enumerate(rows))


# --- columns of cyclic shifts -----------------------------------------------------------------


def columns_bound(size: int, rows: int) -> float:
    """The most that the efficiency factor of columns can be, whole concurrences allowed for.

    Columns of ``rows`` plots hold each treatment as often as any, give or take one; then v (k - 1)
    / (k (v - 1)) for k left over beyond complete sets, as in John & Williams 1995, chapter 2.
    """
    over = rows % size
    return 1 - over * (size - over) / (rows * rows * (size - 1))


@lru_cache(maxsize=64)
def best_shifts(size: int, rows: int) -> tuple[tuple[int, ...], float]:
    """Shifts of the rows whose columns have the highest efficiency factor, and that factor.

    Columns of cyclic shifts are a cyclic design, whose canonical factors are 1 - |sum of w^(h d)|^2
    / rows^2 over the shifts d, for h = 1 to size - 1 and w a root of unity (John & Williams 1995,
    chapter 3). All sets of shifts are tried where there are few, else a fixed number.
    """
    whole, over = divmod(rows, size)
    if over == 0:
        return tuple(range(size)) * whole, 1.0
    best: tuple[int, ...] = ()
    reached = -1.0
    angles = np.arange(1, size, dtype=np.float64) * (2 * np.pi / size)
    for extra in _sets(size, over):
        found = _cyclic_efficiency(angles, extra, rows)
        if found > reached + SAME:
            best, reached = extra, found
    return tuple(range(size)) * whole + best, reached


def _sets(size: int, count: int) -> Iterator[tuple[int, ...]]:
    if comb(size - 1, count - 1) <= TRIED_SHIFTS:
        for others in combinations(range(1, size), count - 1):
            yield (0, *others)
        return
    lot = Lot.of(size * 1000 + count, "shifts")
    for _ in range(TRIED_SHIFTS):
        yield (0, *sorted(lot.shuffled(range(1, size))[: count - 1]))


def _cyclic_efficiency(angles: Floats, extra: Sequence[int], rows: int) -> float:
    # Complete sets of shifts sum to nothing.
    turned = np.outer(angles, np.asarray(extra))
    lost = (np.cos(turned).sum(axis=1) ** 2 + np.sin(turned).sum(axis=1) ** 2) / rows**2
    factors = 1 - lost
    if factors.min() < SAME:
        return 0.0
    return float(factors.size / np.sum(1 / factors))


def _treatments(plan: TrialPlan) -> tuple[Levels, ...]:
    return treatments_on(plan, AppliedTo.PLOT)


LATIN_SQUARE = Kind(_squares, _latin_square)
ROW_COLUMN = Kind(_rows, _rows_and_columns)
