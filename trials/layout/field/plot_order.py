"""Plots onto beds: along the walk with units kept whole, or in rectangles of beds side by side."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from math import floor

from trials.layout.field.beds import STRAY
from trials.layout.plan import Bed


@dataclass(frozen=True, slots=True)
class Spot:
    """A plot's place in the layout before it has any ground: the units it belongs to.

    In layouts that need beds side by side ``across`` counts the beds of its rectangle, ``along``
    the plots from the head of it; ``rectangle`` numbers the rectangles.
    """

    block: str | None = None
    whole_plot: str | None = None
    split_plot: str | None = None
    incomplete_block: str | None = None
    row: str | None = None
    column: str | None = None
    rectangle: int = 0
    across: int | None = None
    along: int = 0


@dataclass(frozen=True, slots=True)
class Place:
    """A plot's ground: which bed of the plan, and how many plots lie between it and the head."""

    bed: int
    from_head: int


def capacities(beds: Sequence[Bed], plot_length_m: float) -> tuple[int, ...]:
    """How many whole plots each bed holds."""
    return tuple(floor(bed.length_m / plot_length_m + STRAY) for bed in beds)


def places(spots: Sequence[Spot], room: Sequence[int]) -> tuple[Place, ...] | None:
    """Ground for every plot, in the order of ``spots``; None where the beds do not hold them.

    ``room`` is how many plots each bed holds. Plots in a run are walked up one bed and down the
    next. Blocks are kept within a bed where they can be; failing that they begin with a bed;
    failing that they follow one another. Whole plots are never cut by the end of a bed, and
    incomplete blocks only where nothing else fits.
    """
    if any(spot.across is not None for spot in spots):
        return _in_rectangles(spots, room)
    blocks = [list(inside) for _, inside in groupby(spots, key=lambda spot: spot.block)]
    for units, begin_with_bed in _ways(blocks):
        packed = _packed(units, room, begin_with_bed)
        if packed is not None:
            return _walked(packed)
    return None


def walking_order(ground: Sequence[Place]) -> list[int]:
    """The places' indices as one walks: up the first bed that is used, down the second."""
    used = {bed: turn for turn, bed in enumerate(sorted({place.bed for place in ground}))}

    def step(index: int) -> tuple[int, int]:
        place = ground[index]
        turn = used[place.bed]
        return turn, place.from_head if turn % 2 == 0 else -place.from_head

    return sorted(range(len(ground)), key=step)


# --- runs along the walk ----------------------------------------------------------------------


def _ways(blocks: list[list[Spot]]) -> Iterator[tuple[list[list[int]], bool]]:
    """Ways of cutting blocks into pieces that stay whole (their sizes), the best first."""
    yield [[len(block)] for block in blocks], False
    has_whole_plots = any(spot.whole_plot is not None for block in blocks for spot in block)
    unit: Callable[[Spot], str | None] = (
        (lambda spot: spot.whole_plot) if has_whole_plots else (lambda spot: spot.incomplete_block)
    )
    cut = [[len(list(inside)) for _, inside in groupby(block, key=unit)] for block in blocks]
    if any(len(pieces) > 1 for pieces in cut):
        yield cut, True
        yield cut, False
    if not has_whole_plots:
        single = [[1] * len(block) for block in blocks]
        yield single, True
        yield single, False


def _packed(
    blocks: list[list[int]], room: Sequence[int], begin_with_bed: bool
) -> list[list[int]] | None:
    """Sizes of pieces bed by bed, each piece in the first bed on the walk with room for it."""
    beds: list[list[int]] = [[] for _ in room]
    bed = 0
    for pieces in blocks:
        if (
            begin_with_bed
            and bed < len(room)
            and beds[bed]
            and sum(beds[bed]) + sum(pieces) > room[bed]
        ):
            bed += 1
        for piece in pieces:
            while bed < len(room) and sum(beds[bed]) + piece > room[bed]:
                bed += 1
            if bed == len(room):
                return None
            beds[bed].append(piece)
    return beds


def _walked(packed: list[list[int]]) -> tuple[Place, ...]:
    ground: list[Place] = []
    turn = 0
    for bed, pieces in enumerate(packed):
        plots = sum(pieces)
        if plots:
            up = range(plots)
            ground += [Place(bed, i) for i in (up if turn % 2 == 0 else reversed(up))]
            turn += 1
    return tuple(ground)


# --- rectangles of beds side by side ----------------------------------------------------------


def _in_rectangles(spots: Sequence[Spot], room: Sequence[int]) -> tuple[Place, ...] | None:
    """Rectangles one behind the other on neighbouring beds, then on the next beds."""
    wide = 1 + max(spot.across or 0 for spot in spots)
    deep = 1 + max(spot.along for spot in spots)
    wanted = 1 + max(spot.rectangle for spot in spots)
    corners: list[tuple[int, int]] = []
    bed = 0
    while bed + wide <= len(room) and len(corners) < wanted:
        fit = min(room[bed : bed + wide]) // deep
        corners += [(bed, i * deep) for i in range(fit)]
        bed += wide if fit else 1
    if len(corners) < wanted:
        return None
    return tuple(
        Place(
            corners[spot.rectangle][0] + (spot.across or 0), corners[spot.rectangle][1] + spot.along
        )
        for spot in spots
    )
