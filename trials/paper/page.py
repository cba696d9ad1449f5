"""The style that every printed sheet shares: paper, type, heading, page numbers and tables."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from enum import StrEnum
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from fpdf import FPDF
from fpdf.enums import Align, TableBordersLayout, XPos, YPos
from fpdf.fonts import FontFace, TTFFont

from trials.errors import FileRefused, PrintRefused
from trials.model.units import PaperSize

if TYPE_CHECKING:
    from collections.abc import Iterator

FONTS = Path(__file__).parent / "fonts"
TYPE = "DejaVu Sans Condensed"
MARGIN_MM = 15.0
LINE_MM = 5.2
TEXT_PT, SMALL_PT, HEADING_PT, TITLE_PT = 10, 8, 12, 16
TICK_BOX = "\u2610"
MISSING = "\ufffd"
LONGEST_FARM = 100


class Orientation(StrEnum):
    """Which way round a sheet is read."""

    PORTRAIT = "portrait"
    LANDSCAPE = "landscape"


@dataclass(frozen=True, slots=True)
class Column:
    """A table's column: its heading, its share of the width, and whether figures stand in it."""

    heading: str
    share: float
    figures: bool = False


class Paper(FPDF):
    """Pages in the farm's type, black on white, dated by the caller and by no clock.

    The same calls give the same bytes: the document's date is the one that is printed. A
    character the type lacks is printed as a replacement sign, so that nothing is lost unseen.

    Raises
    ------
    PrintRefused
        The farm's name is too long for a heading.
    """

    def __init__(
        self,
        title: str,
        farm: str,
        on: date,
        stock: PaperSize | tuple[float, float] = PaperSize.A4,
        orientation: Orientation = Orientation.PORTRAIT,
    ) -> None:
        if len(farm) > LONGEST_FARM:
            raise PrintRefused(
                f"The farm's name has {len(farm):,} characters. Give one of at most "
                f"{LONGEST_FARM}, to fit the head of a sheet."
            )
        super().__init__(
            orientation=orientation.value,
            unit="mm",
            format=stock.value if isinstance(stock, PaperSize) else stock,
        )
        self.add_font(TYPE, "", FONTS / "DejaVuSansCondensed.ttf")
        self.add_font(TYPE, "B", FONTS / "DejaVuSansCondensed-Bold.ttf")
        for font in self.fonts.values():
            if isinstance(font, TTFFont):
                _hold(font)
        self.set_creation_date(datetime.combine(on, time(), tzinfo=UTC))
        self.set_title(title)
        self.set_author(farm)
        self.set_font(TYPE, size=TEXT_PT)

    def normalize_text(self, text: str) -> str:
        """The text in the characters of the type, a replacement sign for any it lacks."""
        font = self.current_font
        composed = unicodedata.normalize("NFC", text).replace("\t", " ").replace("\r", "")
        if not isinstance(font, TTFFont):
            return composed
        return "".join(c if c == "\n" or ord(c) in font.cmap else MISSING for c in composed)

    def width_mm(self, text: str, size_pt: float, *, bold: bool = False) -> float:
        """The width of a line of text."""
        self.set_font(TYPE, style="B" if bold else "", size=size_pt)
        return float(self.get_string_width(text))

    def save(self, path: Path) -> None:
        """Write the document; refused where the place cannot be written."""
        with _refusing(path):
            path.write_bytes(bytes(self.output()))


class Sheet(Paper):
    """A document of one or more pages that opens with a title and numbers its pages."""

    def __init__(
        self,
        title: str,
        farm: str,
        on: date,
        size: PaperSize = PaperSize.A4,
        orientation: Orientation = Orientation.PORTRAIT,
    ) -> None:
        super().__init__(title, farm, on, size, orientation)
        self._heading = beside(farm, title)
        self._on = on
        self.set_margins(MARGIN_MM, MARGIN_MM)
        self.set_auto_page_break(True, margin=MARGIN_MM + LINE_MM)
        self.add_page()
        self.say(title, size=TITLE_PT, bold=True)
        self.say(beside(farm, on.isoformat()))
        self.ln(LINE_MM / 2)

    def header(self) -> None:
        """The running heading; the first page carries the title instead."""
        if self.page_no() > 1:
            self.set_font(TYPE, size=SMALL_PT)
            self.multi_cell(0, LINE_MM, self._heading, new_x=XPos.LMARGIN, new_y=YPos.NEXT)
            self.ln(LINE_MM / 2)

    def footer(self) -> None:
        self.set_y(-MARGIN_MM)
        self.set_font(TYPE, size=SMALL_PT)
        self.cell(0, LINE_MM, self._on.isoformat(), align=Align.L)
        self.set_x(self.l_margin)
        self.cell(0, LINE_MM, f"Page {self.page_no()} of {{nb}}", align=Align.R)

    def say(self, text: str, *, size: float = TEXT_PT, bold: bool = False) -> None:
        """A paragraph over the full width, wrapped."""
        self.set_font(TYPE, style="B" if bold else "", size=size)
        height = LINE_MM * max(size / TEXT_PT, 1)
        self.multi_cell(0, height, text, align=Align.L, new_x=XPos.LMARGIN, new_y=YPos.NEXT)
        self.set_font(TYPE, size=TEXT_PT)

    def section(self, heading: str) -> None:
        """A heading that is never left alone at the foot of a page."""
        if self.will_page_break(8 * LINE_MM):
            self.add_page()
        self.ln(LINE_MM)
        self.say(heading, size=HEADING_PT, bold=True)

    def grid(
        self,
        columns: Sequence[Column],
        rows: Sequence[Sequence[str]],
        totals: Sequence[Sequence[str]] = (),
        *,
        size: float = TEXT_PT,
    ) -> None:
        """A table ruled between its rows, its heading on every page, its totals kept together."""
        self.set_font(TYPE, size=size)
        with self.table(
            col_widths=[column.share for column in columns],
            text_align=tuple(Align.R if column.figures else Align.L for column in columns),
            headings_style=FontFace(emphasis="BOLD"),
            borders_layout=TableBordersLayout.HORIZONTAL_LINES,
            line_height=LINE_MM * size / TEXT_PT,
            padding=(0.9, 1.0),
        ) as table:
            table.row([column.heading for column in columns])
            for cells in rows:
                table.row(list(cells))
            if totals:
                # One row of several lines, because a page never breaks inside a row.
                lines = ["\n".join(cells) for cells in zip(*totals, strict=True)]
                table.row(lines, style=FontFace(emphasis="BOLD"))


def _hold(font: TTFFont) -> None:
    """Read a font's file whole and let go of it: a document that is never saved closes nothing."""
    reader = font.ttfont.reader
    with reader.file as file:
        file.seek(0)
        reader.file = BytesIO(file.read())


@contextmanager
def _refusing(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as fault:
        raise FileRefused(
            f"The sheet cannot be written to {path}: {fault.strerror or fault}. "
            "Name a folder that you can write to, and close the file if it is open."
        ) from fault


def beside(*parts: str) -> str:
    """The parts that are given, with a dot between."""
    return " · ".join(part for part in parts if part)
