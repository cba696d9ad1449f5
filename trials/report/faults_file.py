"""The faulty rows of a load as a file to mend: what is wrong before each row, no cell that runs."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from io import BytesIO, StringIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trials.errors import FileRefused, TallybedError
from trials.inert import inert, would_run
from trials.records.mended import FILE, MEND, ROW

if TYPE_CHECKING:
    from trials.records.mended import FaultyRows

WORKBOOK = ".xlsx"


def write_faults_file(tables: Sequence[FaultyRows], path: Path) -> None:
    """Write faulty rows to a CSV file, or to a workbook with a sheet for each table.

    Raises
    ------
    TallybedError
        There is no row to write, or rows of several tables for one CSV file.
    FileRefused
        The place cannot be written.
    """
    if not tables:
        raise TallybedError(
            f"Nothing was written to {path}: the faults stand in no row that could be mended there."
        )
    if path.suffix.lower() == WORKBOOK:
        content = _workbook(tables)
    elif len(tables) == 1:
        content = _csv(tables[0])
    else:
        names = ", ".join(table.file for table in tables)
        raise TallybedError(
            f"Rows of several tables are faulty ({names}). Name a workbook, such as "
            f"{path.with_suffix(WORKBOOK).name}: it has a sheet for each."
        )
    try:
        path.write_bytes(content)
    except OSError as problem:
        raise FileRefused(f"{path}: {problem.strerror}. Choose another place.") from None


def _rows(table: FaultyRows) -> list[tuple[str, ...]]:
    return [
        (MEND, FILE, ROW, *table.heading),
        *((words, table.file, str(number), *cells) for number, cells, words in table.rows),
    ]


def _csv(table: FaultyRows) -> bytes:
    text = StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n", quoting=csv.QUOTE_ALL)
    writer.writerows([inert(cell) for cell in row] for row in _rows(table))
    # The mark tells spreadsheets that it is UTF-8.
    return text.getvalue().encode("utf-8-sig")


def _workbook(tables: Sequence[FaultyRows]) -> bytes:
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.worksheets[0])
    for number, table in enumerate(tables, 1):
        page = book.create_sheet(f"to mend {number}")
        page.freeze_panes = "A2"
        page.column_dimensions["A"].width = 60
        for row, cells in enumerate(_rows(table), 1):
            for column, text in enumerate(cells, 1):
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
