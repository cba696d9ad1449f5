"""Growers' own sheets, invented, each loaded as its writer would load it.

The sheets and what each means are in ``tests/reference/growers_sheets/sheets.toml``. Run as a
program, ``python -m tests.growers_sheets`` writes the table beside them: of each sheet what is
asked, what the answers lead to, and what is stored.
"""

from __future__ import annotations

import csv
import shutil
import sys
import tempfile
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
from openpyxl.comments import Comment
from openpyxl.styles import Font, PatternFill

from tests.tracing import new_rows
from trials import records, season
from trials.errors import RecordsRefused
from trials.model.rows import Known, Sheet
from trials.records.mapping.agreement import Agreed, as_understood
from trials.records.mapping.guess import ReadingNeeded
from trials.report.reading_page import reading_lines
from trials.store import Store

HERE = Path(__file__).parent / "reference" / "growers_sheets"
VARIETIES = ("Ember", "Frost Fern", "Tallow", "Wrenlatch")


def _plots() -> Iterator[str]:
    for trial, letters, varieties in (("ZIN26", "HH", VARIETIES), ("COS26", "CC", VARIETIES[:2])):
        for n in range(3 * len(varieties) if trial == "ZIN26" else 4):
            block, place = divmod(n, len(varieties))
            bed = f"{letters} {block + 1}"
            yield (
                f"{trial},{letters}{101 + n},{block + 1},{bed},{place + 1},{varieties[place]},"
                "16,1.2,1.44,2026-05-20"
            )


# A farm of two trials, one of which is graded in steps of 10 cm already.
FARM: Mapping[str, str] = {
    "sites.csv": "site,place,bed_width_m\nHill House,above the brook,1.2\n",
    "seasons.csv": "season,site,starts_on,ends_on\n2026,Hill House,2026-03-25,2026-10-31\n",
    "varieties.csv": "variety,crop\n" + "".join(f"{name},zinnia\n" for name in VARIETIES),
    "trials.csv": "trial,season,site,crop,question,factors,check,primary_measure,alpha,"
    "equivalence_margin,minimum_length_cm\n"
    + "".join(
        f"{trial},2026,Hill House,zinnia,Which?,variety on plots,Ember,stems_per_plant,0.05,"
        "10 %,40\n"
        for trial in ("ZIN26", "COS26")
    ),
    "plots.csv": "trial,plot,block,bed,position,variety,plants_set,net_length_m,net_area_m2,"
    "transplanted_on\n" + "\n".join(_plots()) + "\n",
    "cuts.csv": "plot,cut_on,outcome,grade_cm,stems,cull_reason\n"
    + "".join(f"HH101,2026-07-10,picked,{grade},2,\n" for grade in (30, 40, 50)),
}


@dataclass(frozen=True)
class GrowersSheet:
    """One sheet and what it means; see the head of the file that holds them."""

    key: str
    text: str
    name: str = ""
    separator: str = ","
    marks: Mapping[str, Any] = field(default_factory=dict)
    asked: Mapping[str, str] = field(default_factory=dict)
    stored: tuple[str, ...] = ()
    refused: str = ""

    @property
    def file(self) -> str:
        """Its file's name."""
        return self.name or f"{self.key}.{'xlsx' if self.marks else 'csv'}"

    @property
    def rows(self) -> list[list[str]]:
        """Its cells."""
        mark = ";" if self.separator == ";" else "|"
        lines = self.text.strip("\n").split("\n")
        if self.key == "tally_with_bars":
            return [line.split(";") for line in lines]
        return [line.split(mark) for line in lines]

    def save(self, folder: Path) -> Path:
        """Write it as its grower would have."""
        path = folder / self.file
        if self.marks:
            path.write_bytes(self._workbook())
        else:
            out = StringIO(newline="")
            csv.writer(out, delimiter=self.separator).writerows(self.rows)
            path.write_text(out.getvalue(), "utf-8")
        return path

    def _workbook(self) -> bytes:
        book = openpyxl.Workbook()
        page = book.worksheets[0]
        for r, row in enumerate(self.rows, 1):
            for c, text in enumerate(row, 1):
                if text:
                    page.cell(r, c).value = int(text) if text.isdecimal() else text
        self._mark(page, book)
        out = BytesIO()
        book.save(out)
        return out.getvalue()

    def _mark(self, page: Any, book: Any) -> None:
        said = self.marks
        page.title = said.get("title", "Sheet1")
        for row in said.get("hidden_rows", ()):
            page.row_dimensions[row].hidden = True
        for column in said.get("hidden_columns", ()):
            page.column_dimensions[column].hidden = True
        for cell in said.get("struck", ()):
            page[cell].font = Font(strike=True)
        for cell, words in said.get("notes", {}).items():
            page[cell].comment = Comment(words, "grower")
        for cell, colour in said.get("fills", {}).items():
            page[cell].fill = PatternFill("solid", start_color=colour, end_color=colour)
        for cells in said.get("merged", ()):
            page.merge_cells(cells)
        if said.get("hidden_sheet"):
            book.create_sheet("front").append(["see the other sheet"])
            page.sheet_state = "hidden"
            book.active = 1


