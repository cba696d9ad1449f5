"""Picking sheets in walking order: a row a plot, a box for everything that may be counted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from pathlib import Path

from fpdf.enums import Align

from trials.errors import PrintRefused
from trials.layout.plan import PlannedLayout, PlannedPlot
from trials.paper.fitting import Fitted, fit, line_height_mm, put
from trials.paper.page import Orientation, Paper, beside
from trials.paper.strip_drawing import bed_words
from trials.paper.treatment import Showing, treatment_words
from trials.units import PaperSize, UnitSystem, cm_to_inches

CULL_REASONS = ("short", "crooked", "insects", "rain", "other")
CAUTIONS = (
    "Knives: cut away from yourself, carry them sheathed.  Heat: shade, water, pauses.  "
    "Netting posts and wire ends: put eye caps on before anyone bends down."
)
HOW_TO_WRITE = (
    ("Nobody looked:", "leave the whole row blank."),
    (
        "Picked, nothing found:",
        "write 0 in the first box. Beside a figure, a blank box means none.",
    ),
    ("Missed:", "tick the box if the pick was due and could not be done; write nothing else."),
    ("Guard plants:", "never count them, and never pick them into a plot's bunches."),
)
EDGE_MM = 10.0
CODE_MM, MISSED_MM, TREATMENT_MM, LEAST_TREATMENT_MM = 18.0, 13.0, 44.0, 28.0
LEAST_BOX_MM, LARGEST_BOX_MM = 10.5, 18.0
ROW_MM, BAND_MM, HEADING_MM = 7.7, 5.0, 17.0
LINE_MM = line_height_mm(9)
HEAD_MM, FOOT_MM = 21 + len(HOW_TO_WRITE) * LINE_MM, 9.0
THIN_MM, THICK_MM = 0.15, 0.6


def grade_headings(
    grades_cm: Sequence[int], units: UnitSystem = UnitSystem.METRIC
) -> tuple[str, ...]:
    """The length grades as headings: their span in the farm's unit, where from in the other.

    Stems are graded by whole centimetres, so that in cm a grade ends one short of the next.
    """
    steps = sorted(set(grades_cm))
    if units is UnitSystem.US:
        inches = [f"{cm_to_inches(low):.1f}" for low in steps]
        spans = [f"{low}–{high} in" for low, high in pairwise(inches)]
        spans += [f"{longest}+ in" for longest in inches[-1:]]
        return tuple(f"{span}\n{low} cm" for low, span in zip(steps, spans, strict=True))
    spans = [f"{low}–{high - 1} cm" for low, high in pairwise(steps)]
    spans += [f"{longest}+ cm" for longest in steps[-1:]]
    return tuple(
        f"{span}\n{cm_to_inches(low):.1f} in" for low, span in zip(steps, spans, strict=True)
    )


def write_picking_sheets(
    layout: PlannedLayout,
    path: Path,
    *,
    farm: str,
    on: date,
    size: PaperSize = PaperSize.A4,
    picking_days: Sequence[date | None] = (None,),
    cull_reasons: Sequence[str] = CULL_REASONS,
    showing: Showing = Showing.TREATMENT,
    units: UnitSystem = UnitSystem.METRIC,
) -> None:
    """Write the sheets to take to the beds on picking days as a PDF.

    Parameters
    ----------
    picking_days
        A sheet is made for each; None leaves its date to be written. Every page of a sheet has
        its own date, so that pages may be shared out.
    cull_reasons
        A box for each.
    showing
        Whether the sheet tells what grows in a plot.
    units
        What the farm measures stems in; the other unit stands below.

    Raises
    ------
    PrintRefused
        There are more boxes than the paper is wide.
    FileRefused
        The place cannot be written.
    """
    title = f"Picking sheet, {layout.plan.code}"
    headings = grade_headings(layout.plan.grades_cm, units)
    columns = _columns(headings, size, tuple(cull_reasons))
    paper = Paper(title, farm, on, size, columns.orientation)
    paper.set_margins(EDGE_MM, EDGE_MM)
    paper.set_auto_page_break(False)
    # What is written beside a code decides how high its row is.
    words = {
        plot.code: _words(paper, layout, plot, columns.treatment_mm)
        if showing is Showing.TREATMENT
        else None
        for plot in layout.plots
    }
    pages = _Pages(paper, layout, columns, title, farm, words)
    for day in picking_days:
        pages.day(day)
    paper.save(path)


@dataclass(frozen=True, slots=True)
class _Columns:
    """What stands over the boxes, and how wide everything is."""

    grades: tuple[str, ...]
    reasons: tuple[str, ...]
    orientation: Orientation
    treatment_mm: float
    box_mm: float

    @property
    def boxes_left_mm(self) -> float:
        """Where the first box begins."""
        return EDGE_MM + CODE_MM + self.treatment_mm + MISSED_MM

    @property
    def width_mm(self) -> float:
        """The width of the whole table."""
        boxes = len(self.grades) + len(self.reasons)
        return self.boxes_left_mm - EDGE_MM + boxes * self.box_mm


def _columns(grades: tuple[str, ...], size: PaperSize, reasons: tuple[str, ...]) -> _Columns:
    boxes = len(grades) + len(reasons)
    for orientation in Orientation:
        paper = Paper("", "", date.min.replace(year=2000), size, orientation)
        for treatment_mm in (TREATMENT_MM, LEAST_TREATMENT_MM):
            left = paper.w - 2 * EDGE_MM - CODE_MM - treatment_mm - MISSED_MM
            box_mm = min(LARGEST_BOX_MM, left / max(boxes, 1))
            if box_mm >= LEAST_BOX_MM:
                spare_mm = left - box_mm * boxes
                return _Columns(grades, reasons, orientation, treatment_mm + spare_mm, box_mm)
    raise PrintRefused(
        f"{len(grades)} length grades and {len(reasons)} reasons for culling make more boxes "
        "than the paper is wide. Name fewer reasons, or grade in larger steps."
    )


def _words(paper: Paper, layout: PlannedLayout, plot: PlannedPlot, width_mm: float) -> Fitted:
    text = treatment_words(layout, plot)
    fitted = fit(paper, text, width_mm - 2, ROW_MM - 0.6, largest_pt=9, smallest_pt=7)
    if fitted is None:  # the row grows
        fitted = fit(paper, text, width_mm - 2, 1000, largest_pt=7, smallest_pt=7)
    if fitted is None:
        raise ValueError(f"no text fits a column of {width_mm} mm")
    return fitted


@dataclass(frozen=True, slots=True)
class _Pages:
    """Draws the pages of picking days."""

    paper: Paper
    layout: PlannedLayout
    columns: _Columns
    title: str
    farm: str
    words: dict[str, Fitted | None]

    def day(self, day: date | None) -> None:
        """One picking day: as many pages as its plots need."""
        pages = self._share_out()
        for number, plots in enumerate(pages, 1):
            self.paper.add_page()
            self._foot(number, len(pages))
            top = self._headings(self._head(day))
            bed = None
            for plot in plots:
                if plot.bed != bed:
                    bed = plot.bed
                    top = self._band(bed, top)
                top = self._row(plot, top)

    def _row_mm(self, plot: PlannedPlot) -> float:
        words = self.words[plot.code]
        return ROW_MM if words is None else max(ROW_MM, words.height_mm + 0.6)

    def _share_out(self) -> list[list[PlannedPlot]]:
        """The plots by page, in walking order."""
        room = self.paper.h - 2 * EDGE_MM - HEAD_MM - HEADING_MM - FOOT_MM
        pages: list[list[PlannedPlot]] = [[]]
        left = room
        for plot in self.layout.plots:
            new_bed = not pages[-1] or pages[-1][-1].bed != plot.bed
            needs = self._row_mm(plot) + (BAND_MM if new_bed else 0)
            if needs > left:
                pages.append([])
                left = room
                needs = self._row_mm(plot) + BAND_MM
            pages[-1].append(plot)
            left -= needs
        return pages

    def _put(
        self,
        text: str,
        left: float,
        top: float,
        width: float,
        height: float,
        *,
        largest_pt: float,
        bold: bool = False,
        align: Align = Align.L,
    ) -> None:
        fitted = fit(
            self.paper, text, width, height, largest_pt=largest_pt, smallest_pt=3.5, bold=bold
        )
        if fitted is None:
            raise PrintRefused(f"There is no room to print {text!r}. Use a shorter name.")
        put(self.paper, fitted, left, top, width, height, align)

    def _head(self, day: date | None) -> float:
        """Title, lines to fill in, and how to write what happened; returns the place below."""
        paper, plan = self.paper, self.layout.plan
        width = paper.w - 2 * EDGE_MM
        self._put(self.title, EDGE_MM, EDGE_MM, 0.55 * width, 8, largest_pt=15, bold=True)
        what = beside(self.farm, plan.crop, plan.site, str(plan.season))
        left = EDGE_MM + 0.56 * width
        self._put(what, left, EDGE_MM, 0.44 * width, 8, largest_pt=9, align=Align.R)
        top = EDGE_MM + 10
        shares = ((0.28, "Date"), (0.34, "Picker"), (0.38, "Weather"))
        left = EDGE_MM
        for share, label in shares:
            text = f"{label}  {day.isoformat()}" if label == "Date" and day else label
            self._put(text, left, top, share * width - 4, 6, largest_pt=10)
            start = left + paper.width_mm(text, 10) + 2
            paper.set_line_width(0.2)
            paper.line(start, top + 5.4, left + share * width - 4, top + 5.4)
            left += share * width
        top += 8.5
        paper.set_line_width(0.3)
        paper.rect(EDGE_MM, top, width, len(HOW_TO_WRITE) * LINE_MM + 1.6)
        for number, (case, text) in enumerate(HOW_TO_WRITE):
            y = top + 0.8 + number * LINE_MM
            self._put(case, EDGE_MM + 2, y, 38, LINE_MM, largest_pt=8.5, bold=True)
            self._put(text, EDGE_MM + 41, y, width - 43, LINE_MM, largest_pt=8.5)
        return EDGE_MM + HEAD_MM

    def _headings(self, top: float) -> float:
        """The headings of the columns; returns the place below them."""
        paper, columns = self.paper, self.columns
        bottom = top + HEADING_MM
        over = 5.0
        spans = (
            (len(columns.grades), "Stems to sell, by length"),
            (len(columns.reasons), "Culls, by reason"),
        )
        left = columns.boxes_left_mm
        for count, text in spans:
            if count:
                width = count * columns.box_mm
                self._put(text, left, top, width, over, largest_pt=9, bold=True, align=Align.C)
                left += width
        texts = ("Plot", "What grows there", "Missed")
        widths = (CODE_MM, columns.treatment_mm, MISSED_MM)
        left = EDGE_MM
        for text, width in zip(texts, widths, strict=True):
            align = Align.C if text == "Missed" else Align.L
            self._put(
                text,
                left + 1,
                top + over,
                width - 1.6,
                bottom - top - over,
                largest_pt=9,
                bold=True,
                align=align,
            )
            left += width
        for text in (*columns.grades, *columns.reasons):
            self._put(
                text,
                left + 0.3,
                top + over,
                columns.box_mm - 0.6,
                bottom - top - over,
                largest_pt=9,
                bold=True,
                align=Align.C,
            )
            left += columns.box_mm
        self._verticals(top + over, bottom)
        paper.set_line_width(THICK_MM)
        paper.line(EDGE_MM, bottom, EDGE_MM + columns.width_mm, bottom)
        return bottom

    def _verticals(self, top: float, bottom: float) -> None:
        paper, columns = self.paper, self.columns
        heavy = {0, len(columns.grades), len(columns.grades) + len(columns.reasons)}
        for number in range(len(columns.grades) + len(columns.reasons) + 1):
            paper.set_line_width(THICK_MM if number in heavy else THIN_MM)
            x = columns.boxes_left_mm + number * columns.box_mm
            paper.line(x, top, x, bottom)

    def _band(self, bed: str, top: float) -> float:
        paper, width = self.paper, self.columns.width_mm
        self._put(bed_words(bed), EDGE_MM + 1, top, width - 2, BAND_MM, largest_pt=9, bold=True)
        paper.set_line_width(THIN_MM)
        paper.line(EDGE_MM, top + BAND_MM, EDGE_MM + width, top + BAND_MM)
        return top + BAND_MM

    def _row(self, plot: PlannedPlot, top: float) -> float:
        paper, columns = self.paper, self.columns
        height = self._row_mm(plot)
        self._put(plot.code, EDGE_MM + 1, top, CODE_MM - 2, height, largest_pt=13, bold=True)
        words = self.words[plot.code]
        left = EDGE_MM + CODE_MM
        if words is not None:
            put(paper, words, left + 1, top, columns.treatment_mm - 2, height, Align.L)
        box = 4.2
        paper.set_line_width(0.3)
        left += columns.treatment_mm + (MISSED_MM - box) / 2
        paper.rect(left, top + (height - box) / 2, box, box)
        self._verticals(top, top + height)
        paper.set_line_width(THIN_MM)
        paper.line(EDGE_MM, top + height, EDGE_MM + columns.width_mm, top + height)
        return top + height

    def _foot(self, number: int, count: int) -> None:
        paper = self.paper
        top, width = paper.h - EDGE_MM - FOOT_MM + 1.5, paper.w - 2 * EDGE_MM
        self._put(CAUTIONS, EDGE_MM, top, width - 34, FOOT_MM - 1.5, largest_pt=8)
        page = f"page {number} of {count}"
        left = EDGE_MM + width - 32
        self._put(page, left, top, 32, FOOT_MM - 1.5, largest_pt=8, align=Align.R)
