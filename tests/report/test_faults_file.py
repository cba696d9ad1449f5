"""The file of faulty rows: each behind what is wrong with it, and nothing in it that runs."""

from __future__ import annotations

import csv
from io import StringIO
from pathlib import Path

import openpyxl
import pytest

from trials.errors import Fault, FileRefused, TallybedError
from trials.records.files import workbook
from trials.records.files.corrected_files import FILE, MEND, ROW, FaultyRows, ToMend
from trials.report import faults_file
from trials.report.faults_file import write_faults_file

CUTS = FaultyRows(
    "cuts.csv", ("plot", "stems"), ((3, ("Z1", "-5"), "stems: below 0."), (7, ("Z9", ""), "plot."))
)
SCORES = FaultyRows("scores.csv", ("plot", "value"), ((2, ("Z1", "=1+1"), "value: no number."),))
OF_A_HEADING = Fault("cuts.csv", 1, "stem", "No such column.", "Call it stems.")


def rows_in(path: Path) -> list[list[str]]:
    return list(csv.reader(StringIO(path.read_bytes().decode("utf-8-sig"), newline="")))


def test_a_row_stands_behind_what_is_wrong_with_it_and_where_it_stood(tmp_path: Path) -> None:
    path = tmp_path / "mend.csv"
    write_faults_file(ToMend((CUTS,), (OF_A_HEADING,)), path)
    assert path.read_bytes().startswith(b"\xef\xbb\xbf")  # so that spreadsheets read UTF-8
    assert rows_in(path) == [
        [MEND, FILE, ROW, "plot", "stems"],
        ["stems: below 0.", "cuts.csv", "3", "Z1", "'-5"],  # no formula
        ["plot.", "cuts.csv", "7", "Z9", ""],
        ["row 1, column stem: No such column. Call it stems.", "cuts.csv", "", "", ""],
    ]


def test_faults_of_no_row_alone_are_notes_under_a_heading(tmp_path: Path) -> None:
    path = tmp_path / "mend.csv"
    write_faults_file(ToMend((), (OF_A_HEADING,)), path)
    heading, note = rows_in(path)
    assert heading == [MEND, FILE, ROW]
    assert note[1:] == ["cuts.csv", ""]


def test_several_tables_need_a_workbook_with_a_sheet_for_each(tmp_path: Path) -> None:
    found = ToMend((CUTS, SCORES), (OF_A_HEADING,))
    with pytest.raises(TallybedError, match=r"cuts\.csv, scores\.csv.*mend\.xlsx"):
        write_faults_file(found, tmp_path / "mend.csv")
    assert not list(tmp_path.iterdir())
    write_faults_file(found, tmp_path / "mend.XLSX")
    book = openpyxl.load_workbook(tmp_path / "mend.XLSX")
    assert book.sheetnames == ["to correct 1", "to correct 2", "in no row"]
    first, second, rest = book.worksheets
    assert [cell.value for cell in first[1]] == [MEND, FILE, ROW, "plot", "stems"]
    assert [cell.value for cell in first[3]] == ["plot.", "cuts.csv", "7", "Z9", None]
    formula = second["E2"]
    assert (formula.value, formula.data_type, formula.quotePrefix) == ("=1+1", "s", True)
    assert second["D2"].quotePrefix is False
    assert [cell.value for cell in rest[1]] == [MEND, FILE, ROW]
    assert rest["B2"].value == "cuts.csv"


def test_a_workbook_without_notes_has_no_sheet_for_them(tmp_path: Path) -> None:
    write_faults_file(ToMend((CUTS,), ()), tmp_path / "mend.xlsx")
    book = openpyxl.load_workbook(tmp_path / "mend.xlsx")
    assert book.sheetnames == ["to correct 1"]
    assert book.worksheets[0].freeze_panes == "A2"


def test_signs_that_no_workbook_holds_are_shown_as_missing(tmp_path: Path) -> None:
    odd = FaultyRows("cuts.csv", ("plot",), ((2, ("a\x01b\tc",), "no plot."),))
    write_faults_file(ToMend((odd,), ()), tmp_path / "mend.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "mend.xlsx").worksheets[0]
    assert sheet["D2"].value == "a\ufffdb\tc"


@pytest.mark.parametrize(("most", "fits"), [(12, True), (11, False)])
def test_more_rows_than_a_workbook_can_be_loaded_with_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, most: int, fits: bool
) -> None:
    # Two rows, each of two columns with three before them and a heading's: (2 + 4) * 2 cells.
    monkeypatch.setattr(workbook, "CELLS_AT_MOST", most)
    path = tmp_path / "mend.xlsx"
    if fits:
        write_faults_file(ToMend((CUTS,), ()), path)
        assert path.exists()
        return
    with pytest.raises(TallybedError, match=r"mend\.csv"):
        write_faults_file(ToMend((CUTS,), ()), path)
    with pytest.raises(TallybedError, match="one by one"):
        write_faults_file(ToMend((CUTS, SCORES), ()), path)
    assert not path.exists()


@pytest.mark.parametrize(("short_of", "fits"), [(0, True), (1, False)])
def test_what_is_wrong_counts_by_its_letters_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, short_of: int, fits: bool
) -> None:
    # (2 + 4) * 2 cells; each of two cells a row with the words for what is wrong beside it.
    letters = sum(len(text) + len(words) for _, row, words in CUTS.rows for text in row)
    most = faults_file._BYTES_A_CELL * 12 + letters - short_of
    monkeypatch.setattr(workbook, "UNPACKED_AT_MOST", most)
    path = tmp_path / "mend.xlsx"
    if fits:
        write_faults_file(ToMend((CUTS,), ()), path)
    else:
        with pytest.raises(TallybedError, match=r"mend\.csv"):
            write_faults_file(ToMend((CUTS,), ()), path)


def test_a_place_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    with pytest.raises(FileRefused, match="Choose another place"):
        write_faults_file(ToMend((CUTS,), ()), tmp_path / "no such folder" / "mend.csv")
