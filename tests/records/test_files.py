from __future__ import annotations

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from trials.errors import RecordsRefused
from trials.model.rows import Known, Sheet
from trials.records import read

if TYPE_CHECKING:
    from tests.records.conftest import Farm


def test_a_folder_is_read_in_the_order_of_the_sheets(farm: Farm) -> None:
    batch = farm.read()
    assert list(batch.frames) == list(Sheet)
    cuts = next(source for source in batch.sources if source.sheet is Sheet.CUTS)
    assert (cuts.file, cuts.rows) == ("cuts.csv", 6)
    assert cuts.sha256 == hashlib.sha256((farm.folder / "cuts.csv").read_bytes()).hexdigest()


def test_files_may_be_named_one_by_one_and_twice(farm: Farm, known: Known) -> None:
    path = farm.folder / "cuts.csv"
    assert read([path, path, farm.folder], known).already_held[Sheet.CUTS] == 6


def test_a_missing_file_names_the_nearest(farm: Farm, known: Known) -> None:
    with pytest.raises(RecordsRefused) as refused:
        read([farm.folder / "cust.csv"], known)
    (fault,) = refused.value.faults
    assert (fault.file, fault.row, fault.column) == ("cust.csv", None, None)
    assert fault.problem == "There is no such file."
    assert fault.remedy == "Did you mean 'cuts.csv'?"


@pytest.mark.parametrize("name", ["no folder/at all.csv", "a\0b.csv", "x" * 300 + ".csv"])
def test_a_name_that_no_file_has_is_refused(tmp_path: Path, known: Known, name: str) -> None:
    with pytest.raises(RecordsRefused):
        read([tmp_path / name], known)


def test_a_folder_without_csv_files_is_refused(tmp_path: Path, known: Known) -> None:
    with pytest.raises(RecordsRefused, match="has no CSV file"):
        read([tmp_path], known)


def test_naming_no_file_is_refused(known: Known) -> None:
    with pytest.raises(RecordsRefused, match="No file was named"):
        read([], known)


