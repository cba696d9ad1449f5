"""Cuts the beds of a trial into strips that fit a page to scale, and chooses that scale."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from trials.errors import PrintRefused
from trials.layout.plan import PlannedLayout, PlannedPlot

# From the largest drawing to the smallest; the last ones only for very long plots.
SCALES = (
    *(20, 25, 30, 35, 40, 45, 50, 60, 70, 75, 80, 90, 100, 110, 120, 125, 140, 150, 175, 200),
    *(250, 300, 400, 500, 1000, 2000, 5000),
)
_SLACK_M = 1e-6


@dataclass(frozen=True, slots=True)
class Strip:
    """A piece of a bed with its plots in the order of their bearing along it.

    ``part`` of ``parts`` tells the pieces of one bed apart.
    """

    bed: str
    bed_length_m: float
    width_m: float
    plots: tuple[PlannedPlot, ...]
    part: int
    parts: int

    @property
    def start_m(self) -> float:
        """Where the strip begins along the bed."""
        return self.plots[0].start_m

    @property
    def end_m(self) -> float:
        """Where the strip ends along the bed."""
        return max(plot.start_m + plot.length_m for plot in self.plots)

    @property
    def walked_upwards(self) -> bool | None:
        """Whether the walk goes the way the bed is measured; None where that does not show."""
        steps = [b.position - a.position for a, b in zip(self.plots, self.plots[1:], strict=False)]
        if steps and all(step > 0 for step in steps):
            return True
        return False if steps and all(step < 0 for step in steps) else None


@dataclass(frozen=True, slots=True)
class Room:
    """The part of a page that strips may fill, and what a strip needs beside its bed."""

    width_mm: float
    height_mm: float
    beside_mm: float


@dataclass(frozen=True, slots=True)
class Arrangement:
    """Strips by page, at a scale of 1 to ``scale``."""

    scale: int
    pages: tuple[tuple[Strip, ...], ...]

    def mm(self, metres: float) -> float:
        """A length on the ground as it is drawn."""
        return metres * 1000 / self.scale


@dataclass(frozen=True, slots=True)
class Grouping:
    """What some plots next to each other have in common, and how that is called."""

    name: str
    of: Callable[[PlannedPlot], str | None]


def _named(*parts: str | None) -> str | None:
    """The name of a unit within the larger ones it lies in; names may come again in those."""
    return None if parts[-1] is None else "\0".join(part or "" for part in parts)


_GROUPINGS = (
    Grouping("block", lambda plot: _named(plot.block)),
    Grouping("small block", lambda plot: _named(plot.block, plot.incomplete_block)),
    Grouping("whole plot", lambda plot: _named(plot.block, plot.whole_plot)),
    Grouping("split plot", lambda plot: _named(plot.block, plot.whole_plot, plot.split_plot)),
)


def groupings(layout: PlannedLayout) -> tuple[Grouping, ...]:
    """The groupings that the layout has, the largest first."""
    return tuple(
        grouping
        for grouping in _GROUPINGS
        if any(grouping.of(plot) is not None for plot in layout.plots)
    )


def runs(strip: Strip, grouping: Grouping) -> Iterator[tuple[str, PlannedPlot, PlannedPlot]]:
    """The name, first plot and last plot of each run of plots that belong together."""
    for key, members in groupby(strip.plots, key=grouping.of):
        if key is not None:
            plots = list(members)
            yield key.rpartition("\0")[2], plots[0], plots[-1]


def arrange(
    layout: PlannedLayout,
    room: Room,
    legible: Callable[[int], bool],
    spare: Callable[[int], bool],
) -> Arrangement:
    """Choose the scale, and the pages, at which the beds are drawn.

    Parameters
    ----------
    room
        What a page offers.
    legible
        Whether everything written in the plots can be read at a scale.
    spare
        The same, if long names are replaced by keys.

    Returns
    -------
    Arrangement
        The largest drawing on one page that is legible, with unbroken beds where that can be;
        else as many pages as legibility needs; else the largest drawing that a page holds.

    Raises
    ------
    PrintRefused
        No page holds a plot at any scale.
    """
    for readable in (legible, spare):
        for whole_beds in (True, False):
            for scale in filter(readable, SCALES):
                pages = _pages(layout, room, scale, whole_beds=whole_beds)
                if pages is not None and len(pages) == 1:
                    return Arrangement(scale, pages)
        fewest = [
            (len(pages), not whole_beds, scale, pages)
            for scale in filter(readable, SCALES)
            for whole_beds in (True, False)
            if (pages := _pages(layout, room, scale, whole_beds=whole_beds)) is not None
        ]
        if fewest:
            count, _, scale, pages = min(fewest, key=lambda found: found[:3])
            # Beyond a page for a dozen plots a map is no longer one: keys serve better.
            if count <= 1 + len(layout.plots) // 12 or readable is spare:
                return Arrangement(scale, pages)
    for scale in SCALES:
        pages = _pages(layout, room, scale, whole_beds=False)
        if pages is not None:
            return Arrangement(scale, pages)
    raise PrintRefused(
        "The map's heading leaves no room for the beds, or a plot is longer than a page. Choose "
        "larger paper, or shorter names of the farm, site and crop."
    )


def _pages(
    layout: PlannedLayout, room: Room, scale: int, *, whole_beds: bool
) -> tuple[tuple[Strip, ...], ...] | None:
    """Strips by page, or None where a bed or a plot is too large for the page."""
    longest_m = room.width_mm * scale / 1000
    pages: list[list[Strip]] = [[]]
    left_mm = room.height_mm
    for strips in beds(layout, longest_m):
        if strips is None or (whole_beds and len(strips) > 1):
            return None
        for strip in strips:
            height_mm = strip.width_m * 1000 / scale + room.beside_mm
            if height_mm > room.height_mm:
                return None
            if height_mm > left_mm:
                pages.append([])
                left_mm = room.height_mm
            pages[-1].append(strip)
            left_mm -= height_mm
    return tuple(tuple(page) for page in pages)


def beds(layout: PlannedLayout, longest_m: float) -> Iterator[tuple[Strip, ...] | None]:
    """The strips of each bed that has plots, in the order of the plan; None where one is too long.

    A bed is cut between plots into as few strips as can be, of lengths as equal as can be.
    """
    sizes = {bed.name: bed for bed in layout.plan.beds}
    by_bed: dict[str, list[PlannedPlot]] = {name: [] for name in sizes}
    for plot in layout.plots:
        by_bed.setdefault(plot.bed, []).append(plot)
    for name, members in by_bed.items():
        if not members:
            continue
        plots = sorted(members, key=lambda plot: plot.start_m)
        cut = _cut(plots, longest_m)
        if cut is None:
            yield None
            continue
        bed = sizes[name]
        yield tuple(
            Strip(name, bed.length_m, bed.width_m, part, number, len(cut))
            for number, part in enumerate(cut, 1)
        )


def _cut(
    plots: Sequence[PlannedPlot], longest_m: float
) -> tuple[tuple[PlannedPlot, ...], ...] | None:
    if max(plot.length_m for plot in plots) > longest_m + _SLACK_M:
        return None
    fewest = _fill(plots, longest_m)
    shortest = max(plot.length_m for plot in plots) - _SLACK_M
    lengths = sorted(
        {
            length
            for a in plots
            for b in plots
            if shortest <= (length := b.start_m + b.length_m - a.start_m) <= longest_m
        }
    )
    # The longer a strip may be, the fewer are needed: the first that suffices evens them out.
    even = bisect_left(lengths, -len(fewest), key=lambda length: -len(_fill(plots, length)))
    return _fill(plots, lengths[even]) if even < len(lengths) else fewest


def _fill(plots: Sequence[PlannedPlot], longest_m: float) -> tuple[tuple[PlannedPlot, ...], ...]:
    parts: list[list[PlannedPlot]] = [[]]
    for plot in plots:
        first = parts[-1][0] if parts[-1] else plot
        if plot.start_m + plot.length_m - first.start_m > longest_m + _SLACK_M:
            parts.append([])
        parts[-1].append(plot)
    return tuple(tuple(part) for part in parts)
