"""Fits words into a box: as large as they go, wrapped where they must, never cut."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from fpdf.enums import Align

from trials.paper.page import TYPE, Paper

MM_PER_PT = 25.4 / 72
LEADING = 1.16  # of the type's size: its ascent and descent
STEP_PT = 0.5
# A word may be parted after a hyphen or a stroke; elsewhere only where nothing else helps.
_PIECES = re.compile(r"\s*[^\s/-]*[/-]+|\s*[^\s/-]+")


@dataclass(frozen=True, slots=True)
class Fitted:
    """Lines of words and the size of type at which they fit."""

    lines: tuple[str, ...]
    size_pt: float
    bold: bool

    @property
    def line_mm(self) -> float:
        """The height of one line."""
        return line_height_mm(self.size_pt)

    @property
    def height_mm(self) -> float:
        """The height of all lines."""
        return self.line_mm * len(self.lines)


def line_height_mm(size_pt: float) -> float:
    """The height that a line of this size of type needs."""
    return size_pt * MM_PER_PT * LEADING


def fit(
    paper: Paper,
    text: str,
    width_mm: float,
    height_mm: float,
    *,
    largest_pt: float,
    smallest_pt: float,
    bold: bool = False,
    part_words: bool = True,
) -> Fitted | None:
    """Find the largest type in which the text fits into a box.

    Parameters
    ----------
    paper
        The document whose type is used.
    width_mm, height_mm
        The box.
    largest_pt, smallest_pt
        The sizes tried, in steps of half a point.
    part_words
        Whether a word that is too long even at the smallest size may be broken.

    Returns
    -------
    Fitted or None
        None where the text does not fit even at the smallest size.
    """
    shown = paper.normalize_text(text)
    # Widths grow with the size of type, so they are measured once.
    measure = _Measure(paper, bold)
    size = largest_pt
    while size >= smallest_pt:
        lines = _wrap(shown, width_mm / size, measure)
        if lines is not None and line_height_mm(size) * len(lines) <= height_mm + 1e-9:
            return Fitted(lines, size, bold)
        size -= STEP_PT
    if part_words:
        lines = _wrap(shown, width_mm / smallest_pt, measure, part_words=True)
        if lines is not None and line_height_mm(smallest_pt) * len(lines) <= height_mm + 1e-9:
            return Fitted(lines, smallest_pt, bold)
    return None


class _Measure:
    """Widths of words in type of one point."""

    def __init__(self, paper: Paper, bold: bool) -> None:
        self._paper, self._bold = paper, bold
        self._known: dict[str, float] = {}

    def __call__(self, text: str) -> float:
        width = self._known.get(text)
        if width is None:
            width = self._paper.width_mm(text, 10, bold=self._bold) / 10
            self._known[text] = width
        return width


def _wrap(
    text: str, width: float, measure: _Measure, *, part_words: bool = False
) -> tuple[str, ...] | None:
    """Lines no wider than the width; None where a word alone is wider and must not be parted."""
    lines: list[str] = []
    for paragraph in text.split("\n"):
        line = ""
        for piece in _PIECES.findall(paragraph):
            if measure((line + piece).strip()) <= width:
                line += piece
                continue
            if line.strip():
                lines.append(line.strip())
            line = piece.lstrip()
            if measure(line) <= width:
                continue
            if not part_words:
                return None
            *full, line = _parts(line, width, measure)
            lines += full
        lines.append(line.strip())
    return tuple(lines)


def _parts(word: str, width: float, measure: _Measure) -> Iterator[str]:
    part = ""
    for character in word:
        if part and measure(part + character) > width:
            yield part
            part = ""
        part += character
    yield part


def put(
    paper: Paper,
    fitted: Fitted,
    left_mm: float,
    top_mm: float,
    width_mm: float,
    height_mm: float,
    align: Align = Align.C,
) -> None:
    """Print fitted words into their box, centred between its top and bottom."""
    paper.set_font(TYPE, style="B" if fitted.bold else "", size=fitted.size_pt)
    padding, paper.c_margin = paper.c_margin, 0
    top = top_mm + (height_mm - fitted.height_mm) / 2
    for number, line in enumerate(fitted.lines):
        paper.set_xy(left_mm, top + number * fitted.line_mm)
        paper.cell(width_mm, fitted.line_mm, line, align=align)
    paper.c_margin = padding
