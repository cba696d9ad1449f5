"""The map of a trial's beds to scale, to find every plot when the labels are gone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from math import cos, radians, sin
from pathlib import Path
from types import MappingProxyType

from fpdf.enums import Align

from trials.errors import PrintRefused
from trials.layout.plan import PlannedLayout, PlannedPlot
from trials.model.units import PaperSize, UnitSystem, feet_to_m
from trials.model.work_safety import STAKING, cautions
from trials.paper.fitting import Fitted, fit, line_height_mm, put
from trials.paper.page import LINE_MM, SMALL_PT, TEXT_PT, Column, Orientation, Sheet
from trials.paper.split_blocks import split_blocks_note
from trials.paper.strip_drawing import (
    PADDING_MM,
    PENS,
    SMALLEST_CODE_PT,
    SMALLEST_NAME_PT,
    StripDrawing,
    beside_mm,
    hatch,
    writing_m,
)
from trials.paper.strips import Arrangement, Room, arrange, groupings
from trials.paper.treatment import place_words, treatment_words

LEGEND_MM = 27.0
_SCALE_BARS_M = (0.5, 1, 2, 5, 10, 20, 50, 100)
_SCALE_BARS_FT = (1, 2, 5, 10, 20, 50, 100, 200)


class Slope(StrEnum):
    """How the ground changes over the map: along the beds as they are drawn, or across them."""

    RIGHT = "→"
    LEFT = "←"
    DOWN = "↓"
    UP = "↑"


@dataclass(frozen=True, slots=True)
class Ground:
    """How the beds lie, as far as it is known.

    Attributes
    ----------
    bearing_deg
        The compass bearing along the beds as they are measured: 0 is north, 90 is east.
    gradient
        What changes over the ground, in words such as "from wet to dry".
    slope
        The way on the map in which it changes.
    """

    bearing_deg: float | None = None
    gradient: str | None = None
    slope: Slope | None = None


NOT_TOLD = Ground()


def write_bed_map(
    layout: PlannedLayout,
    path: Path,
    *,
    farm: str,
    on: date,
    size: PaperSize = PaperSize.A4,
    ground: Ground = NOT_TOLD,
    units: UnitSystem = UnitSystem.METRIC,
) -> None:
    """Write the map of a trial's beds as a PDF, on as many pages as can be read.

    Beds run along the page and are cut into strips where they are long. Both ways are drawn to
    the one scale that is printed; the paths between beds are not. ``on`` is the date printed.
    A place that cannot be written is a `FileRefused`.
    """
    plan = layout.plan
    title = f"Bed map of {plan.code}: {plan.crop}, {plan.site}, {plan.season}"
    sheet = Sheet(title, farm, on, size, Orientation.LANDSCAPE)
    for text in filter(None, (split_blocks_note(layout), " ".join(cautions(*STAKING)))):
        sheet.say(text, size=SMALL_PT)
    groups = groupings(layout)
    words = {plot.code: plot_words(layout, plot) for plot in layout.plots}
    # A heading that runs over its page leaves none of it to the beds.
    used_mm = sheet.get_y() if sheet.page_no() == 1 else sheet.h
    body_mm = sheet.h - used_mm - sheet.b_margin - LEGEND_MM
    room = Room(sheet.epw, body_mm, beside_mm(groups))
    codes = dict.fromkeys(words, "")

    def readable(scale: int, words: Mapping[str, str]) -> bool:
        return not _unreadable(sheet, layout, scale, words)

    drawn = arrange(
        layout,
        room,
        lambda scale: readable(scale, words),
        lambda scale: readable(scale, codes),
    )
    keys = _keys(layout, words, _unreadable(sheet, layout, drawn.scale, words))
    words = {plot.code: plot_words(layout, plot, keys) for plot in layout.plots}
    drawing = StripDrawing(sheet, drawn.scale, groups, words, units=units)
    for number, strips in enumerate(drawn.pages):
        if number:
            sheet.add_page()
        top = sheet.get_y()
        for strip in strips:
            top = drawing.draw(strip, sheet.l_margin, top)
        _legend(sheet, layout, drawn, ground, units)
    if keys:
        sheet.set_y(sheet.h)  # the keys need a page of their own
        sheet.section("What the numbers on the map mean")
        sheet.grid(
            (Column("On the map", 1), Column("What grows there", 6)),
            [(key, text) for text, key in keys.items()],
        )
    sheet.save(path)


def plot_words(
    layout: PlannedLayout, plot: PlannedPlot, keys: Mapping[str, str] = MappingProxyType({})
) -> str:
    """What is written small in a plot: its treatment or the key to it, then its row and column."""
    treatment = treatment_words(layout, plot)
    return "\n".join(filter(None, (keys.get(treatment, treatment), place_words(plot))))


def _unreadable(
    sheet: Sheet, layout: PlannedLayout, scale: int, words: Mapping[str, str]
) -> frozenset[str]:
    """The words that do not fit below the code at that scale; the codes' own, if they do not."""
    widths = {bed.name: bed.width_m for bed in layout.plan.beds}
    smallest: dict[tuple[str, str], tuple[float, float]] = {}
    for plot in layout.plots:
        box = (writing_m(plot), widths[plot.bed])
        for key in (("", plot.code), (words[plot.code], "")):
            held = smallest.get(key, box)
            smallest[key] = (min(held[0], box[0]), min(held[1], box[1]))
    found: set[str] = set()
    for (text, code), (room_m, bed_m) in smallest.items():
        width = room_m * 1000 / scale - 2 * PADDING_MM
        height = bed_m * 1000 / scale - 2 * PADDING_MM
        if code:
            if (
                sheet.width_mm(code, SMALLEST_CODE_PT, bold=True) > width
                or line_height_mm(SMALLEST_CODE_PT) > height
            ):
                found.add(code)
        elif text and not _fits_below_code(sheet, text, width, height):
            found.add(text)
    return frozenset(found)


