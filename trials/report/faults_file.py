"""The faulty rows of a load as a file to mend: what is wrong before each row, no cell that runs."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from io import BytesIO, StringIO
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trials.errors import FileRefused, TallybedError
from trials.model.formula_escaping import inert, would_run
from trials.records.files.corrected_files import FILE, MEND, ROW

if TYPE_CHECKING:
    from trials.records.files.corrected_files import FaultyRows, ToMend

WORKBOOK = ".xlsx"
_BYTES_A_CELL = 60  # of a cell within a workbook, without its text


def write_faults_file(found: ToMend, path: Path) -> None:
    """Write every fault to a CSV file, or to a workbook with a sheet for each table.

    A row is written as it stands, after what is wrong with it; a fault of no row is a row of notes
    alone, which is passed over when the file is loaded.

    Raises
    ------
    TallybedError
        Rows of several tables for one CSV file, or more rows than a workbook can be loaded with.
    FileRefused
        The place cannot be written.
    """
    if path.suffix.lower() == WORKBOOK:
        _refuse_too_large(found, path)
        content = _workbook(found)
    elif len(found.tables) <= 1:
        content = _csv(found)
    else:
        names = ", ".join(table.file for table in found.tables)
        raise TallybedError(
            f"Rows of several tables are faulty ({names}). Name a workbook, such as "
            f"{path.with_suffix(WORKBOOK).name}: it has a sheet for each."
        )
    try:
        path.write_bytes(content)
    except OSError as problem:
        raise FileRefused(f"{path}: {problem.strerror}. Choose another place.") from None


def _refuse_too_large(found: ToMend, path: Path) -> None:
    from trials.records.files.workbook import CELLS_AT_MOST, UNPACKED_AT_MOST

    cells = sum((len(table.heading) + 4) * len(table.rows) for table in found.tables)
    letters = sum(
        len(text) + len(words)
        for table in found.tables
        for _, row, words in table.rows
        for text in row
    )
    if cells <= CELLS_AT_MOST and _BYTES_A_CELL * cells + letters <= UNPACKED_AT_MOST:
        return
    if len(found.tables) == 1:
        remedy = f"Name a CSV file, such as {path.with_suffix('.csv').name}."
    else:
        remedy = "Load the tables one by one, each with a CSV file for its faults."
    raise TallybedError(
        f"Nothing was written to {path}: these are more faulty rows than a workbook can "
        f"contain. {remedy}"
    )


def _rows(table: FaultyRows) -> Iterator[tuple[str, ...]]:
    yield (MEND, FILE, ROW, *table.heading)
    for number, cells, words in table.rows:
        yield (words, table.file, str(number), *cells)


def _notes(found: ToMend) -> Iterator[tuple[str, ...]]:
    """Faults that stand in no row: no row number, so that nothing is replaced."""
    for fault in found.others:
        yield (f"{fault.where}{fault.problem} {fault.remedy}", fault.file, "")


def _csv(found: ToMend) -> bytes:
    text = StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n", quoting=csv.QUOTE_ALL)
    heading: tuple[str, ...] = (MEND, FILE, ROW)
    for table in found.tables:
        heading, *rows = _rows(table)
        writer.writerows([inert(cell) for cell in row] for row in (heading, *rows))
    if not found.tables:
        writer.writerow(heading)
    for note in _notes(found):
        writer.writerow([*map(inert, note), *[""] * (len(heading) - len(note))])
    # The mark tells spreadsheets that it is UTF-8.
    return text.getvalue().encode("utf-8-sig")


def _workbook(found: ToMend) -> bytes:
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.worksheets[0])
    pages = [(f"to correct {number}", _rows(table)) for number, table in enumerate(found.tables, 1)]
    if found.others:
        pages.append(("in no row", chain([(MEND, FILE, ROW)], _notes(found))))
    for title, rows in pages:
        page = book.create_sheet(title)
        page.freeze_panes = "A2"
        page.column_dimensions["A"].width = 60
        for row, cells in enumerate(rows, 1):
            for column, text in enumerate(cells, 1):
                if text:
                    _write(page.cell(row, column), text)
    saved = BytesIO()
    book.save(saved)
    return saved.getvalue()


def _write(cell: Any, text: str) -> None:
    """Text as text, whatever it looks like; what no workbook can hold is shown as missing."""
    cell.value = "".join(c if c.isprintable() or c in "\n\t" else "\ufffd" for c in text) or None
    if cell.value is None:
        return
    cell.data_type = "s"
    cell.number_format = "@"
    cell.quotePrefix = would_run(text)
