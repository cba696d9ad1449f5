"""The workbook that goes out with a trial's plots and comes back filled."""

from __future__ import annotations

import re
import unicodedata
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trials.errors import FileRefused
from trials.layout.plan import PlannedLayout
from trials.model.formula_escaping import would_run
from trials.model.rows import Sheet
from trials.model.trial import EventKind
from trials.model.units import UnitSystem
from trials.model.work_safety import AT_THE_PLOTS, cautions
from trials.paper.page import MISSING
from trials.paper.picking_sheets import CULL_REASONS, STEMS_SAMPLED
from trials.paper.treatment import Showing, treatment_words
from trials.records.files.workbook import LISTS, READ_ME
from trials.records.mapping.printed_sheets import (
    DAY,
    GROWS,
    MISSED,
    PLOT,
    TICKS,
    cull_column,
    grade_column,
    stem_column,
)
from trials.records.rules.forms import FORMS, Column, Kind, Need

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.datavalidation import DataValidation
    from openpyxl.worksheet.worksheet import Worksheet

Cell = str | int | date | None

SPARE_ROWS = 300  # below the rows made ready, with the same checks
EVENT_ROWS = 40
WIDTHS = {Kind.DATE: 13, Kind.TEXT: 40, Kind.NAME: 16}
_UNWRITABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")
_ANSWERS: Mapping[str, str] = {
    "plot": "Choose a plot code of this trial from the list.",
    "other_plot": "Only if two plots were swapped: the other plot.",
    MISSED: "Write x if the plot was due and not picked. Otherwise leave the cell empty.",
    "kind": "Choose what happened from the list.",
    "trial": "The code of this trial.",
}
_HOW = (
    ("How to fill in this workbook", ""),
    ("Nobody looked", "Leave the row as it is. It counts as not recorded."),
    (
        "Picked, nothing there",
        "Write 0 under the first length. Blank next to a figure means none.",
    ),
    ("Missed", "Write the date, x under missed, and nothing else."),
    (
        "Grades and culls",
        (
            "One row per plot and picking day, as on the picking sheet. Good stems go under their "
            "shortest length, even if too short to sell; culls go under the reason. You may add "
            "a column, such as 'culled: slugs'."
        ),
    ),
    (
        "The next picking day",
        "Copy the rows of the plots below the last one, or write new rows there.",
    ),
    ("Dates", "Write them as 2026-08-31. The spreadsheet may show them in another way."),
    (
        "Stand counts",
        "Living plants of each plot, without guard plants, at least before the first cut.",
    ),
    ("Stem samples", "Stems as they come, not the best ones, from plots picked that day."),
    (
        "Events",
        (
            "Planting (without a plot it is the whole trial); a lost plot, with the reason; two "
            "plots with swapped plants or labels, with the reason; pinching, netting, spraying, "
            "frost and notes."
        ),
    ),
    ("Plots", "Do not change plot codes or headings, or move columns. You may delete rows."),
    (
        "When you are done",
        "Save it as a workbook (XLSX) and load it. Either all of it is stored or nothing.",
    ),
    ("Take care", " ".join(cautions(*AT_THE_PLOTS))),
)


def write_workbook(
    layout: PlannedLayout,
    path: Path,
    *,
    on: date,
    picking_days: Sequence[date | None] = (None,),
    cull_reasons: Sequence[str] = CULL_REASONS,
    stems_sampled: int = STEMS_SAMPLED,
    showing: Showing = Showing.TREATMENT,
    units: UnitSystem = UnitSystem.METRIC,
) -> None:
    """Write a workbook with rows ready for every plot, to fill in and load.

    Its worksheets mirror the printed sheets, one row per plot: stand counts, cuts (a column for
    each length grade and cull reason) and stem samples (a column for each stem). Events have the
    headings of the plain file. Lists offer the trial's own codes, dates and numbers are checked,
    and nothing in it is run by a spreadsheet. ``trials.records`` reads it; a row on which nothing
    was written is no record.

    Parameters
    ----------
    on
        The day it is made, which is the only date in it but those asked for.
    picking_days
        Rows are made ready for each; None leaves the date to be written.
    cull_reasons
        A column for each.
    stems_sampled
        Columns for measured stems of each plot.
    showing
        Whether a row says what grows in its plot.
    units
        The units in which the farm measures stems.

    Raises
    ------
    FileRefused
        The place cannot be written.
    """
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.worksheets[0])
    _explain(book.create_sheet(READ_ME), layout, on)
    lists = _Lists(layout)
    grows = {
        plot.code: treatment_words(layout, plot) if showing is Showing.TREATMENT else None
        for plot in layout.plots
    }
    cuts = (
        *_BEFORE,
        Column(MISSED, Kind.CHOICE, Need.NOTHING),
        *(_stems(grade_column(grade, units)) for grade in layout.plan.grades_cm),
        *(_stems(cull_column(reason)) for reason in cull_reasons),
    )
    lengths = (*_BEFORE, *(_length(number, units) for number in range(1, stems_sampled + 1)))
    ready: dict[Sheet, tuple[tuple[Column, ...], list[tuple[Cell, ...]]]] = {
        Sheet.STAND_COUNTS: (
            FORMS[Sheet.STAND_COUNTS].columns,
            [(plot.code,) for plot in layout.plots],
        ),
        Sheet.CUTS: (
            cuts,
            [(plot, grows[plot], day) for day in picking_days for plot in grows],
        ),
        Sheet.STEM_SAMPLES: (lengths, [(plot, grows[plot]) for plot in grows]),
        Sheet.EVENTS: (FORMS[Sheet.EVENTS].columns, [(layout.plan.code,)] * EVENT_ROWS),
    }
    for sheet, (columns, rows) in ready.items():
        _fill(book.create_sheet(sheet.value), columns, rows, lists)
    _list(book.create_sheet(LISTS), lists, layout)
    _save(book, path, on)


