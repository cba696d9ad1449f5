"""What a grower carries away from a winter plan: an order per house, sowing list and calendar."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from datetime import UTC, date, datetime, time
from pathlib import Path

from trials.decide.planted import WinterChoice
from trials.errors import FileRefused
from trials.model.formula_escaping import inert
from trials.model.units import PaperSize
from trials.model.work_safety import SOWING, cautions
from trials.paper.page import TICK_BOX, Column, Orientation, Sheet
from trials.report.calendar_file import calendar_file
from trials.report.order_page import units_words
from trials.report.winter_page import winter_page
from trials.report.winter_tables import PLUGS_NOTE, begins_words, by_day, grown
from trials.season.order_files import Cell, write_orders, write_rows

_HEADINGS = (
    "sow_on",
    "plugs_arrive_on",
    "plant_out_on",
    "bed",
    "crop",
    "variety",
    "treatment",
    "metres",
    "plants",
    "seeds",
    "plugs",
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
        orders = write_orders(found.order, found.season, into, farm=farm, on=on, size=size)
        written += orders
        rows = _sowing_rows(found)
        with place("sowing-list.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file, lineterminator="\n", quoting=csv.QUOTE_NONNUMERIC).writerows(rows)
        write_rows(place("sowing-list.xlsx"), "sowing list", rows)
        _sowing_sheet(found, place("sowing-list.pdf"), farm, on, size)
        made = datetime.combine(on, time(), UTC)
        place("calendar.ics").write_text(calendar_file(found, made), encoding="utf-8", newline="")
    except OSError as problem:
        raise FileRefused(f"{into}: {problem.strerror}. Name another folder.") from None
    return tuple(written)


def _sowing_rows(found: WinterChoice) -> list[Sequence[Cell]]:
    return [
        _HEADINGS,
        *(
            (
                "" if each.days.sow is None else each.days.sow.isoformat(),
                "" if each.days.plugs_arrive is None else each.days.plugs_arrive.isoformat(),
                each.days.plant_out.isoformat(),
                inert(each.bed),
                inert(each.crop),
                inert(each.variety),
                inert(each.treatment),
                round(each.metres, 2),
                each.plants,
                "" if each.plugs else each.seeds,
                each.seeds if each.plugs else "",
                each.days.first_cut.isoformat(),
            )
            for each in by_day(found)
        ),
    ]


def _sowing_sheet(found: WinterChoice, path: Path, farm: str, on: date, size: PaperSize) -> None:
    sheet = Sheet(f"Sowing list {found.season}", farm, on, size, Orientation.LANDSCAPE)
    sheet.grid(
        (
            Column("", 3),
            Column("Sow, or plugs arrive", 12),
            Column("Variety", 22),
            Column("Crop", 13),
            Column("Seeds or plugs", 9, figures=True),
            Column("Plant out", 10),
            Column("Bed", 10),
            Column("Metres", 7, figures=True),
            Column("Plants", 7, figures=True),
            Column("Lot, day sown", 14),
        ),
        [
            (
                TICK_BOX,
                begins_words(each) or "________",
                grown(each),
                each.crop,
                units_words(each.seeds, plugs=each.plugs),
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
    if any(each.plugs for each in found.plantings):
        sheet.say(PLUGS_NOTE)
    sheet.say(" ".join(cautions(*SOWING)))
    sheet.save(path)
