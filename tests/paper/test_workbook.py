from __future__ import annotations

import zipfile
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import openpyxl
import pytest

from trials.errors import FileRefused
from trials.model.rows import Sheet
from trials.paper.picking_sheets import CULL_REASONS
from trials.paper.workbook import write_workbook
from trials.records.rules.forms import FORMS

if TYPE_CHECKING:
    from tests.paper.conftest import Layouts

ON = date(2027, 3, 1)
FORMS_SENT = (Sheet.STAND_COUNTS, Sheet.CUTS, Sheet.STEM_SAMPLES, Sheet.EVENTS)


@pytest.mark.slow
def test_worksheets_mirror_the_printed_sheets(layouts: Layouts, tmp_path: Path) -> None:
    layout = layouts.blocks(6, 8)
    write_workbook(layout, tmp_path / "z27.xlsx", on=ON)
    book = openpyxl.load_workbook(tmp_path / "z27.xlsx")
    assert book.sheetnames == ["read me", *FORMS_SENT, "lists"]
    heading = [cell.value for cell in book["cuts"][1]]
    boxes = [
        *("plot", "what grows there", "cut_on", "missed", "30 cm", "40 cm", "50 cm", "60 cm"),
        *(f"culled: {reason}" for reason in CULL_REASONS),
    ]
    assert heading == boxes
    stems = [f"stem {number}, cm" for number in range(1, 7)]
    assert [cell.value for cell in book["stem_samples"][1]] == [*boxes[:3], *stems]
    assert tuple(cell.value for cell in book["events"][1]) == FORMS[Sheet.EVENTS].names
    for sheet in FORMS_SENT[:3]:  # one row per plot, as on paper
        rows = book[sheet].iter_rows(min_row=2, values_only=True)
        assert [row[0] for row in rows if row[0]] == [plot.code for plot in layout.plots]
        assert book[sheet].freeze_panes == "A2"
        assert not book[sheet].protection.sheet


def test_rows_are_ready_for_every_picking_day(layouts: Layouts, tmp_path: Path) -> None:
    layout = layouts.blocks(2, 2)
    path = tmp_path / "z27.xlsx"
    write_workbook(layout, path, on=ON, picking_days=(None, date(2027, 7, 20)))
    rows = list(openpyxl.load_workbook(path)["cuts"].iter_rows(min_row=2, values_only=True))
    ready = [row for row in rows if row[0] is not None]
    assert [str(row[2])[:10] for row in ready] == ["None"] * 4 + ["2027-07-20"] * 4
    assert {cell for row in ready for cell in row[3:]} == {None}


def test_lists_dates_and_numbers_are_checked(layouts: Layouts, tmp_path: Path) -> None:
    layout = layouts.blocks(2, 2)
    write_workbook(layout, tmp_path / "z27.xlsx", on=ON)
    book = openpyxl.load_workbook(tmp_path / "z27.xlsx")
    checks = {str(check.sqref)[0]: check for check in book["cuts"].data_validations.dataValidation}
    kinds = {"A": "list", "C": "date", "D": "list", **dict.fromkeys("EFGHIJKLM", "whole")}
    assert {letter: check.type for letter, check in checks.items()} == kinds
    offered = {
        letter: [cell.value for (cell,) in place]
        if isinstance(place := book["lists"][checks[letter].formula1.split("!")[1]], tuple)
        else [place.value]
        for letter in "AD"
    }
    assert offered == {"A": [plot.code for plot in layout.plots], "D": ["x"]}
    rows = book["cuts"].max_row
    assert all(str(check.sqref).endswith(str(rows)) for check in checks.values())


@pytest.mark.slow
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