_BEFORE = (
    FORMS[Sheet.CUTS].column(PLOT),
    Column(GROWS, Kind.TEXT, Need.NOTHING),
    FORMS[Sheet.CUTS].column(DAY),
)


def _stems(heading: str) -> Column:
    return replace(FORMS[Sheet.CUTS].column("stems"), name=heading)


def _length(number: int, units: UnitSystem) -> Column:
    return replace(FORMS[Sheet.STEM_SAMPLES].column("length_cm"), name=stem_column(number, units))


@dataclass(frozen=True, slots=True)
class _Lists:
    """What the drop-down lists of a trial's workbook offer, by the column that uses them."""

    layout: PlannedLayout

    @property
    def offers(self) -> dict[str, tuple[Cell, ...]]:
        """The entries for each column, in the order in which they stand on the sheet of lists."""
        return {
            "plot": tuple(plot.code for plot in self.layout.plots),
            "other_plot": tuple(plot.code for plot in self.layout.plots),
            MISSED: TICKS[:1],
            "kind": tuple(EventKind),
            "trial": (self.layout.plan.code,),
        }

    def place(self, column: str) -> str | None:
        """Where the entries for a column stand, or None where it has no list."""
        from openpyxl.utils import get_column_letter

        offers = self.offers
        if not offers.get(column):
            return None
        letter = get_column_letter(list(offers).index(column) + 1)
        return f"'{LISTS}'!${letter}$2:${letter}${len(offers[column]) + 1}"


def _explain(page: Worksheet, layout: PlannedLayout, on: date) -> None:
    from openpyxl.styles import Alignment, Font

    plan = layout.plan
    page.column_dimensions["A"].width = 26
    page.column_dimensions["B"].width = 100
    head = f"{plan.code}: {plan.crop}, {plan.site}, {plan.season}. {plan.question}"
    rows = ((head, ""), (f"Made on {on.isoformat()}", ""), ("", ""), *_HOW)
    for number, (lead, text) in enumerate(rows, 1):
        _write(page, number, 1, lead or None)
        _write(page, number, 2, text or None)
        page.cell(number, 1).font = Font(bold=True)
        page.cell(number, 2).alignment = Alignment(wrap_text=True, vertical="top")


def _fill(
    page: Worksheet, columns: Sequence[Column], rows: Sequence[tuple[Cell, ...]], lists: _Lists
) -> None:
    """A sheet with its headings, the rows made ready, and the checks of every column."""
    from openpyxl.styles import Font, PatternFill
    from openpyxl.utils import get_column_letter

    page.freeze_panes = "A2"
    for place, column in enumerate(columns, 1):
        _write(page, 1, place, column.name)
        page.cell(1, place).font = Font(bold=True)
        page.cell(1, place).fill = PatternFill("solid", fgColor="DDDDDD")
        letter = get_column_letter(place)
        page.column_dimensions[letter].width = WIDTHS.get(column.kind, 11)
        last = len(rows) + 1 + SPARE_ROWS
        check = _check(column, lists)
        if check is not None:
            check.add(f"{letter}2:{letter}{last}")
            page.add_data_validation(check)
        # Text stays text and a date a date, whatever the spreadsheet would make of them.
        for number in range(2, last + 1):
            cell = page.cell(number, place)
            if column.kind is Kind.DATE:
                cell.number_format = "yyyy-mm-dd"
            elif column.kind in (Kind.NAME, Kind.TEXT, Kind.CHOICE):
                cell.number_format = "@"
    for number, row in enumerate(rows, 2):
        for place, value in enumerate(row, 1):
            _write(page, number, place, value)


