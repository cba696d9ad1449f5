"""Draws one strip of a bed to scale: plots, guards, what belongs together, and a tape along it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from fpdf.enums import Align

from trials.errors import PrintRefused
from trials.layout.plan import PlannedPlot
from trials.model.units import UnitSystem, m_to_feet
from trials.paper.fitting import Fitted, fit, line_height_mm, put
from trials.paper.page import Paper
from trials.paper.strips import Grouping, Strip, runs

CODE_PT, SMALLEST_CODE_PT = 16.0, 9.0
NAME_PT, SMALLEST_NAME_PT = 9.0, 6.0
HEAD_PT, LABEL_PT, TAPE_PT = 9.0, 8.0, 6.0
LAST_RESORT_PT = 2.5
PADDING_MM = 0.7
LABEL_MM = line_height_mm(LABEL_PT) + 0.3
HEAD_MM = line_height_mm(HEAD_PT) + 0.4
TAPE_MM = 2 * line_height_mm(TAPE_PT) + 1.6
GAP_MM = 3.5
HATCH_MM = 1.3
OVER_GUARD = 0.6  # the share of a guard's hatching that words may cover
PLOT_LINE_MM, HATCH_LINE_MM = 0.25, 0.1


@dataclass(frozen=True, slots=True)
class Pen:
    """How a grouping is outlined: the line's width, its dashes, how far it stands off the bed."""

    width_mm: float
    off_mm: float
    dash_mm: float = 0
    gap_mm: float = 0


PENS = (Pen(0.9, 2.3), Pen(0.55, 1.4), Pen(0.45, 0.7, 1.6, 1.0), Pen(0.4, 0.2, 0.4, 0.6))


def beside_mm(groups: Sequence[Grouping]) -> float:
    """What a strip needs above and below its bed."""
    return HEAD_MM + LABEL_MM * len(groups) + 2 * PENS[0].off_mm + TAPE_MM + GAP_MM


def guard_m(plot: PlannedPlot) -> float:
    """The length of a plot's guard at each end."""
    return max(0.0, plot.length_m - plot.net_length_m) / 2


def writing_m(plot: PlannedPlot) -> float:
    """The length of a plot that may be written on: its net length and part of its guards."""
    return plot.length_m - 2 * guard_m(plot) * (1 - OVER_GUARD)


