"""Labels for the stakes of a trial: a plot's code to read from the path, and a link to tally it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from fpdf.enums import Align

from trials.errors import PrintRefused
from trials.layout.plan import PlannedLayout, PlannedPlot
from trials.model.units import PaperSize
from trials.model.work_safety import STAKING, cautions
from trials.paper.fitting import fit, line_height_mm, put
from trials.paper.page import Paper
from trials.paper.qr import draw_code, smallest_side_mm, tally_link
from trials.paper.strip_drawing import bed_words
from trials.paper.treatment import Showing, treatment_words

PADDING_MM = 2.0
LARGEST_CODE_PT, LARGEST_NAME_PT = 60.0, 14.0
LARGEST_QR_MM = 30.0
SMALLEST_CARE_PT = 4.5
PENCIL_SHARE = 0.24
LEAST_PENCIL_MM = 18.0
_SHEETS_MM = {PaperSize.A4: (210.0, 297.0), PaperSize.LETTER: (215.9, 279.4)}


@dataclass(frozen=True, slots=True)
class _Type:
    """The smallest type of a label's words; small labels leave out where the plot stands."""

    code_pt: float
    name_pt: float
    name_share: float
    place_pt: float | None


ROOMY = _Type(14.0, 6.0, 0.45, 5.0)
TIGHT = _Type(11.0, 5.0, 1.0, 5.0)
TIGHTEST = _Type(11.0, 5.0, 1.0, None)


@dataclass(frozen=True, slots=True)
class LabelStock:
    """The sheets or rolls that labels are printed on, in millimetres; gaps lie between labels."""

    page_width_mm: float
    page_height_mm: float
    label_width_mm: float
    label_height_mm: float
    columns: int = 1
    rows: int = 1
    left_mm: float = 0.0
    top_mm: float = 0.0
    gap_across_mm: float = 0.0
    gap_down_mm: float = 0.0

    def __post_init__(self) -> None:
        right = self.left_mm + self.columns * (self.label_width_mm + self.gap_across_mm)
        bottom = self.top_mm + self.rows * (self.label_height_mm + self.gap_down_mm)
        if (
            min(self.columns, self.rows) < 1
            or min(self.label_width_mm, self.label_height_mm) <= 0
            or right - self.gap_across_mm > self.page_width_mm + 0.01
            or bottom - self.gap_down_mm > self.page_height_mm + 0.01
        ):
            raise PrintRefused(
                f"{self.columns} x {self.rows} labels of {self.label_width_mm:g} x "
                f"{self.label_height_mm:g} mm do not fit on a page of {self.page_width_mm:g} x "
                f"{self.page_height_mm:g} mm. Use smaller labels or fewer of them."
            )

    @classmethod
    def grid(
        cls,
        size: PaperSize,
        columns: int = 2,
        rows: int = 8,
        *,
        margin_mm: float = 10.0,
        gap_mm: float = 0.0,
    ) -> LabelStock:
        """Labels side by side on a sheet, all of one size within its margins."""
        width, height = _SHEETS_MM[size]
        return cls(
            width,
            height,
            (width - 2 * margin_mm + gap_mm) / max(columns, 1) - gap_mm,
            (height - 2 * margin_mm + gap_mm) / max(rows, 1) - gap_mm,
            columns,
            rows,
            margin_mm,
            margin_mm,
            gap_mm,
            gap_mm,
        )

    @classmethod
    def single(cls, width_mm: float, height_mm: float) -> LabelStock:
        """One label a page, as a label printer takes them."""
        return cls(width_mm, height_mm, width_mm, height_mm)

    def places(self) -> Iterator[tuple[float, float]]:
        """The left and top of each label of a page, row by row."""
        for row in range(self.rows):
            for column in range(self.columns):
                yield (
                    self.left_mm + column * (self.label_width_mm + self.gap_across_mm),
                    self.top_mm + row * (self.label_height_mm + self.gap_down_mm),
                )


A4_LABELS = LabelStock.grid(PaperSize.A4)


def write_stakes(
    layout: PlannedLayout,
    path: Path,
    *,
    farm: str,
    on: date,
    stock: LabelStock = A4_LABELS,
    showing: Showing = Showing.TREATMENT,
    per_plot: int = 1,
    base_url: str | None = None,
) -> None:
    """Write a label for each stake as a PDF, in walking order.

    Parameters
    ----------
    stock
        The size of the labels and how they lie on a page. A label that is higher than it is
        wide is printed turned. On labels too narrow for it, the space for pencil is left out.
    showing
        Whether the label tells what grows in the plot.
    per_plot
        How many stakes a plot has; their labels follow each other.
    base_url
        The address to which a plot's code is put to make the link of its tally page; without it
        labels have no link.

    Raises
    ------
    PrintRefused
        A label is too small for what must be read on it.
    FileRefused
        The place cannot be written.
    """
    paper = Paper(
        f"Stake labels of {layout.plan.code}",
        farm,
        on,
        (stock.page_width_mm, stock.page_height_mm),
    )
    paper.set_margins(0, 0)
    paper.set_auto_page_break(False)
    stakes = [plot for plot in layout.plots for _ in range(per_plot)]
    places = list(stock.places())
    for number, plot in enumerate((*stakes, None)):
        if number % len(places) == 0:
            paper.add_page()
        left, top = places[number % len(places)]
        if len(places) > 1:
            paper.set_line_width(0.1)
            paper.rect(left, top, stock.label_width_mm, stock.label_height_mm)
        label = _Care(paper) if plot is None else _Label(paper, layout, plot, showing, base_url)
        if stock.label_height_mm <= stock.label_width_mm:
            label.draw(left, top, stock.label_width_mm, stock.label_height_mm)
        else:
            bottom = top + stock.label_height_mm
            with paper.rotation(90, left, bottom):
                label.draw(left, bottom, stock.label_height_mm, stock.label_width_mm)
    paper.save(path)


