"""The beds as they lie: what grows in each plot, its figure, or how far that is from its like."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from itertools import pairwise

from trials.drawing.inks import MORES, SHORTS, STEPS, Ink
from trials.drawing.picture import Anchor, Box, Line, Mark, Picture, Words
from trials.drawing.scales import lines_of, width_px
from trials.report.figures import Figures
from trials.report.pictures.frame import (
    EDGE_PX,
    SMALL_PX,
    box_sign,
    key,
    shaded,
)
from trials.stats.season_views import PlotSeen

# Plots of a bed on one line: of a wide picture, of one with names in the plots, of a narrow one.
MOST_ACROSS, MOST_NAMED_ACROSS, MOST_NARROW = 12, 8, 4
CELL_PX, HEAD_PX = 44.0, 22.0
FIGURE_PX, CODE_PX = 13.0, 10.0
NARROW_BELOW_PX = 500


class Showing(StrEnum):
    """What stands in each plot of the map."""

    TREATMENT = "what grows there"
    VALUE = "its figure"
    APART = "difference from the same treatment elsewhere"


def bed_map_picture(
    plots: Sequence[PlotSeen], measure: str, figures: Figures, showing: Showing, width: int
) -> Picture:
    """The plots in their beds, in the order in which you walk them.

    On a wide picture beds lie level, cut after ``MOST_ACROSS`` plots; on a narrow one they lie
    side by side and run down.
    """
    head, at = _key(plots, figures, showing, width)
    if width >= NARROW_BELOW_PX:
        most = MOST_NAMED_ACROSS if showing is Showing.TREATMENT else MOST_ACROSS
        cells, marks, height = _level(plots, width, at, most)
    elif showing is Showing.TREATMENT:
        cells, marks, height = _level(plots, width, at, MOST_NARROW)
    else:
        cells, marks, height = _down(plots, width, at)
    for plot in plots:
        marks += _cell(plot, cells[plot.plot], plots, figures, showing)
    return Picture(
        name=f"beds-{showing.name.lower()}",
        title=_title(measure, showing),
        note=_note(showing),
        alt=f"{len(plots)} plots in {len({plot.bed for plot in plots})} beds",
        width=width,
        height=height,
        marks=(*head, *marks),
        columns=(
            *("plot", "bed", "position", "block", "treatment"),
            f"{measure} ({figures.unit})",
            "difference from the mean of its treatment",
        ),
        rows=tuple(
            (
                *(plot.plot, plot.bed, plot.position, plot.block, ", ".join(plot.treatment)),
                None if plot.value is None else plot.value * figures.factor,
                None if plot.apart is None else plot.apart * figures.factor,
            )
            for plot in plots
        ),
    )


def _title(measure: str, showing: Showing) -> str:
    return {
        Showing.TREATMENT: "What grows where",
        Showing.VALUE: f"{measure.capitalize()} in the beds",
        Showing.APART: "Good and poor ground",
    }[showing]


def _note(showing: Showing) -> str:
    return {
        Showing.TREATMENT: "Beds in the order in which you walk them; not to scale.",
        Showing.VALUE: "Each plot's own figure where it lies. The stronger the colour, the more.",
        Showing.APART: (
            "Each plot's figure less the mean of its treatment. Plots of one sign lying together "
            "show better or poorer ground, or work that was not alike."
        ),
    }[showing]


_Cell = tuple[float, float, float, float]  # x, y, width, height


def _level(
    plots: Sequence[PlotSeen], width: float, top: float, most: int
) -> tuple[dict[str, _Cell], list[Mark], float]:
    cells: dict[str, _Cell] = {}
    marks: list[Mark] = []
    y = top
    for bed, of_bed in _beds(plots).items():
        marks.append(Words(EDGE_PX, y + HEAD_PX / 2, bed, SMALL_PX, bold=True))
        y += HEAD_PX
        wide = (width - 2 * EDGE_PX) / min(most, max(len(of_bed), 4))
        for n, plot in enumerate(of_bed):
            if n and n % most == 0:
                y += CELL_PX + 4
            cells[plot.plot] = (EDGE_PX + n % most * wide, y, wide, CELL_PX)
        marks += _block_lines(of_bed, cells, level=True)
        y += CELL_PX + 8
    return cells, marks, y


def _down(
    plots: Sequence[PlotSeen], width: float, top: float
) -> tuple[dict[str, _Cell], list[Mark], float]:
    beds = _beds(plots)
    wide = min((width - 2 * EDGE_PX) / len(beds), 110.0)
    high = 26.0
    cells: dict[str, _Cell] = {}
    marks: list[Mark] = []
    for b, (bed, of_bed) in enumerate(beds.items()):
        x = EDGE_PX + b * wide
        name = lines_of(bed, wide - 2, SMALL_PX, most=1)[0]
        marks.append(Words(x + 2, top + HEAD_PX / 2, name, SMALL_PX, bold=True))
        for n, plot in enumerate(of_bed):
            cells[plot.plot] = (x, top + HEAD_PX + n * high, wide, high)
        marks += _block_lines(of_bed, cells, level=False)
    longest = max(len(of_bed) for of_bed in beds.values())
    return cells, marks, top + HEAD_PX + longest * high + 6


def _beds(plots: Sequence[PlotSeen]) -> dict[str, list[PlotSeen]]:
    beds: dict[str, list[PlotSeen]] = {}
    for plot in plots:
        beds.setdefault(plot.bed, []).append(plot)
    return beds


def _block_lines(of_bed: Sequence[PlotSeen], cells: dict[str, _Cell], *, level: bool) -> list[Mark]:
    """Where one block of a bed ends and the next begins."""
    marks: list[Mark] = []
    for before, plot in pairwise(of_bed):
        if before.block == plot.block:
            continue
        x, y, wide, high = cells[plot.plot]
        ends = ((x, y - 3), (x, y + high + 3)) if level else ((x, y), (x + wide, y))
        marks.append(Line(ends, Ink.TEXT, 4))
    return marks


def _cell(
    plot: PlotSeen, cell: _Cell, plots: Sequence[PlotSeen], figures: Figures, showing: Showing
) -> list[Mark]:
    x, y, wide, high = cell
    ink = _ink(plot, plots, showing)
    box = Box(
        x + 1, y + 1, wide - 2, high - 2, ink, Ink.STONE if showing is Showing.TREATMENT else None
    )
    if showing is Showing.TREATMENT:
        return [box, *_treatment(plot, cell)]
    value = plot.value if showing is Showing.VALUE else plot.apart
    text = "–" if value is None else _figure(value, figures, showing)
    size = FIGURE_PX if width_px(text, FIGURE_PX) <= wide - 4 else CODE_PX
    middle = x + wide / 2
    if high < CELL_PX:
        return [box, Words(middle, y + high / 2, text, size, Anchor.MIDDLE, on=ink)]
    return [
        box,
        Words(middle, y + high * 0.36, text, size, Anchor.MIDDLE, bold=True, on=ink),
        Words(middle, y + high * 0.74, plot.plot, CODE_PX, Anchor.MIDDLE, on=ink),
    ]


def _treatment(plot: PlotSeen, cell: _Cell) -> list[Mark]:
    """The plot's code, and each of its levels on a line of its own."""
    x, y, wide, high = cell
    levels = [lines_of(level, wide - 6, CODE_PX, most=1)[0] for level in plot.treatment]
    step = (high - 4) / (1 + len(levels))
    return [
        Words(x + wide / 2, y + 2 + step * (n + 0.5), text, CODE_PX, Anchor.MIDDLE, bold=n == 0)
        for n, text in enumerate((plot.plot, *levels))
    ]


