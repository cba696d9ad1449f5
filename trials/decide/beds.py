"""Beds that are free in the same weeks planned as one, and what grows there shared out again."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from trials.decide.winter import Bed, PlanLine

Bools = NDArray[np.bool_]


def pooled(beds: Sequence[Bed]) -> list[list[Bed]]:
    """The beds by the weeks in which they are free."""
    pools: dict[bytes, list[Bed]] = {}
    for bed in beds:
        pools.setdefault(bed.free.tobytes(), []).append(bed)
    return list(pools.values())


def laid_out(
    sown: Sequence[tuple[int, Bools, float]], pool: Sequence[Bed], least_metres: float
) -> list[PlanLine]:
    """The lines of ``sown`` (crop, weeks it takes, metres), each in as few beds as are free.

    Those planted first are placed first, so whatever fits into the sum of the beds in each week
    finds its place, if need be in pieces (the greedy colouring of intervals). No piece is shorter
    than ``least_metres`` where the beds that are free allow it.
    """
    weeks = len(pool[0].free)
    left = {bed.name: np.full(weeks, float(bed.metres)) for bed in pool}
    lines = []
    for crop, takes, length in sorted(sown, key=lambda one: (int(np.argmax(one[1])), one[0])):
        start, metres = int(np.argmax(takes)), length
        # Everything placed so far began no later, so what is free at the start stays free.
        room = {name: float(free[start]) for name, free in left.items()}
        whole = [name for name in room if room[name] >= metres - 1e-9]
        order = [min(whole, key=lambda name: room[name])] if whole else []
        order += sorted((name for name in room if name not in order), key=lambda name: -room[name])
        for name, following in zip(order, [*order[1:], None], strict=True):
            here = min(metres, room[name])
            beyond = metres - here
            if following is not None and 1e-6 < beyond < least_metres <= room[following]:
                here = max(metres - least_metres, min(here, least_metres))
            if here > 1e-6:
                left[name][takes] -= here
                lines.append(PlanLine(crop, name, here))
                metres -= here
    return lines