@dataclass(frozen=True, slots=True)
class StripDrawing:
    """Draws strips on a document at a scale: one millimetre for ``scale`` on the ground.

    ``words`` has what is written small in each plot, by its code. ``lines`` makes all outlines
    thinner on a small map. ``units`` are those of the farm's tape: in metric, feet stand below.
    """

    paper: Paper
    scale: float
    groups: tuple[Grouping, ...]
    words: Mapping[str, str]
    smallest_code_pt: float = SMALLEST_CODE_PT
    lines: float = 1.0
    units: UnitSystem = UnitSystem.METRIC

    def mm(self, metres: float) -> float:
        """A length on the ground as it is drawn."""
        return metres * 1000 / self.scale

    def draw(self, strip: Strip, left_mm: float, top_mm: float) -> float:
        """Draw a strip with its heading and tape; returns the place below it."""
        paper = self.paper
        heading = fit(
            paper,
            _heading(strip, self.units),
            paper.w - left_mm - paper.r_margin,
            HEAD_MM,
            largest_pt=HEAD_PT,
            smallest_pt=5,
            bold=True,
        )
        if heading is None:
            raise PrintRefused(
                f"There is no room to print the bed's name {strip.bed!r}. Give it a shorter one."
            )
        put(paper, heading, left_mm, top_mm, paper.epw, HEAD_MM, Align.L)
        bed_top = top_mm + HEAD_MM + LABEL_MM * len(self.groups) + PENS[0].off_mm
        self.bed(strip, left_mm, bed_top)
        self._labels(strip, left_mm, top_mm + HEAD_MM)
        bottom = bed_top + self.mm(strip.width_m)
        self._tape(strip, left_mm, bottom + PENS[0].off_mm)
        return bottom + PENS[0].off_mm + TAPE_MM + GAP_MM

    def bed(self, strip: Strip, left_mm: float, top_mm: float) -> None:
        """Draw the plots of a strip and the outlines of what belongs together."""
        paper, height = self.paper, self.mm(strip.width_m)
        for plot in strip.plots:
            left = left_mm + self.mm(plot.start_m - strip.start_m)
            width = self.mm(plot.length_m)
            guard = self.mm(guard_m(plot))
            for end in (left, left + width - guard):
                hatch(paper, end, top_mm, guard, height)
            paper.set_line_width(PLOT_LINE_MM * self.lines)
            paper.rect(left, top_mm, width, height)
            room = self.mm(writing_m(plot))
            self._write(plot, left + (width - room) / 2, top_mm, room, height)
        for grouping, pen in zip(self.groups, PENS, strict=False):
            off = pen.off_mm * self.lines
            paper.set_line_width(pen.width_mm * self.lines)
            paper.set_dash_pattern(pen.dash_mm, pen.gap_mm)
            for _, first, last in runs(strip, grouping):
                left = left_mm + self.mm(first.start_m - strip.start_m)
                width = self.mm(last.start_m + last.length_m - first.start_m)
                paper.rect(left, top_mm - off, width, height + 2 * off)
            paper.set_dash_pattern()
        paper.set_line_width(PLOT_LINE_MM)

    def _write(
        self, plot: PlannedPlot, left: float, top: float, width: float, height: float
    ) -> None:
        padding = PADDING_MM * self.lines
        left, width = left + padding, width - 2 * padding
        top, height = top + padding, height - 2 * padding
        words, code = self.fitted(plot, width, height)
        used = 0.0 if words is None else words.height_mm
        if code is not None:
            self._on_white(code, left, top, width, height - used)
        if words is not None:
            self._on_white(words, left, top + height - used, width, used)

    def _on_white(
        self, fitted: Fitted, left: float, top: float, width: float, height: float
    ) -> None:
        """Print words over whatever hatching they reach into."""
        paper = self.paper
        wide = 0.4 + max(
            paper.width_mm(line, fitted.size_pt, bold=fitted.bold) for line in fitted.lines
        )
        tall = fitted.height_mm
        paper.set_fill_color(255)
        paper.rect(left + (width - wide) / 2, top + (height - tall) / 2, wide, tall, style="F")
        put(paper, fitted, left, top, width, height)

    def fitted(
        self, plot: PlannedPlot, width: float, height: float
    ) -> tuple[Fitted | None, Fitted | None]:
        """What is written small and large in a plot; the code is made to fit first."""
        code = self._fit(plot.code, width, height, CODE_PT, self.smallest_code_pt, bold=True)
        text = self.words[plot.code]
        if code is None or not text:
            return None, code
        least = min(line_height_mm(SMALLEST_CODE_PT), code.height_mm)
        words = self._fit(text, width, height - least, NAME_PT, SMALLEST_NAME_PT)
        if words is None:
            return None, code
        while code.height_mm + words.height_mm > height and code.size_pt > self.smallest_code_pt:
            code = Fitted(code.lines, code.size_pt - 0.5, bold=True)
        return words, code

    def _fit(
        self,
        text: str,
        width: float,
        height: float,
        largest_pt: float,
        smallest_pt: float,
        *,
        bold: bool = False,
    ) -> Fitted | None:
        """Type that is easily read, or else whatever is small enough to leave nothing out."""
        for smallest in (smallest_pt, LAST_RESORT_PT):
            fitted = fit(
                self.paper,
                text,
                width,
                height,
                largest_pt=largest_pt,
                smallest_pt=smallest,
                bold=bold,
            )
            if fitted is not None:
                return fitted
        return None

    def _labels(self, strip: Strip, left_mm: float, top_mm: float) -> None:
        for row, grouping in enumerate(self.groups):
            for name, first, last in runs(strip, grouping):
                left = left_mm + self.mm(first.start_m - strip.start_m)
                width = self.mm(last.start_m + last.length_m - first.start_m) - 1
                label = self._label((f"{grouping.name} {name}", name), width)
                put(self.paper, label, left, top_mm + row * LABEL_MM, width, LABEL_MM, Align.L)

    def _label(self, texts: Iterable[str], width: float) -> Fitted:
        """The first of the texts that fits on a line; else the last, seen to be cut."""
        text = ""
        for text in texts:
            for size in (LABEL_PT, 7, 6, 5):
                if self.paper.width_mm(text, size) <= width:
                    return Fitted((text,), size, bold=False)
        while text and self.paper.width_mm(f"{text}…", 5) > width:
            text = text[:-1]
        return Fitted((f"{text}…",), 5, bold=False)

    def _tape(self, strip: Strip, left_mm: float, top_mm: float) -> None:
        """Marks where plots begin and the strip ends, as the farm's tape shows them."""
        paper = self.paper
        places = [plot.start_m for plot in strip.plots] + [strip.end_m]
        line = line_height_mm(TAPE_PT)
        paper.set_line_width(0.2)
        # The ends are always told; those between where there is room.
        order = [places[0], places[-1], *places[1:-1]]
        taken: list[tuple[float, float]] = []
        for place in order:
            x = left_mm + self.mm(place - strip.start_m)
            paper.line(x, top_mm, x, top_mm + 1.2)
            rows = [metres(place)] if self.units is UnitSystem.METRIC else []
            rows.append(feet_and_inches(place))
            width = max(paper.width_mm(text, TAPE_PT) for text in rows)
            here = (x - width / 2 - 0.6, x + width / 2 + 0.6)
            if any(here[0] < right and left < here[1] for left, right in taken):
                continue
            taken.append(here)
            for number, text in enumerate(rows):
                put(
                    paper,
                    Fitted((text,), TAPE_PT, bold=False),
                    x - width / 2,
                    top_mm + 1.3 + number * line,
                    width,
                    line,
                )