def _fits_below_code(sheet: Sheet, text: str, width: float, height: float) -> bool:
    below = height - line_height_mm(SMALLEST_CODE_PT)
    size = SMALLEST_NAME_PT
    fitted = fit(sheet, text, width, below, largest_pt=size, smallest_pt=size, part_words=False)
    return fitted is not None


def _keys(
    layout: PlannedLayout, words: Mapping[str, str], unreadable: frozenset[str]
) -> dict[str, str]:
    """A short key for each treatment that cannot be written in all of its plots."""
    treatments = dict.fromkeys(
        treatment_words(layout, plot) for plot in layout.plots if words[plot.code] in unreadable
    )
    return {treatment: f"№ {number}" for number, treatment in enumerate(treatments, 1)}


def _legend(
    sheet: Sheet, layout: PlannedLayout, drawn: Arrangement, ground: Ground, units: UnitSystem
) -> None:
    top = sheet.h - sheet.b_margin - LEGEND_MM + 2
    left = sheet.l_margin
    sheet.set_line_width(0.2)
    sheet.line(left, top, left + sheet.epw, top)
    _signs(sheet, layout, left, top + 2)
    _scale_bars(sheet, drawn, left + 0.42 * sheet.epw, top + 2, units)
    _compass(sheet, ground, left + sheet.epw - 62, top + 2)


def _signs(sheet: Sheet, layout: PlannedLayout, left: float, top: float) -> None:
    """What the lines and the hatching mean."""
    groups = groupings(layout)
    rows: list[str] = [f"{grouping.name}" for grouping in groups]
    for number, (text, pen) in enumerate(zip(rows, PENS, strict=False)):
        y = top + number * LINE_MM
        sheet.set_line_width(pen.width_mm)
        sheet.set_dash_pattern(pen.dash_mm, pen.gap_mm)
        sheet.rect(left, y + 0.8, 9, 3.2)
        sheet.set_dash_pattern()
        _say(sheet, text, left + 12, y)
    second = left + 40
    sheet.set_line_width(0.25)
    sheet.rect(second, top + 0.8, 9, 3.2)
    _say(sheet, "plot: its code and what grows in it", second + 12, top)
    row = 1
    if any(plot.net_length_m < plot.length_m - 1e-6 for plot in layout.plots):
        hatch(sheet, second, top + row * LINE_MM + 0.8, 9, 3.2)
        _say(sheet, "guard plants: never counted", second + 12, top + row * LINE_MM)
        row += 1
    _say(sheet, "Figures under a bed: where each plot begins", second, top + row * LINE_MM)
    count = len(layout.plots)
    beds = len({plot.bed for plot in layout.plots})
    text = f"{count} plots in {beds} {'bed' if beds == 1 else 'beds'}"
    _say(sheet, text, second, top + (row + 1) * LINE_MM)


