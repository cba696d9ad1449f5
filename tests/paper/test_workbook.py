from __future__ import annotations

import zipfile
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import openpyxl
import pytest

from trials.batch import Sheet
from trials.errors import FileRefused
from trials.paper.workbook import write_workbook
from trials.records.sheets import FORMS

if TYPE_CHECKING:
    from tests.paper.conftest import Layouts

ON = date(2027, 3, 1)
FORMS_SENT = (Sheet.STAND_COUNTS, Sheet.CUTS, Sheet.STEM_SAMPLES, Sheet.EVENTS)


def test_sheets_carry_the_headings_of_the_plain_files(layouts: Layouts, tmp_path: Path) -> None:
    write_workbook(layouts.blocks(2, 2), tmp_path / "z27.xlsx", on=ON)
    book = openpyxl.load_workbook(tmp_path / "z27.xlsx")
    assert book.sheetnames == ["read me", *FORMS_SENT, "lists"]
    for sheet in FORMS_SENT:
        page = book[sheet]
        assert tuple(cell.value for cell in page[1]) == FORMS[sheet].names
        assert page.freeze_panes == "A2"
        assert not page.protection.sheet


def test_rows_are_ready_for_every_plot_grade_and_reason(layouts: Layouts, tmp_path: Path) -> None:
    layout = layouts.blocks(2, 2)
    days = (None, date(2027, 7, 20))
    path = tmp_path / "z27.xlsx"
    write_workbook(layout, path, on=ON, picking_days=days, cull_reasons=("short", "rain"))
    rows = list(openpyxl.load_workbook(path)["cuts"].iter_rows(min_row=2, values_only=True))
    ready = [row for row in rows if row[0] is not None]
    # One for the plot, four grades and two reasons, for four plots on two days.
    assert len(ready) == 2 * 4 * (1 + 4 + 2)
    assert [row[0] for row in ready[:8]] == [layout.plots[0].code] * 7 + [layout.plots[1].code]
    assert [row[3] for row in ready[:7]] == [None, 30, 40, 50, 60, None, None]
    assert [row[5] for row in ready[:7]] == [None] * 5 + ["short", "rain"]
    assert {row[2] for row in ready} == {row[4] for row in ready} == {None}
    assert [str(row[1])[:10] for row in ready[27:29]] == ["None", "2027-07-20"]


def test_lists_dates_and_numbers_are_checked(layouts: Layouts, tmp_path: Path) -> None:
    layout = layouts.blocks(2, 2)
    write_workbook(layout, tmp_path / "z27.xlsx", on=ON)
    book = openpyxl.load_workbook(tmp_path / "z27.xlsx")
    checks = {str(check.sqref)[0]: check for check in book["cuts"].data_validations.dataValidation}
    assert {letter: check.type for letter, check in checks.items()} == {
        "A": "list",
        "B": "date",
        "C": "list",
        "D": "list",
        "E": "whole",
        "F": "list",
    }
    offered = {
        letter: [cell.value for (cell,) in book["lists"][check.formula1.split("!")[1]]]
        for letter, check in checks.items()
        if check.type == "list"
    }
    assert offered["A"] == [plot.code for plot in layout.plots]
    assert offered["C"] == ["picked", "missed"]
    assert offered["D"] == [30, 40, 50, 60]
    assert checks["F"].errorStyle == "warning"  # a reason of one's own is taken
    rows = book["cuts"].max_row
    assert all(str(check.sqref).endswith(str(rows)) for check in checks.values())


@pytest.mark.parametrize("code", ["=1+1", "+1", "-1", "@A1", '=HYPERLINK("x")'])
def test_what_a_spreadsheet_would_run_stays_text(
    layouts: Layouts, tmp_path: Path, code: str
) -> None:
    layout = layouts.renamed(layouts.blocks(("=cmd|'/c x'!A1", "Ember"), 2), code)
    layout = replace(layout, plan=replace(layout.plan, question="=1+2"))
    path = tmp_path / "z27.xlsx"
    write_workbook(layout, path, on=ON)
    with zipfile.ZipFile(path) as packed:
        sheets = [packed.read(name) for name in packed.namelist() if "worksheets/" in name]
    assert not any(b"<f>" in sheet or b"<f " in sheet for sheet in sheets)
    cell = openpyxl.load_workbook(path)["stand_counts"]["A2"]
    assert (cell.value, cell.data_type, cell.quotePrefix) == (code, "s", True)


def test_a_character_no_workbook_may_hold_is_seen_to_be_missing(
    layouts: Layouts, tmp_path: Path
) -> None:
    write_workbook(layouts.renamed(layouts.blocks(2, 2), "A\x011"), tmp_path / "z.xlsx", on=ON)
    assert openpyxl.load_workbook(tmp_path / "z.xlsx")["stand_counts"]["A2"].value == "A\ufffd1"


def test_the_same_layout_gives_the_same_bytes(layouts: Layouts, tmp_path: Path) -> None:
    paths = [tmp_path / "first.xlsx", tmp_path / "second.xlsx"]
    for path in paths:
        write_workbook(layouts.blocks(6, 4), path, on=ON)
    assert paths[0].read_bytes() == paths[1].read_bytes()


def test_a_place_that_cannot_be_written_is_refused(layouts: Layouts, tmp_path: Path) -> None:
    with pytest.raises(FileRefused, match="cannot be written"):
        write_workbook(layouts.blocks(2, 2), tmp_path / "no" / "z.xlsx", on=ON)
