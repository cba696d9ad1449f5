"""Turns a workbook's sheets into cells of text, as if each had been saved as a CSV file."""

from __future__ import annotations

import warnings
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree.ElementTree import ParseError

from trials.model.rows import Sheet
from trials.records.encoded_column import Cells
from trials.records.faults import Faults, Wrong, shown
from trials.records.files.delimited import heading_place, name_of_part
from trials.records.files.find import open_bytes
from trials.records.files.marks import Place, SheetMarks, Style, marks_on, sheet_marks, styles_of
from trials.records.files.sheet_parts import Part, parts_of
from trials.records.mapping.printed_sheets import is_filled, printed_reading
from trials.records.rules.cells import judge_cell
from trials.records.rules.factors import plain_heading
from trials.records.rules.forms import FORMS

if TYPE_CHECKING:
    from openpyxl import Workbook

SUFFIX = ".xlsx"
# Sheets of a printed workbook that explain it and hold its lists; nothing is recorded on them.
READ_ME, LISTS = "read me", "lists"
UNPACKED_AT_MOST = 50_000_000  # bytes: a farm's whole season unpacks to a fifth of it
CELLS_AT_MOST = 2_000_000
# A row is a record once one of these is filled; until then it is a row made ready to write on.
WRITTEN_IN: Mapping[Sheet, tuple[str, ...]] = {
    Sheet.STAND_COUNTS: ("living",),
    Sheet.CUTS: ("outcome", "stems"),
    Sheet.STEM_SAMPLES: ("length_cm",),
    Sheet.EVENTS: (
        *("plot", "happened_on", "kind", "reason"),
        *("product", "sprayed_at", "re_entry_hours"),
    ),
}
# What the library raises on files that are no whole workbook, as far as damaging them has shown.
_BROKEN = (
    zipfile.BadZipFile,
    zlib.error,
    ParseError,
    EOFError,
    LookupError,
    ValueError,
    TypeError,
    AttributeError,
    NotImplementedError,
    RuntimeError,
    OSError,
    ArithmeticError,
)
# How a spreadsheet shows what it cannot give; where a formula came to nothing that was saved.
NOT_SAVED = "#N/A"
_SAVE_AS = "Open it in the spreadsheet, save it as a workbook (XLSX) and load that file."


def is_workbook(path: Path) -> bool:
    """Whether a file's name says that it is a workbook."""
    return path.suffix.lower() == SUFFIX


@dataclass(frozen=True, slots=True)
class _Formula:
    """A cell whose value is reckoned; the value that was saved with it is looked up."""


@dataclass(frozen=True, slots=True)
class _Error:
    """A cell that shows an error of the spreadsheet."""

    text: str


def read_workbook(name: str, path: Path, faults: Faults) -> tuple[Cells, ...]:
    """Read the sheets of a workbook to cells; what cannot be read is noted in ``faults``.

    Parameters
    ----------
    name
        What the workbook goes by in messages; its sheets go by ``"beds.xlsx, sheet cuts"``.
    path
        The workbook. Empty sheets, and those that explain it, are passed over.
    faults
        Takes a file that is no workbook or too large, cells that show an error, and cells that
        stand under no heading.

    Returns
    -------
    tuple of Cells
        One a sheet with rows. Dates are written year-month-day and numbers in full. Rows on
        which nothing was written but what was there to begin with are left out.
    """
    data = open_bytes(path)
    if not isinstance(data, bytes):
        faults.add(name, data.row, None, data.wrong)
        return ()
    wrong = _unfit(data)
    if wrong is not None:
        faults.add(name, None, None, wrong)
        return ()
    try:
        grids = _grids(data)
    except _BROKEN as problem:
        faults.add(name, None, None, _damaged(problem))
        return ()
    if isinstance(grids, Wrong):
        faults.add(name, None, None, grids)
        return ()
    digest = sha256(data).hexdigest()
    before = len(faults)
    found = tuple(
        cells
        for title, grid, marks in grids
        if plain_heading(title) not in {plain_heading(READ_ME), plain_heading(LISTS)}
        for cells in _tables(f"{name}, sheet {shown(title)[1:-1]}", digest, grid, marks, faults)
    )
    if not found and len(faults) == before:
        faults.add(
            name,
            None,
            None,
            Wrong(
                "Nothing is recorded in this workbook.",
                "Fill it in, or leave this file out.",
            ),
        )
    return found