def sheets() -> dict[str, GrowersSheet]:
    """All of them, by their keys."""
    said = tomllib.loads((HERE / "sheets.toml").read_text("utf-8"))
    return {key: _sheet(key, its) for key, its in said.items()}


def _sheet(key: str, said: dict[str, Any]) -> GrowersSheet:
    return GrowersSheet(key, **(said | {"stored": tuple(said.get("stored", ()))}))


def planted(folder: Path) -> Path:
    """A store with the farm in it."""
    for name, text in FARM.items():
        (folder / name).write_text(text, "utf-8")
    store = folder / "farm.tallybed"
    season.load(store, [folder])
    for name in FARM:
        (folder / name).unlink()
    return store


@cache
def known_of(store: Path) -> Known:
    """What every sheet is judged against until it is stored: read once, as nothing changes it."""
    return Store.open(store).known()


@dataclass(frozen=True)
class Walked:
    """What became of one sheet: what was asked and shown, and what was stored or refused."""

    asked: Mapping[str, str]
    shown: tuple[str, ...]
    stored: tuple[str, ...]
    refused: str


def walk(sheet: GrowersSheet, planted_store: Path, folder: Path) -> Walked:
    """Load a sheet, answer what is asked, agree to what is shown, and look what was stored."""
    path = sheet.save(folder)
    known = known_of(planted_store)
    asked: dict[str, str] = {}
    shown: dict[str, None] = {}
    answers: dict[str, str] = {}
    agreed = Agreed()
    for _ in range(6):
        try:
            records.judge(records.cut([path]), known, agreed)
            break
        except ReadingNeeded as needed:
            for guess in needed.guesses:
                as_understood(guess)
                asked |= {question.key: question.words for question in guess.questions}
                shown |= dict.fromkeys(reading_lines(guess))
            answers |= {key: sheet.asked[key] for key in asked if key in sheet.asked}
            if set(asked) - set(answers):
                return Walked(asked, tuple(shown), (), "")
            agreed = Agreed(guesses=True, answers=answers)
        except RecordsRefused as refused:
            return Walked(asked, tuple(shown), (), str(refused))
    store = Path(shutil.copy(planted_store, folder / "farm.tallybed"))
    season.load(store, [path], agreed=agreed)
    fresh = new_rows(known.frames, Store.open(store).known().frames)
    return Walked(asked, tuple(shown), tuple(_records(fresh)), "")


def _records(fresh: Mapping[Sheet, pd.DataFrame]) -> Iterator[str]:
    for sheet, frame in fresh.items():
        for row in frame.to_dict("records"):
            yield _record(sheet, row)


def _record(sheet: Sheet, row: Mapping[Any, Any]) -> str:
    day = str(next(row[n] for n in ("cut_on", "counted_on", "scored_on") if n in row))[5:10]
    if sheet is Sheet.CUTS and row["outcome"] == "missed":
        said = "missed"
    elif sheet is Sheet.CUTS:
        kind = row["cull_reason"] if pd.isna(row["grade_cm"]) else row["grade_cm"]
        said = f"{kind} {row['stems']}"
    elif sheet is Sheet.STEM_SAMPLES:
        said = f"#{row['stem']} {row['length_cm']:g}"
    elif sheet is Sheet.SCORES:
        said = f"{row['trait'].replace(' ', '_')} {row['value']:g}"
    else:
        said = str(row["living"])
    return f"{row['plot']} {day} {said}"


def table() -> str:
    """The whole way of each sheet as a table in Markdown."""
    lines = [
        "# What becomes of each sheet",
        "",
        "Written by `python -m tests.growers_sheets`, with the answers of each sheet's writer.",
        "",
        "| sheet | asked | shown as understood | stored, or why not |",
        "|---|---|---|---|",
    ]
    with tempfile.TemporaryDirectory() as place:
        (Path(place) / "farm").mkdir()
        store = planted(Path(place) / "farm")
        for sheet in sheets().values():
            folder = Path(place) / sheet.key
            folder.mkdir()
            one = walk(sheet, store, folder)
            asked = "<br>".join(
                f"{words} → {sheet.asked.get(key, '?')}" for key, words in one.asked.items()
            )
            became = one.refused.split("\n")[-1] if one.refused else ", ".join(one.stored)
            cells = (sheet.key, asked, "<br>".join(one.shown), became)
            lines.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    (HERE / "table.md").write_text(table(), "utf-8")
    sys.stdout.write(f"written: {HERE / 'table.md'}\n")