def _scale_bars(
    sheet: Sheet, drawn: Arrangement, left: float, top: float, units: UnitSystem
) -> None:
    longest = 52.0
    scales = [(_SCALE_BARS_M, 1.0, "m"), (_SCALE_BARS_FT, feet_to_m(1), "ft")]
    for number, (bars, metres, unit) in enumerate(scales[units is UnitSystem.US :]):
        fitting = [bar for bar in bars if drawn.mm(bar * metres) <= longest] or [bars[0]]
        width = drawn.mm(fitting[-1] * metres)
        y = top + 1 + number * 1.7 * LINE_MM
        sheet.set_line_width(0.2)
        sheet.set_fill_color(0)
        for quarter in range(4):
            style = "DF" if quarter % 2 == 0 else "D"
            sheet.rect(left + quarter * width / 4, y, width / 4, 1.6, style=style)
        _say(sheet, "0", left - 0.8, y + 1.7)
        _say(sheet, f"{fitting[-1]:g} {unit}", left + width - 3, y + 1.7)
    _say(
        sheet,
        f"Scale 1 : {drawn.scale}, printed at 100%. Paths are not to scale.",
        left,
        top + 3.5 * LINE_MM,
    )


def _compass(sheet: Sheet, ground: Ground, left: float, top: float) -> None:
    """The arrow to the north, or a ring to draw it in, and the way the ground changes."""
    radius = 7.0
    x, y = left + 52, top + radius + 4
    sheet.set_line_width(0.3)
    sheet.circle(x, y, radius)
    if ground.bearing_deg is None:
        put(sheet, Fitted(("draw", "north"), 7, bold=False), x - radius, y - 4, 2 * radius, 8)
    else:
        # Along the beds is to the right; north lies that bearing anticlockwise of it.
        _arrow(sheet, x, y, radius, radians(ground.bearing_deg))
        at = radians(ground.bearing_deg)
        nx, ny = x + (radius + 2.6) * cos(at), y - (radius + 2.6) * sin(at)
        put(sheet, Fitted(("N",), 9, bold=True), nx - 2, ny - 2, 4, 4)
    text = "What changes: ____________" if ground.gradient is None else ground.gradient
    way = "draw an arrow" if ground.slope is None else ground.slope.value
    label = f"{text} {way}" if ground.gradient is not None else f"{text} ({way})"
    fitted = fit(sheet, label, 42, 18, largest_pt=9, smallest_pt=5)
    if fitted is None:
        raise PrintRefused(f"There is no room to print {text!r}. Use fewer words.")
    put(sheet, fitted, left - 4, top, 46, 18, Align.L)


def _arrow(sheet: Sheet, x: float, y: float, radius: float, angle: float) -> None:
    def place(reach: float, turn: float = 0.0) -> tuple[float, float]:
        return x + reach * cos(angle + turn), y - reach * sin(angle + turn)

    sheet.set_fill_color(0)
    sheet.polygon((place(radius), place(radius * 0.6, 2.6), place(radius * 0.6, -2.6)), style="DF")
    tail = place(-radius * 0.95)
    sheet.set_line_width(0.5)
    sheet.line(*tail, *place(0))
    sheet.set_line_width(0.2)


def _say(sheet: Sheet, text: str, left: float, top: float) -> None:
    line = Fitted((text,), TEXT_PT - 2, bold=False)
    put(sheet, line, left, top + (LINE_MM - line.line_mm) / 2, 100, line.line_mm, Align.L)