@dataclass(frozen=True, slots=True)
class _Care:
    """The label behind the last stake: the cautions for whoever sets the stakes."""

    paper: Paper

    def draw(self, left: float, top: float, width: float, height: float) -> None:
        width, height = width - 2 * PADDING_MM, height - 2 * PADDING_MM
        text = " ".join(cautions(*STAKING))
        fitted = fit(self.paper, text, width, height, largest_pt=9, smallest_pt=SMALLEST_CARE_PT)
        if fitted is None:
            raise PrintRefused(
                f"The cautions for setting stakes need more than {width:.0f} x {height:.0f} mm. "
                "Use larger labels."
            )
        put(self.paper, fitted, left + PADDING_MM, top + PADDING_MM, width, height, Align.L)


@dataclass(frozen=True, slots=True)
class _Label:
    """One label of a plot, wider than high: link, code and words, space for pencil."""

    paper: Paper
    layout: PlannedLayout
    plot: PlannedPlot
    showing: Showing
    base_url: str | None

    def draw(self, left: float, top: float, width: float, height: float) -> None:
        link = self._link(left, top, width, height)
        pad = min(PADDING_MM, height / 16)
        left, width = left + link + pad, width - link - 2 * pad
        top, height = top + pad, height - 2 * pad
        pencil = max(LEAST_PENCIL_MM, PENCIL_SHARE * width)
        if width - pencil < 1.6 * LEAST_PENCIL_MM:
            pencil = 0.0
        for type_, space in ((ROOMY, pencil), (ROOMY, 0.0), (TIGHT, 0.0), (TIGHTEST, 0.0)):
            if self._words(left, top, width - space, height, type_):
                if space:
                    self._pencil_lines(left + width - space, top, space, height)
                return
        raise PrintRefused(
            f"The label of plot {self.plot.code} has no room for its text: {width:.0f} x "
            f"{height:.0f} mm are left for it. Use larger labels, or labels with the code alone."
        )

    def _link(self, left: float, top: float, width: float, height: float) -> float:
        """Draw the link; returns the width that it takes."""
        if self.base_url is None:
            return 0.0
        link = tally_link(self.base_url, self.plot.code)
        # The code's own border may lie in the label's margin.
        side = min(height, LARGEST_QR_MM, 0.45 * width)
        least = smallest_side_mm(link)
        if side < least:
            raise PrintRefused(
                f"The link of plot {self.plot.code} needs {least:.0f} mm to be read by a phone, "
                f"and this label has {side:.0f} mm. Use larger labels or a shorter address."
            )
        draw_code(self.paper, link, left, top + (height - side) / 2, side)
        return side

    def _words(self, left: float, top: float, width: float, height: float, type_: _Type) -> bool:
        """Write the code, what grows there, and where it stands; False where that has no room."""
        place = None
        if type_.place_pt is not None:
            two_lines = line_height_mm(8) * 2
            place = fit(
                self.paper,
                self._place(),
                width,
                two_lines,
                largest_pt=8,
                smallest_pt=type_.place_pt,
            )
            if place is None:
                return False
        below = 0.0 if place is None else place.height_mm
        least = line_height_mm(type_.code_pt)
        words = None
        if self.showing is Showing.TREATMENT:
            words = fit(
                self.paper,
                treatment_words(self.layout, self.plot),
                width,
                min(height - below - least, type_.name_share * height),
                largest_pt=LARGEST_NAME_PT,
                smallest_pt=type_.name_pt,
            )
            if words is None:
                return False
        used = below + (0.0 if words is None else words.height_mm)
        code = fit(
            self.paper,
            self.plot.code,
            width,
            height - used,
            largest_pt=LARGEST_CODE_PT,
            smallest_pt=type_.code_pt,
            bold=True,
            part_words=False,
        )
        if code is None:
            return False
        top += (height - used - code.height_mm) / 2
        for fitted in filter(None, (code, words, place)):
            put(self.paper, fitted, left, top, width, fitted.height_mm, Align.L)
            top += fitted.height_mm
        return True

    def _place(self) -> str:
        parts = [self.layout.plan.code, bed_words(self.plot.bed)]
        if self.plot.block is not None:
            parts.append(f"block {self.plot.block}")
        return " · ".join(parts)

    def _pencil_lines(self, left: float, top: float, width: float, height: float) -> None:
        count = max(1, int(height // 7))
        self.paper.set_line_width(0.15)
        for number in range(1, count + 1):
            y = top + number * height / count
            self.paper.line(left + PADDING_MM, y, left + width, y)