def _unfit(data: bytes) -> Wrong | None:
    """Why bytes are no workbook that can be opened, found without unpacking them."""
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        return Wrong("This workbook has the old format (XLS) or a password.", _SAVE_AS)
    try:
        with zipfile.ZipFile(BytesIO(data)) as packed:
            # What is unpacked never exceeds what is declared here: the library stops there.
            size = sum(entry.file_size for entry in packed.infolist())
            names = packed.namelist()
    except _BROKEN:
        return Wrong("This is not a workbook (XLSX).", _SAVE_AS)
    if "[Content_Types].xml" not in names:
        return Wrong("This is not a workbook (XLSX).", _SAVE_AS)
    if size > UNPACKED_AT_MOST:
        return Wrong(
            f"This workbook unpacks to {size:,} bytes; the limit is {UNPACKED_AT_MOST:,}.",
            "Remove pictures and other worksheets, or load the seasons one by one.",
        )
    return None


def _damaged(problem: Exception) -> Wrong:
    return Wrong(f"This workbook is damaged ({type(problem).__name__}).", _SAVE_AS)


Grid = list[list[Any]]


def _grids(data: bytes) -> tuple[tuple[str, Grid, SheetMarks], ...] | Wrong:
    """The sheets' names, values and marks; a formula is replaced by the value saved with it."""
    grids: list[tuple[str, Grid, SheetMarks]] = []
    cells = 0
    book = _open(data, values=False)
    try:
        styles = styles_of(book)
        for sheet in book.worksheets:
            grid: Grid = []
            styled: dict[Place, Style] = {}
            for row in _rows(sheet):
                cells += len(row) + 1
                if cells > CELLS_AT_MOST:
                    return Wrong(
                        f"This workbook has more than {CELLS_AT_MOST:,} cells, up to sheet "
                        f"{shown(sheet.title)}.",
                        "Delete the empty rows and columns beyond the records, or split it.",
                    )
                if styles:
                    styled |= {
                        (len(grid), place): style
                        for place, cell in enumerate(row)
                        if (style := styles.get(getattr(cell, "_style_id", -1))) is not None
                    }
                grid.append([_value(cell) for cell in row])
            grids.append((sheet.title, grid, _marks(data, sheet, styled)))
    finally:
        book.close()
    if any(isinstance(value, _Formula) for _, grid, _ in grids for row in grid for value in row):
        _put_saved_values([grid for _, grid, _ in grids], data)
    return tuple(grids)


def _marks(data: bytes, sheet: Any, styled: Mapping[Place, Style]) -> SheetMarks:
    with zipfile.ZipFile(BytesIO(data)) as packed:
        found = sheet_marks(packed, sheet)
    return replace(
        found,
        struck=frozenset(place for place, style in styled.items() if style.struck),
        fills={place: style.fill for place, style in styled.items() if style.fill is not None},
    )


def _open(data: bytes, *, values: bool) -> Workbook:
    from openpyxl import load_workbook

    with warnings.catch_warnings():
        # It warns of looks it does not know how to keep, which nobody asked it to keep.
        warnings.simplefilter("ignore", UserWarning)
        return load_workbook(
            BytesIO(data), read_only=True, data_only=values, keep_links=False, rich_text=False
        )


def _rows(sheet: Any) -> Iterator[tuple[Any, ...]]:
    """All rows of a sheet up to the last that is used."""
    sheet.reset_dimensions()  # what a file says of its own extent need not be true
    return iter(sheet.iter_rows())


def _value(cell: Any) -> Any:
    if cell.data_type == "f":
        return _Formula()
    if cell.data_type == "e":
        return _Error(str(cell.value))
    return cell.value


def _put_saved_values(grids: list[Grid], data: bytes) -> None:
    book = _open(data, values=True)
    try:
        for sheet, grid in zip(book.worksheets, grids, strict=True):
            for row, saved in zip(grid, _rows(sheet), strict=True):
                for place, cell in enumerate(saved):
                    if isinstance(row[place], _Formula):
                        value = _value(cell)
                        row[place] = row[place] if value is None else value
    finally:
        book.close()


def _tables(
    file: str, digest: str, grid: Grid, marks: SheetMarks, faults: Faults
) -> Iterator[Cells]:
    """The tables of one sheet; none where it holds no rows."""
    texts = [[_text(value) for value in row] for row in grid]
    if not any(map(any, texts)):
        return
    for place, part in enumerate(parts_of(texts, heading_place(texts) or 0, beyond=True)):
        cells = _cells(name_of_part(file, part, place), digest, grid, texts, part, faults)
        if cells is not None:
            yield replace(cells, marks=marks_on(part, texts, marks))


