"""What a workbook's sheet marks is named before anything is stored."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import openpyxl
import pytest
from openpyxl.comments import Comment
from openpyxl.styles import Font, PatternFill

from trials.errors import RecordsRefused
from trials.records import read, read_corrections
from trials.records.faults import Faults
from trials.records.files.workbook import read_workbook
from trials.records.mapping.agreement import Agreed
from trials.records.mapping.guess import ReadingNeeded

if TYPE_CHECKING:
    from trials.model.rows import Known


def book(path: Path) -> Path:
    """Our own form of stand counts with one mark of each kind."""
    made = openpyxl.Workbook()
    page = made.worksheets[0]
    page.append(["plot", "counted_on", "living"])
    for n, plot in enumerate(("A1", "A2", "B1", "B2"), 2):
        page.append([plot, "2026-06-11", 10 + n])
    page.append([])
    page.append(["orange: counted twice"])
    page.row_dimensions[3].hidden = True
    page["C4"].font = Font(strike=True)
    page["C5"].fill = PatternFill("solid", start_color="FFA500", end_color="FFA500")
    page["C2"].comment = Comment("by torch", "x")
    made.save(path)
    return path


def test_each_mark_is_found_where_it_stands(tmp_path: Path) -> None:
    (cells,) = read_workbook("a.xlsx", book(tmp_path / "a.xlsx"), Faults())
    assert [(mark.kind, mark.row, mark.heading) for mark in cells.marks] == [
        ("hidden rows", 3, None),
        ("notes", 2, "living"),
        ("struck-out cells", 4, "living"),
        ("colours", 5, "living"),
    ]


def test_marks_are_asked_about_in_our_own_form_too(known: Known, tmp_path: Path) -> None:
    with pytest.raises(ReadingNeeded) as needed:
        read([book(tmp_path / "a.xlsx")], known)
    said = {question.key: question.words for question in needed.value.guesses[0].questions}
    assert list(said) == ["hidden rows", "notes", "struck-out cells", "colours"]
    assert "row 3" in said["hidden rows"]
    assert "C2 ('12') says 'by torch'" in said["notes"]
    assert "C4 ('14')" in said["struck-out cells"]
    assert "C5 ('15') is 'orange: counted twice'" in said["colours"]
    answers = dict.fromkeys(said, "leave out") | {"notes": "take"}
    batch = read([tmp_path / "a.xlsx"], known, Agreed(answers=answers))
    (frame,) = batch.frames.values()
    assert frame[["plot", "living"]].to_numpy().tolist() == [["A1", 12]]


def test_marks_are_refused_where_nobody_is_asked(known: Known, tmp_path: Path) -> None:
    with pytest.raises(RecordsRefused, match="Hidden: row 3"):
        read_corrections([book(tmp_path / "a.xlsx")], known)