def test_an_unreadable_file_is_refused(
    farm: Farm, known: Known, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(self: Path) -> bytes:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", refuse)
    with pytest.raises(RecordsRefused) as refused:
        read([farm.folder / "cuts.csv"], known)
    (fault,) = refused.value.faults
    assert fault.file == "cuts.csv"
    assert fault.problem == "It cannot be read: Permission denied."
    assert fault.remedy


@pytest.mark.parametrize("content", [b"", b"\xef\xbb\xbf", b"\n\n", b" , ,\n,,\n"])
def test_an_empty_file_is_refused(farm: Farm, content: bytes) -> None:
    farm.write("cuts.csv", content)
    farm.only("cuts.csv")
    fault = farm.fault()
    assert (fault.file, fault.row) == ("cuts.csv", None)
    assert fault.problem == "The file is empty."


def test_a_heading_alone_is_refused(farm: Farm, known: Known) -> None:
    farm.write("cuts.csv", farm.text("cuts.csv").splitlines()[0] + "\n\n")
    fault = farm.fault(known)
    assert (fault.file, fault.row, fault.column) == ("cuts.csv", None, None)
    assert fault.problem == "There are no rows under the headings."
    assert fault.remedy


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_text_of_any_usual_encoding_is_read(farm: Farm, encoding: str) -> None:
    farm.spoil("cuts.csv", 4, "cull_reason", "fané")
    farm.write("cuts.csv", farm.text("cuts.csv").encode(encoding))
    assert farm.read().frames[Sheet.CUTS]["cull_reason"].iloc[2] == "fané"


def test_text_of_two_encodings_names_the_byte_and_the_row(farm: Farm, known: Known) -> None:
    before, after = b"plot,cut_on,outcome,grade_cm,stems,cull_reason\n", b"A1,2026-07-20,picked,,1,"
    last = "A1,2026-07-21,picked,,1,fané\n".encode()
    farm.write("cuts.csv", before + after + "fané\n".encode("cp1252") + last)
    fault = farm.fault(known)
    assert (fault.file, fault.row) == ("cuts.csv", 2)
    assert f"byte {len(before + after) + 4:,} of the file is E9" in fault.problem
    assert "'é'" in fault.problem
    assert "CSV UTF-8" in fault.remedy


def test_a_byte_order_mark_is_accepted(farm: Farm) -> None:
    farm.write("cuts.csv", b"\xef\xbb\xbf" + farm.text("cuts.csv").encode())
    assert len(farm.read().frames[Sheet.CUTS]) == 6


@pytest.mark.parametrize("end", ["\r\n", "\r"])
def test_line_ends_of_any_system_are_accepted(farm: Farm, end: str) -> None:
    farm.write("cuts.csv", farm.text("cuts.csv").replace("\n", end))
    assert len(farm.read().frames[Sheet.CUTS]) == 6


@pytest.mark.slow
@pytest.mark.parametrize(
    ("content", "problem"),
    [
        (b"PK\x03\x04" + bytes(40), "This is a workbook (XLSX, ODS)"),
        (b"%PDF-1.7 ...", "This is a PDF"),
        (b"\xff\xfe" + "plot".encode("utf-16-le") + b"\xff", "This UTF-16 text is cut short"),
        (bytes(range(256)), "This is not text"),
        (b"\0" * 100, "This is not text"),
    ],
)
def test_a_file_that_is_no_text_is_refused(
    farm: Farm, known: Known, content: bytes, problem: str
) -> None:
    farm.write("cuts.csv", content)
    fault = farm.fault(known)
    assert (fault.file, fault.row, fault.column) == ("cuts.csv", None, None)
    assert fault.problem.startswith(problem)
    assert "CSV UTF-8" in fault.remedy


def test_a_nul_byte_is_found_in_its_cell(farm: Farm, known: Known) -> None:
    farm.spoil("cuts.csv", 4, "cull_reason", "sh\0ort")
    fault = farm.fault(known)
    assert (fault.file, fault.row, fault.column) == ("cuts.csv", 4, "cull_reason")
    assert fault.remedy


def test_a_ragged_row_is_refused(farm: Farm, known: Known) -> None:
    farm.add("cuts.csv", "A1,2026-08-01,picked,40,3")
    farm.add("cuts.csv", "A1,2026-08-02,picked,40,3,,")
    short, long = farm.faults(known)
    assert (short.file, short.row, short.column) == ("cuts.csv", 8, None)
    assert short.problem == "This row has 5 cells; the heading row has 6."
    assert (long.row, long.problem) == (9, "This row has 7 cells; the heading row has 6.")
    assert short.remedy


def test_quotation_marks_that_do_not_pair_up_name_the_row(farm: Farm, known: Known) -> None:
    farm.add("cuts.csv", 'A1,2026-08-01,picked,,3,"short')
    fault = farm.fault(known)
    assert (fault.file, fault.row) == ("cuts.csv", 8)
    assert "quotation marks" in fault.problem
    assert fault.remedy


def test_blank_rows_are_left_out_but_counted(farm: Farm) -> None:
    farm.write("cuts.csv", farm.text("cuts.csv").replace("A2,2026-07-20", "\n,,,,,\nA2,2026-07-20"))
    farm.spoil("cuts.csv", 2, "stems", "12")
    assert len(farm.read().frames[Sheet.CUTS]) == 6
    farm.add("cuts.csv", "A9,2026-08-01,missed,,,")
    assert farm.fault().row == 10


def test_a_column_with_neither_heading_nor_cells_is_no_column(farm: Farm) -> None:
    farm.write("cuts.csv", "".join(f"{line},\n" for line in farm.text("cuts.csv").splitlines()))
    assert len(farm.read().frames[Sheet.CUTS]) == 6


def test_a_line_break_within_a_cell_counts_as_one_row(farm: Farm) -> None:
    farm.spoil("events.csv", 4, "reason", "first frost,\nhard")
    assert farm.read().frames[Sheet.EVENTS]["reason"].iloc[2] == "first frost,\nhard"
    farm.spoil("events.csv", 2, "reason", "with\nthumbs")
    farm.add("events.csv", "Z99,,2026-10-15,frost,")
    assert farm.fault().row == 5


def test_an_overlong_cell_is_refused(farm: Farm, known: Known) -> None:
    farm.spoil("events.csv", 4, "reason", "x" * 1001)
    fault = farm.fault(known)
    assert (fault.file, fault.row, fault.column) == ("events.csv", 4, "reason")
    assert "1,001 characters" in fault.problem


def test_a_cell_too_long_to_be_cut_is_refused(farm: Farm, known: Known) -> None:
    farm.add("events.csv", "Z26,,2026-10-15,note," + "x" * 200_000)
    assert farm.fault(known).row == 5


def test_two_files_of_one_name_go_by_their_paths(farm: Farm, tmp_path: Path, known: Known) -> None:
    other = tmp_path / "cuts.csv"
    other.write_text(farm.text("cuts.csv").replace("A1,", "A8,"), "utf-8")
    with pytest.raises(RecordsRefused) as refused:
        read([farm.folder / "cuts.csv", other], known)
    assert {fault.file for fault in refused.value.faults if "A8" in fault.problem} == {str(other)}


def test_every_fault_is_listed_in_the_order_of_files_and_rows(farm: Farm, known: Known) -> None:
    lines = [f"A1,2026-08-01,picked,40,-{n}," for n in range(1, 250)]
    farm.add("cuts.csv", "\n".join(lines))
    farm.spoil("sites.csv", 2, "bed_width_m", "wide")
    faults = farm.faults(known)
    # 249 negative counts, 248 rows with a key that came before, and the site
    assert len(faults) == 498
    assert [fault.file for fault in faults] == ["cuts.csv"] * 497 + ["sites.csv"]
    rows = [fault.row or 0 for fault in faults[:497]]
    assert rows == sorted(rows)
