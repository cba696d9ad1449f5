"""Sheets with one row per plot in plot order, and boxes beside it to write in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from fpdf.enums import Align

from trials.errors import PrintRefused
from trials.layout.plan import PlannedLayout, PlannedPlot
from trials.model.units import PaperSize
from trials.model.work_safety import Work, cautions
from trials.paper.fitting import Fitted, fit, line_height_mm, put
from trials.paper.page import Orientation, Paper, beside
from trials.paper.split_blocks import split_blocks_note
from trials.paper.strip_drawing import bed_words
from trials.paper.treatment import Showing, treatment_words

EDGE_MM = 10.0
CODE_MM, TICK_MM, TREATMENT_MM, LEAST_TREATMENT_MM = 18.0, 13.0, 44.0, 28.0
LEAST_BOX_MM, LARGEST_BOX_MM = 10.5, 18.0
ROW_MM, BAND_MM, HEADING_MM = 7.6, 5.0, 16.0
HOW_PT, CARE_PT = 8.5, 6.5
LINE_MM = line_height_mm(9)
LEAD_MM, PAGE_NUMBER_MM = 41.0, 24.0
HEAD_MM = 21.0
THIN_MM, THICK_MM = 0.15, 0.6


@dataclass(frozen=True, slots=True)
class Boxes:
    """Boxes under one heading; ``width`` is in boxes, so that a date has room to be written."""

    heading: str
    each: tuple[str, ...]
    width: float = 1.0


@dataclass(frozen=True, slots=True)
class PlotSheet:
    """What a sheet asks of every plot.

    Attributes
    ----------
    title
        The heading of every page.
    fields
        What is filled in at the head of a page: its share of the width, and its label.
    how
        How to write what happened: the case, and what to write.
    boxes
        The boxes of each row, by group.
    tick
        The heading of a box to tick before the others, or nothing.
    work
        What the sheet sends people to do, for its cautions.
    too_wide
        What to do where there are more boxes than the paper is wide.
    """

    title: str
    fields: tuple[tuple[float, str], ...]
    how: tuple[tuple[str, str], ...]
    boxes: tuple[Boxes, ...]
    work: tuple[Work, ...]
    tick: str = ""
    too_wide: str = "Print fewer boxes."


def write_plot_sheets(
    sheet: PlotSheet,
    layout: PlannedLayout,
    path: Path,
    *,
    farm: str,
    on: date,
    size: PaperSize,
    days: Sequence[date | None],
    showing: Showing,
) -> None:
    """Write a sheet for each day as a PDF; a day of None leaves its date to be written.

    Raises
    ------
    PrintRefused
        There are more boxes than the paper is wide.
    FileRefused
        The place cannot be written.
    """
    columns = _columns(sheet, size)
    paper = Paper(sheet.title, farm, on, size, columns.orientation)
    paper.set_margins(EDGE_MM, EDGE_MM)
    paper.set_auto_page_break(False)
    width = paper.w - 2 * EDGE_MM
    # What is written beside a code decides how high its row is.
    words = {
        plot.code: _row_words(paper, layout, plot, columns.treatment_mm)
        if showing is Showing.TREATMENT
        else None
        for plot in layout.plots
    }
    note = split_blocks_note(layout)
    how = (*sheet.how, *((("Split blocks:", note),) if note else ()))
    pages = _Pages(
        paper=paper,
        layout=layout,
        sheet=sheet,
        columns=columns,
        farm=farm,
        words=words,
        how=tuple((case, _at(paper, text, width - LEAD_MM - 2, HOW_PT)) for case, text in how),
        care=_at(paper, " ".join(cautions(*sheet.work)), width - PAGE_NUMBER_MM - 2, CARE_PT),
    )
    for day in days:
        pages.day(day)
    paper.save(path)


@dataclass(frozen=True, slots=True)
class _Columns:
    """How wide everything is, and which way round the paper is read."""

    orientation: Orientation
    treatment_mm: float
    tick_mm: float
    widths_mm: tuple[float, ...]

    @property
    def boxes_left_mm(self) -> float:
        """Where the first box begins."""
        return EDGE_MM + CODE_MM + self.treatment_mm + self.tick_mm

    @property
    def width_mm(self) -> float:
        """The width of the whole table."""
        return self.boxes_left_mm - EDGE_MM + sum(self.widths_mm)


def _columns(sheet: PlotSheet, size: PaperSize) -> _Columns:
    shares = [group.width for group in sheet.boxes for _ in group.each]
    tick_mm = TICK_MM if sheet.tick else 0.0
    for orientation in Orientation:
        paper = Paper("", "", date.min.replace(year=2000), size, orientation)
        for treatment_mm in (TREATMENT_MM, LEAST_TREATMENT_MM):
            left = paper.w - 2 * EDGE_MM - CODE_MM - treatment_mm - tick_mm
            box_mm = min(LARGEST_BOX_MM, left / max(sum(shares), 1))
            if box_mm >= LEAST_BOX_MM:
                widths = tuple(share * box_mm for share in shares)
                return _Columns(orientation, treatment_mm + left - sum(widths), tick_mm, widths)
    raise PrintRefused(sheet.too_wide)


def _at(paper: Paper, text: str, width_mm: float, size_pt: float) -> Fitted:
    """The text wrapped at a size of type, as high as it needs to be."""
    fitted = fit(paper, text, width_mm, 1000, largest_pt=size_pt, smallest_pt=size_pt)
    if fitted is None:
        raise ValueError(f"no text fits a column of {width_mm} mm")
    return fitted


def _row_words(paper: Paper, layout: PlannedLayout, plot: PlannedPlot, width_mm: float) -> Fitted:
    text = treatment_words(layout, plot)
    fitted = fit(paper, text, width_mm - 2, ROW_MM - 0.6, largest_pt=9, smallest_pt=7)
    return fitted or _at(paper, text, width_mm - 2, 7)  # the row grows


@dataclass(frozen=True, slots=True)
class _Pages:
    """Draws the pages of one sheet, day by day."""

    paper: Paper
    layout: PlannedLayout
    sheet: PlotSheet
    columns: _Columns
    farm: str
    words: dict[str, Fitted | None]
    how: tuple[tuple[str, Fitted], ...]
    care: Fitted

    def day(self, day: date | None) -> None:
        """One day: as many pages as its plots need."""
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

    @property
    def _how_mm(self) -> float:
        return sum(max(LINE_MM, text.height_mm) for _, text in self.how)

    @property
    def _foot_mm(self) -> float:
        return self.care.height_mm + 1.5

    def _row_mm(self, plot: PlannedPlot) -> float:
        words = self.words[plot.code]
        return ROW_MM if words is None else max(ROW_MM, words.height_mm + 0.6)

    def _share_out(self) -> list[list[PlannedPlot]]:
        """The plots by page, in plot order."""
        head = HEAD_MM + self._how_mm + HEADING_MM
        room = self.paper.h - 2 * EDGE_MM - head - self._foot_mm
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
        self._put(self.sheet.title, EDGE_MM, EDGE_MM, 0.55 * width, 8, largest_pt=15, bold=True)
        what = beside(self.farm, plan.crop, plan.site, str(plan.season))
        left = EDGE_MM + 0.56 * width
        self._put(what, left, EDGE_MM, 0.44 * width, 8, largest_pt=9, align=Align.R)
        top = EDGE_MM + 10
        left = EDGE_MM
        for share, label in self.sheet.fields:
            text = f"{label}  {day.isoformat()}" if label == "Date" and day else label
            self._put(text, left, top, share * width - 4, 6, largest_pt=10)
            start = left + paper.width_mm(text, 10) + 2
            paper.set_line_width(0.2)
            paper.line(start, top + 5.4, left + share * width - 4, top + 5.4)
            left += share * width
        top += 8.5
        paper.set_line_width(0.3)
        paper.rect(EDGE_MM, top, width, self._how_mm + 1.6)
        y = top + 0.8
        for case, said in self.how:
            height = max(LINE_MM, said.height_mm)
            self._put(case, EDGE_MM + 2, y, LEAD_MM - 3, LINE_MM, largest_pt=HOW_PT, bold=True)
            put(paper, said, EDGE_MM + LEAD_MM, y, width - LEAD_MM - 2, height, Align.L)
            y += height
        return EDGE_MM + HEAD_MM + self._how_mm

    def _headings(self, top: float) -> float:
        """The headings of the columns; returns the place below them."""
        paper, columns = self.paper, self.columns
        bottom = top + HEADING_MM
        over = 5.0
        boxes = list(columns.widths_mm)
        left = columns.boxes_left_mm
        for group in self.sheet.boxes:
            width = sum(boxes.pop(0) for _ in group.each)
            if group.each:
                self._put(
                    group.heading, left, top, width, over, largest_pt=9, bold=True, align=Align.C
                )
            left += width
        heads = [("Plot", CODE_MM, Align.L), ("What grows there", columns.treatment_mm, Align.L)]
        if self.sheet.tick:
            heads.append((self.sheet.tick, columns.tick_mm, Align.C))
        names = (name for group in self.sheet.boxes for name in group.each)
        heads += [
            (name, width, Align.C) for name, width in zip(names, columns.widths_mm, strict=True)
        ]
        left = EDGE_MM
        for text, width, align in heads:
            pad = 0.3 if align is Align.C else 1
            height = bottom - top - over
            self._put(
                text,
                left + pad,
                top + over,
                width - 2 * pad,
                height,
                largest_pt=9,
                bold=True,
                align=align,
            )
            left += width
        self._verticals(top + over, bottom)
        paper.set_line_width(THICK_MM)
        paper.line(EDGE_MM, bottom, EDGE_MM + columns.width_mm, bottom)
        return bottom

    def _verticals(self, top: float, bottom: float) -> None:
        paper, columns = self.paper, self.columns
        heavy, number = {0}, 0
        for group in self.sheet.boxes:
            number += len(group.each)
            heavy.add(number)
        x = columns.boxes_left_mm
        for place, width in enumerate((0.0, *columns.widths_mm)):
            x += width
            paper.set_line_width(THICK_MM if place in heavy else THIN_MM)
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
        if self.sheet.tick:
            box = 4.2
            paper.set_line_width(0.3)
            left += columns.treatment_mm + (columns.tick_mm - box) / 2
            paper.rect(left, top + (height - box) / 2, box, box)
        self._verticals(top, top + height)
        paper.set_line_width(THIN_MM)
        paper.line(EDGE_MM, top + height, EDGE_MM + columns.width_mm, top + height)
        return top + height

    def _foot(self, number: int, count: int) -> None:
        paper = self.paper
        height = self.care.height_mm
        top, width = paper.h - EDGE_MM - height, paper.w - 2 * EDGE_MM
        put(paper, self.care, EDGE_MM, top, width - PAGE_NUMBER_MM - 2, height, Align.L)
        page = f"page {number} of {count}"
        left = EDGE_MM + width - PAGE_NUMBER_MM
        self._put(page, left, top, PAGE_NUMBER_MM, height, largest_pt=8, align=Align.R)
