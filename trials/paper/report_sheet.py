"""A document on paper: its paragraphs, tables and pictures on numbered pages."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from io import BytesIO
from math import ceil
from pathlib import Path

from fpdf.enums import Align

from trials.drawing.document import Document, Grid, Heading, Listing, Paragraph, Part, Photo, Photos
from trials.drawing.inks import LIGHT, Ink, channels, words_on
from trials.drawing.picture import Anchor, Box, Dot, Line, Mark, Picture, Shape, Words
from trials.drawing.scales import shown
from trials.drawing.svg import corners
from trials.model.units import PaperSize
from trials.paper.page import LINE_MM, SMALL_PT, TEXT_PT, TYPE, Column, Orientation, Sheet, beside

STRONG_PT, MINOR_PT, TINY_PT = 12.0, 10.5, 6.5
WIDEST, HIGHEST = 0.88, 0.44  # the most of a page's width and height that a picture takes
PHOTOS_ACROSS, GAP_MM = 3, 4.0
_PT_PER_MM = 72 / 25.4


def write_report(
    document: Document, path: Path, *, farm: str, on: date, size: PaperSize = PaperSize.A4
) -> None:
    """Write a document as a PDF with its pictures drawn as lines, not as images.

    Wide tables of records stand on pages turned round. ``on`` is the date printed. A place that
    cannot be written is a `FileRefused`.
    """
    sheet = Sheet(document.title, farm, on, size)
    sheet.say(beside(*document.facts))
    for number, part in enumerate(document.parts):
        if isinstance(part, Heading):
            _heading(sheet, part, document.parts[number + 1 : number + 3])
        elif isinstance(part, Paragraph):
            sheet.ln(1)
            sheet.say(part.text, size=STRONG_PT if part.strong else TEXT_PT, bold=part.strong)
        elif isinstance(part, Listing):
            for item in part.items:
                sheet.say(f"•  {item}")
        elif isinstance(part, Grid):
            _grid(sheet, part)
        elif isinstance(part, Photos):
            _photos(sheet, part.photos)
        else:
            _picture(sheet, part)
    sheet.save(path)


def _heading(sheet: Sheet, heading: Heading, after: Sequence[Part]) -> None:
    """A heading on the page of what it heads."""
    if any(isinstance(part, Grid) and part.small for part in after):
        sheet.add_page(orientation=Orientation.LANDSCAPE.value)
    needed = 6 * LINE_MM
    if after and isinstance(after[0], Picture):
        needed += _scale(sheet, after[0]) * after[0].height + 3 * LINE_MM
    if sheet.will_page_break(needed):
        sheet.add_page()
    if heading.level == 2:
        sheet.section(heading.text)
        return
    sheet.ln(LINE_MM / 2)
    sheet.say(heading.text, size=MINOR_PT, bold=True)


def _grid(sheet: Sheet, grid: Grid) -> None:
    size = TINY_PT if grid.small else SMALL_PT
    columns = [
        Column(heading, _share(sheet, heading, [row[n] for row in grid.rows], size), figure)
        for n, (heading, figure) in enumerate(zip(grid.headings, grid.figures, strict=True))
    ]
    sheet.ln(1.5)
    sheet.grid(columns, grid.rows, size=size)
    if grid.small:
        sheet.add_page(orientation=Orientation.PORTRAIT.value)
    sheet.ln(1.5)


def _photos(sheet: Sheet, photos: Sequence[Photo]) -> None:
    """Photos in rows, each as wide as the others, with its words below."""
    across = (sheet.epw - GAP_MM * (PHOTOS_ACROSS - 1)) / PHOTOS_ACROSS
    for first in range(0, len(photos), PHOTOS_ACROSS):
        row = photos[first : first + PHOTOS_ACROSS]
        high = [min(across * photo.height / photo.width, HIGHEST * sheet.eph) for photo in row]
        if sheet.will_page_break(max(high) + 4 * LINE_MM):
            sheet.add_page()
        top, foot = sheet.get_y() + 1, 0.0
        for place, (photo, height) in enumerate(zip(row, high, strict=True)):
            left = sheet.l_margin + place * (across + GAP_MM)
            width = height * photo.width / photo.height
            sheet.image(BytesIO(photo.content), left, top, width, height, alt_text=photo.alt)
            sheet.set_xy(left, top + height + 1)
            sheet.set_font(TYPE, size=SMALL_PT)
            sheet.multi_cell(across, LINE_MM * SMALL_PT / TEXT_PT, photo.words, align=Align.L)
            foot = max(foot, sheet.get_y())
        sheet.set_font(TYPE, size=TEXT_PT)
        sheet.set_xy(sheet.l_margin, foot + 2)


def _share(sheet: Sheet, heading: str, cells: list[str], size: float) -> int:
    """A column's share of the width: that of its longest cell, or of its heading in two lines."""
    longest = max((sheet.width_mm(cell, size) for cell in cells), default=0.0)
    words = max(sheet.width_mm(word, size, bold=True) for word in heading.split(" ") or [""])
    whole = sheet.width_mm(heading, size, bold=True)
    return ceil(max(min(longest, 60.0), words, min(whole / 2, 30.0)) + 3)


