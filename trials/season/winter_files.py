"""What a grower carries away from a winter plan: an order per house, sowing list and calendar."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time
from pathlib import Path

from trials.decide.planted import WinterChoice
from trials.errors import FileRefused
from trials.model.formula_escaping import inert
from trials.model.units import PaperSize
from trials.model.work_safety import SOWING, cautions
from trials.paper import write_order_sheet
from trials.paper.page import TICK_BOX, Column, Orientation, Sheet
from trials.report.calendar_file import calendar_file
from trials.report.order_csv import order_csv
from trials.report.winter_page import by_day, grown, winter_page

Cell = str | int | float
_HEADINGS = (
    "sow_on",
    "plant_out_on",
    "bed",
    "crop",
    "variety",
    "treatment",
    "metres",
    "plants",
    "seeds",
    "first_cut_expected",
)


def write_winter(
    found: WinterChoice,
    into: Path,
    *,
    farm: str,
    on: date,
    size: PaperSize = PaperSize.A4,
) -> tuple[Path, ...]:
    """Write every file of a winter plan into a folder; the files, in order.

    Raises
    ------
    FileRefused
        The folder or a file in it cannot be written.
    """
    written: list[Path] = []

    def place(name: str) -> Path:
        written.append(into / name)
        return written[-1]

    try:
        into.mkdir(parents=True, exist_ok=True)
        place("winter-plan.txt").write_text(winter_page(found), encoding="utf-8")
        for parcel in found.order.parcels:
            alone = replace(
                found.order, parcels=(parcel,), unfilled=(), unavailable=(), budget=None
            )
            alone = replace(alone, cost_in_full=alone.total)
            name = f"order-{_slug(parcel.house)}"
            text = order_csv(alone)
            place(f"{name}.csv").write_text(text, encoding="utf-8")
            lines = list(csv.reader(io.StringIO(text), quoting=csv.QUOTE_NONNUMERIC))
            _workbook(place(f"{name}.xlsx"), "order", lines)
            title = f"Seed order {found.season}"
            write_order_sheet(alone, title, farm, place(f"{name}.pdf"), on=on, size=size)
        rows = _sowing_rows(found)
        with place("sowing-list.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file, lineterminator="\n", quoting=csv.QUOTE_NONNUMERIC).writerows(rows)
        _workbook(place("sowing-list.xlsx"), "sowing list", rows)
        _sowing_sheet(found, place("sowing-list.pdf"), farm, on, size)
        made = datetime.combine(on, time(), UTC)
        place("calendar.ics").write_text(calendar_file(found, made), encoding="utf-8", newline="")
    except OSError as problem:
        raise FileRefused(f"{into}: {problem.strerror}. Name another folder.") from None
    return tuple(written)


def _slug(house: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", house.casefold()).strip("-") or "house"


def _sowing_rows(found: WinterChoice) -> list[Sequence[Cell]]:
    return [
        _HEADINGS,
        *(
            (
                "" if each.days.sow is None else each.days.sow.isoformat(),
                each.days.plant_out.isoformat(),
                inert(each.bed),
                inert(each.crop),
                inert(each.variety),
                inert(each.treatment),
                round(each.metres, 2),
                each.plants,
                each.seeds,
                each.days.first_cut.isoformat(),
            )
            for each in by_day(found)
        ),
    ]


def _workbook(path: Path, title: str, rows: Sequence[Sequence[Cell]]) -> None:
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


def _sowing_sheet(found: WinterChoice, path: Path, farm: str, on: date, size: PaperSize) -> None:
    sheet = Sheet(f"Sowing list {found.season}", farm, on, size, Orientation.LANDSCAPE)
    sheet.grid(
        (
            Column("", 3),
            Column("Sow", 10),
            Column("Variety", 22),
            Column("Crop", 13),
            Column("Seeds", 7, figures=True),
            Column("Plant out", 10),
            Column("Bed", 10),
            Column("Metres", 7, figures=True),
            Column("Plants", 7, figures=True),
            Column("Lot, day sown", 14),
        ),
        [
            (
                TICK_BOX,
                "________" if each.days.sow is None else each.days.sow.isoformat(),
                grown(each),
                each.crop,
                f"{each.seeds:,}",
                each.days.plant_out.isoformat(),
                each.bed,
                f"{each.metres:.1f}",
                f"{each.plants:,}",
                "",
            )
            for each in by_day(found)
        ],
    )
    sheet.ln(2)
    sheet.say(" ".join(cautions(*SOWING)))
    sheet.save(path)