def _check(column: Column, lists: _Lists) -> DataValidation | None:
    """What the spreadsheet checks as a cell is written: a list, a date or a number."""
    from openpyxl.worksheet.datavalidation import DataValidation

    place = lists.place(column.name)
    if place is not None:
        check = DataValidation(type="list", formula1=place, allow_blank=True)
    elif column.kind is Kind.DATE:
        check = DataValidation(
            type="date",
            operator="between",
            # A planting may stand over a winter; the season's own days are judged at loading.
            formula1=f"DATE({lists.layout.plan.season - 1},1,1)",
            formula2=f"DATE({lists.layout.plan.season + 1},12,31)",
            allow_blank=True,
        )
    elif column.kind in (Kind.WHOLE, Kind.NUMBER) and column.range is not None:
        check = DataValidation(
            type="whole" if column.kind is Kind.WHOLE else "decimal",
            operator="between",
            formula1=f"{column.range.low:g}",
            formula2=f"{column.range.high:.0f}",
            allow_blank=True,
        )
    else:
        return None
    check.errorStyle = "stop"
    check.showErrorMessage = True
    check.errorTitle = column.name
    check.error = _ANSWERS.get(column.name) or _answer(column)
    return check


def _answer(column: Column) -> str:
    if column.kind is Kind.DATE:
        return "Write the day as 2026-08-31."
    kind = "a whole number" if column.kind is Kind.WHOLE else "a number"
    return f"Write {kind}, {column.range}."


def _list(page: Worksheet, lists: _Lists, layout: PlannedLayout) -> None:
    """What the lists offer, and beside them what grows in each plot."""
    from openpyxl.styles import Font

    offers = lists.offers
    for place, (column, entries) in enumerate(offers.items(), 1):
        for number, entry in enumerate((column, *entries), 1):
            _write(page, number, place, entry)
    beside = len(offers) + 2
    rows: list[tuple[Cell, ...]] = [
        (plot.code, plot.bed, plot.position, treatment_words(layout, plot)) for plot in layout.plots
    ]
    for number, row in enumerate((("plot", "bed", "walk", "what grows there"), *rows), 1):
        for place, value in enumerate(row, beside):
            _write(page, number, place, value)
    for cell in page[1]:
        cell.font = Font(bold=True)
    page.freeze_panes = "A2"


def _write(page: Worksheet, row: int, column: int, value: Cell) -> None:
    """Write a value as what it is; text that looks like a formula stays text."""
    if value is None:
        return
    cell: Any = page.cell(row, column)
    if not isinstance(value, str):
        cell.value = value
        if isinstance(value, date):
            cell.number_format = "yyyy-mm-dd"
        return
    text = _UNWRITABLE.sub(MISSING, unicodedata.normalize("NFC", str(value)))
    cell.value = text
    cell.data_type = "s"
    cell.number_format = "@"
    if would_run(text):
        cell.quotePrefix = True


def _save(book: Workbook, path: Path, on: date) -> None:
    """Save the workbook so that it depends on nothing but what is in it and the day given."""
    saved = BytesIO()
    book.properties.creator = "Tallybed"
    book.save(saved)
    made = datetime.combine(on, time())
    stamp = f"{made.isoformat()}Z"
    packed = BytesIO()
    with (
        zipfile.ZipFile(saved) as source,
        zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as target,
    ):
        for entry in source.infolist():
            content = source.read(entry)
            if entry.filename == "docProps/core.xml":  # the library writes the clock's time
                content = re.sub(
                    rb"(W3CDTF\">)[^<]*(<)", rb"\g<1>" + stamp.encode() + rb"\2", content
                )
            at = zipfile.ZipInfo(entry.filename, (max(on.year, 1980), on.month, on.day, 0, 0, 0))
            at.compress_type = zipfile.ZIP_DEFLATED
            target.writestr(at, content)
    try:
        path.write_bytes(packed.getvalue())
    except OSError as fault:
        raise FileRefused(
            f"The workbook cannot be written to {path}: {fault.strerror or fault}. "
            "Name a folder that exists and may be written to, and close the file if it is open."
        ) from fault