def _figure(value: float, figures: Figures, showing: Showing) -> str:
    return figures.number(value) if showing is Showing.VALUE else figures.signed(value)


def _ink(plot: PlotSeen, plots: Sequence[PlotSeen], showing: Showing) -> Ink:
    if showing is Showing.TREATMENT:
        return Ink.CARD
    if showing is Showing.VALUE:
        known = [each.value for each in plots if each.value is not None]
        return Ink.BAND if plot.value is None else STEPS[shaded(known, plot.value, len(STEPS))]
    if plot.apart is None:
        return Ink.BAND
    reach = max(abs(each.apart) for each in plots if each.apart is not None) or 1.0
    return APART_INKS[shaded([-reach, reach], plot.apart, len(APART_INKS))]


# From far below to far above the same treatment elsewhere: clay and blue, as green next to clay
# looks alike without red or green vision.
APART_INKS = (*reversed(SHORTS), Ink.CARD, *MORES)


def _key(
    plots: Sequence[PlotSeen], figures: Figures, showing: Showing, width: float
) -> tuple[tuple[Mark, ...], float]:
    if showing is Showing.TREATMENT:
        return (), 0.0
    if showing is Showing.APART:
        return key(
            (
                (box_sign(APART_INKS[0]), "less than elsewhere"),
                (box_sign(APART_INKS[3], Ink.STONE), "alike"),
                (box_sign(APART_INKS[-1]), "more than elsewhere"),
            ),
            width,
        )
    known = [each.value for each in plots if each.value is not None]
    if not known:
        return (), 0.0
    return key(
        (
            (box_sign(STEPS[0]), figures.amount(min(known))),
            (box_sign(STEPS[-1]), figures.amount(max(known))),
        ),
        width,
    )