def _cells(
    file: str, digest: str, grid: Grid, texts: list[list[str]], part: Part, faults: Faults
) -> Cells | None:
    """The cells of one table as text, or None where it holds no rows."""
    named = [part.left + place for place, name in enumerate(part.heading) if name]
    heading = tuple(name for name in part.heading if name)
    rows: list[tuple[str, ...]] = []
    numbers: list[int] = []
    left_out: dict[int, tuple[str, ...]] = {}
    for place in range(part.start, part.stop):
        number, text = place + 1, texts[place][: part.right]
        values = grid[place][: part.right]
        if place in part.repeated or not any(text[part.left :]):
            continue
        values, text = _blanked(values, part.left, None), _blanked(text, part.left, "")
        wrong = list(_wrong_cells(values, text, dict(zip(named, heading, strict=True))))
        for column, fault in wrong:
            faults.add(file, number, column, fault)
        row = tuple(text[place] if place < len(text) else "" for place in named)
        if wrong:
            beside = (t for place, t in enumerate(text) if t and place not in named)
            left_out[number] = (*row, *beside)
        else:
            rows.append(row)
            numbers.append(number)
    written = _written(heading, rows)
    if not left_out and not written:
        return None
    return Cells.of_rows(
        file,
        digest,
        part.top + 1,
        heading,
        [rows[i] for i in written],
        [numbers[i] for i in written],
        left_out=left_out,
        titles=part.titles,
        repeated=tuple(place + 1 for place in part.repeated),
    )


def _blanked(row: list[Any], left: int, blank: Any) -> list[Any]:
    """A row without what stands left of a table."""
    return [blank] * left + row[left:] if left else row


def _wrong_cells(
    values: list[Any], texts: list[str], headings: Mapping[int, str]
) -> Iterator[tuple[str, Wrong]]:
    """The cells of a row that stand for nothing: errors, lost formulas, and those beside all."""
    from openpyxl.utils import get_column_letter

    for place, (value, text) in enumerate(zip(values, texts, strict=True)):
        column = headings.get(place)
        if isinstance(value, _Error):
            yield (
                column or get_column_letter(place + 1),
                Wrong(f"The cell shows the error {text}.", "Write what was recorded."),
            )
        elif isinstance(value, _Formula):
            yield (
                column or get_column_letter(place + 1),
                Wrong(
                    "The cell contains a formula, and its result was not saved.",
                    "Write the number itself, or open and save the workbook in the spreadsheet.",
                ),
            )
        elif text and column is None:
            yield (
                get_column_letter(place + 1),
                Wrong(
                    f"{shown(text)} is under no heading.",
                    "Move it under its heading, or remove it.",
                ),
            )


def _written(heading: tuple[str, ...], rows: list[tuple[str, ...]]) -> list[int]:
    """The rows that are records; one made ready for writing on, and left so, is none."""
    if printed_reading(heading) is not None:
        return [number for number, row in enumerate(rows) if is_filled(row)]
    places = {plain_heading(name): place for place, name in enumerate(heading)}
    for sheet, columns in WRITTEN_IN.items():
        form = FORMS[sheet]
        if set(places) <= set(form.names) and set(form.must) <= set(places):
            waiting = [places[name] for name in columns if name in places]
            others = [(form.column(name), place) for name, place in places.items()]
            return [
                number
                for number, row in enumerate(rows)
                if any(row[place] for place in waiting)
                # A cell that is not what its column holds was moved there from another.
                or any(
                    row[place] and isinstance(judge_cell(row[place], column), Wrong)
                    for column, place in others
                )
            ]
    return list(range(len(rows)))


def _text(value: Any) -> str:
    """A cell as a CSV file would hold it: dates year-month-day, numbers in full."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, datetime):
        midnight = (value.hour, value.minute, value.second, value.microsecond) == (0, 0, 0, 0)
        return value.date().isoformat() if midnight else value.isoformat(" ")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, int | float):
        return number_text(value)
    if isinstance(value, _Error):
        return value.text
    if isinstance(value, _Formula):
        return NOT_SAVED
    return str(value).strip()


def number_text(value: float) -> str:
    """A number in full, without a fraction that is nought."""
    text = format(Decimal(repr(value)), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text