def _scale(sheet: Sheet, picture: Picture) -> float:
    """How many mm a pixel takes, so that two pictures go on most pages."""
    return float(min(WIDEST * sheet.epw / picture.width, HIGHEST * sheet.eph / picture.height))


def _picture(sheet: Sheet, picture: Picture) -> None:
    scale = _scale(sheet, picture)
    if sheet.will_page_break(picture.height * scale + 4 * LINE_MM):
        sheet.add_page()
    sheet.ln(1.5)
    sheet.say(picture.title, bold=True)
    if picture.note:
        sheet.say(picture.note, size=SMALL_PT)
    pen = _Pen(sheet, sheet.l_margin, sheet.get_y() + 1, scale)
    for mark in picture.marks:
        pen.draw(mark)
    sheet.set_draw_color(0)
    sheet.set_fill_color(255)
    sheet.set_text_color(0)
    sheet.set_dash_pattern()
    sheet.set_line_width(0.2)
    sheet.set_font(TYPE, size=TEXT_PT)
    sheet.set_y(pen.top + picture.height * scale + 2)


class _Pen:
    """Draws a picture's marks on a page, ``scale`` mm for one of its pixels."""

    def __init__(self, sheet: Sheet, left: float, top: float, scale: float) -> None:
        self._sheet, self.left, self.top, self._scale = sheet, left, top, scale

    def _at(self, x: float, y: float) -> tuple[float, float]:
        return self.left + x * self._scale, self.top + y * self._scale

    def draw(self, mark: Mark) -> None:
        if isinstance(mark, Line):
            self._stroke(mark.ink, mark.width)
            self._dashed(mark.dash)
            self._sheet.polyline([self._at(x, y) for x, y in mark.points])
            self._sheet.set_dash_pattern()
        elif isinstance(mark, Box):
            style = self._fill(mark.fill) + self._stroke(mark.stroke, mark.line)
            x, y = self._at(mark.x, mark.y)
            if style:
                self._sheet.rect(
                    x, y, mark.width * self._scale, mark.height * self._scale, style=style
                )
        elif isinstance(mark, Dot):
            self._dot(mark)
        else:
            self._words(mark)

    def _dashed(self, dash: tuple[float, ...]) -> None:
        if dash:
            self._sheet.set_dash_pattern(dash[0] * self._scale, dash[1] * self._scale)

    def _stroke(self, ink: Ink | None, line: float) -> str:
        if ink is None:
            return ""
        self._sheet.set_draw_color(*channels(LIGHT[ink]))
        self._sheet.set_line_width(line * self._scale)
        return "D"

    def _fill(self, ink: Ink | None) -> str:
        if ink is None:
            return ""
        self._sheet.set_fill_color(*channels(LIGHT[ink]))
        return "F"

    def _dot(self, dot: Dot) -> None:
        style = self._fill(dot.fill) + self._stroke(dot.stroke, dot.line)
        x, y = self._at(dot.x, dot.y)
        r = dot.radius * self._scale
        if dot.shape is Shape.CIRCLE:
            self._sheet.circle(x, y, r, style=style)
        elif dot.shape is Shape.CROSS:
            self._sheet.line(x - r, y - r, x + r, y + r)
            self._sheet.line(x - r, y + r, x + r, y - r)
        else:
            self._sheet.polygon([self._at(px, py) for px, py in corners(dot)], style=style)

    def _words(self, words: Words) -> None:
        sheet, size = self._sheet, words.size * self._scale * _PT_PER_MM
        text = shown(words.text)
        wide = sheet.width_mm(text, size, bold=words.bold)
        x, y = self._at(words.x, words.y)
        left = {Anchor.START: x, Anchor.MIDDLE: x - wide / 2, Anchor.END: x - wide}[words.anchor]
        colour = LIGHT[words.ink] if words.on is None else words_on(LIGHT[words.on])
        sheet.set_text_color(*channels(colour))
        sheet.text(left, y + 0.35 * words.size * self._scale, text)
