"""Who stands beside whom: along each bed, and across the path to the next bed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from trials.layout.plan import PlannedLayout, PlannedPlot
from trials.layout.treatments import entry_factor


@dataclass(frozen=True, slots=True)
class Neighbours:
    """How a layout's neighbours fell: pairs of plots side by side, and those of one variety.

    ``along`` counts pairs that share an end on a bed, ``across`` those that face one another over
    a path; ``alike_...`` how many of them are two plots of one variety. ``most_meetings`` is how
    often the commonest pair of varieties meets, ``fewest_possible`` what it would be if all pairs
    met equally often; None where varieties do not have equally many plots.
    """

    along: int
    alike_along: int
    across: int
    alike_across: int
    most_meetings: int
    fewest_possible: int | None


def neighbours(layout: PlannedLayout) -> Neighbours:
    """The neighbours of a layout. Beds follow one another as the plan lists them."""
    name = entry_factor(layout.plan).name
    entry = {plot.code: dict(plot.levels)[name] for plot in layout.plots}
    along, across = (
        [(entry[a.code], entry[b.code]) for a, b in pairs]
        for pairs in (list(_along(layout)), list(_across(layout)))
    )
    met = Counter(tuple(sorted(pair)) for pair in (*along, *across) if pair[0] != pair[1])
    plots = Counter(entry.values())
    pairs = len(plots) * (len(plots) - 1) // 2
    equal = len(set(plots.values())) == 1
    return Neighbours(
        len(along),
        sum(a == b for a, b in along),
        len(across),
        sum(a == b for a, b in across),
        max(met.values(), default=0),
        -(-met.total() // pairs) if equal else None,
    )


def _along(layout: PlannedLayout) -> Iterator[tuple[PlannedPlot, PlannedPlot]]:
    for plots in _by_bed(layout).values():
        yield from pairwise(plots)


def _across(layout: PlannedLayout) -> Iterator[tuple[PlannedPlot, PlannedPlot]]:
    """Plots of neighbouring beds whose stretches of bed overlap."""
    beds = _by_bed(layout)
    order = [bed.name for bed in layout.plan.beds]
    for here, beside in pairwise(order):
        for plot in beds.get(here, ()):
            for other in beds.get(beside, ()):
                shared = min(plot.start_m + plot.length_m, other.start_m + other.length_m) - max(
                    plot.start_m, other.start_m
                )
                if shared > 1e-6:
                    yield plot, other


def _by_bed(layout: PlannedLayout) -> dict[str, list[PlannedPlot]]:
    beds: dict[str, list[PlannedPlot]] = {}
    for plot in sorted(layout.plots, key=lambda plot: plot.start_m):
        beds.setdefault(plot.bed, []).append(plot)
    return beds


def sameness(found: Neighbours) -> tuple[int, int]:
    """What an order by lot is chosen for, the less the better: likes side by side, then repeats."""
    return found.alike_along + found.alike_across, found.most_meetings


def freshest(layouts: Iterable[PlannedLayout]) -> PlannedLayout:
    """Of several draws of one plan that with the freshest neighbours, the first of equals.

    No further ones are drawn after one that nothing can be fresher than.
    """
    best: tuple[tuple[int, int], PlannedLayout] | None = None
    for layout in layouts:
        found = neighbours(layout)
        if best is None or sameness(found) < best[0]:
            best = sameness(found), layout
        if best[0] <= (0, found.fewest_possible or 1):
            break
    if best is None:
        raise ValueError("no layout was drawn")
    return best[1]