def hatch(paper: Paper, left: float, top: float, width: float, height: float) -> None:
    """Fill a rectangle with slanting lines."""
    if width <= 0.05:
        return
    paper.set_line_width(HATCH_LINE_MM)
    paper.rect(left, top, width, height)
    offset = HATCH_MM
    while offset < width + height:
        # The line x + y = offset, from where it enters the rectangle to where it leaves.
        x0, y0 = max(0.0, offset - height), min(offset, height)
        x1, y1 = min(offset, width), max(0.0, offset - width)
        paper.line(left + x0, top + y0, left + x1, top + y1)
        offset += HATCH_MM


def _heading(strip: Strip, units: UnitSystem) -> str:
    part = f", part {strip.part} of {strip.parts}" if strip.parts > 1 else ""
    first, last = strip.plots[0].position, strip.plots[-1].position
    walk = f"plot {first}"
    if strip.walked_upwards is True:
        walk = f"walk → from plot {first} to {last}"
    elif strip.walked_upwards is False:
        walk = f"walk ← from plot {last} to {first}"
    tape = feet_and_inches if units is UnitSystem.US else metres
    place = f"{tape(strip.start_m)}–{tape(strip.end_m)} of {tape(strip.bed_length_m)}"
    return f"{bed_words(strip.bed)}{part}   ·   {place}   ·   {walk}"


def bed_words(name: str) -> str:
    """A bed's name, called a bed if the name does not say so itself."""
    return name if "bed" in name.casefold() else f"Bed {name}"


def metres(length_m: float) -> str:
    """A length as a tape in metres shows it, to the centimetre."""
    return f"{round(length_m, 2):.2f}".rstrip("0").rstrip(".") + " m"


def feet_and_inches(length_m: float) -> str:
    """A length as a tape in feet shows it, to the nearest inch.

    >>> feet_and_inches(3.048)
    '10′'
    >>> feet_and_inches(1.8)
    '5′ 11″'
    """
    feet, inches = divmod(round(m_to_feet(length_m) * 12), 12)
    return f"{feet}′ {inches}″" if inches else f"{feet}′"
