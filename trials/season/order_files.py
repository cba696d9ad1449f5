"""A seed order as files to send: for each seed house a page, a text file and a workbook."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

from trials.decide import SeedOrder
from trials.errors import FileRefused
from trials.model.units import PaperSize
from trials.paper import write_order_sheet
from trials.report.order_csv import order_csv

Cell = str | int | float


def write_orders(
    order: SeedOrder,
    season: int,
    into: Path,
    *,
    farm: str,
    on: date,
    size: PaperSize = PaperSize.A4,
) -> tuple[Path, ...]:
    """Write each house's order into a folder as CSV, XLSX and PDF; the files, in order.

    Raises
    ------
    FileRefused
        The folder or a file in it cannot be written.
    """
    written: list[Path] = []
    try:
        into.mkdir(parents=True, exist_ok=True)
        for parcel in order.parcels:
            alone = replace(order, parcels=(parcel,), unfilled=(), unavailable=(), budget=None)
            alone = replace(alone, cost_in_full=alone.total)
            path = into / f"order-{_slug(parcel.house)}.csv"
            text = order_csv(alone)
            path.write_text(text, encoding="utf-8")
            lines = list(csv.reader(io.StringIO(text), quoting=csv.QUOTE_NONNUMERIC))
            write_rows(path.with_suffix(".xlsx"), "order", lines)
            sheet = path.with_suffix(".pdf")
            write_order_sheet(alone, f"Seed order {season}", farm, sheet, on=on, size=size)
            written += [path, path.with_suffix(".xlsx"), sheet]
    except OSError as problem:
        raise FileRefused(f"{into}: {problem.strerror}. Name another folder.") from None
    return tuple(written)


def _slug(house: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", house.casefold()).strip("-") or "house"


def write_rows(path: Path, title: str, rows: Sequence[Sequence[Cell]]) -> None:
    """Write rows to a workbook of one worksheet; its texts are never formulas."""
    from openpyxl import Workbook

    book = Workbook(write_only=False)
    sheet = book.create_sheet(title, 0)
    book.remove(book.worksheets[1])
    for number, row in enumerate(rows, start=1):
        for column, value in enumerate(row, start=1):
            cell = sheet.cell(number, column, value)
            if isinstance(value, str):
                cell.data_type = "s"
    sheet.freeze_panes = "A2"
    book.save(path)
