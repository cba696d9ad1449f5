"""Files that would unpack to more than a farm can have written, and names that lead elsewhere."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest
from pyarrow import parquet

from trials.errors import RecordsRefused
from trials.model.rows import Known
from trials.records import read
from trials.records.files import find as files
from trials.records.files import parquet as ours


def problem(path: Path, known: Known) -> str:
    with pytest.raises(RecordsRefused) as refused:
        read([path], known)
    (fault,) = refused.value.faults
    assert fault.file == path.name
    assert fault.remedy
    return fault.problem


def test_a_workbook_that_unpacks_to_a_bomb_is_refused_unopened(
    tmp_path: Path, known: Known
) -> None:
    path = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("[Content_Types].xml", "<Types/>")
        packed.writestr("xl/worksheets/sheet1.xml", b" " * 60_000_000)
    assert path.stat().st_size < 100_000
    assert "unpacks to 60,000,008 bytes" in problem(path, known)


def test_a_parquet_file_of_too_many_rows_is_refused(tmp_path: Path, known: Known) -> None:
    path = tmp_path / "bomb.parquet"
    rows = files.ROWS_AT_MOST + 1
    parquet.write_table(pa.table({"plot": pa.array(np.zeros(rows, dtype=np.int8))}), path)
    assert path.stat().st_size < 100_000
    assert "5,000,001 rows" in problem(path, known)


def test_a_parquet_file_of_too_many_bytes_is_refused(
    tmp_path: Path, known: Known, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "large.parquet"
    parquet.write_table(pa.table({"plot": ["A1"] * 5000}), path, use_dictionary=False)
    monkeypatch.setattr(ours, "UNPACKED_AT_MOST", 1000)
    assert "unpacks to" in problem(path, known)


def test_a_file_of_too_many_bytes_is_not_read(
    tmp_path: Path, known: Known, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "large.csv"
    path.write_text("plot,counted_on,living\n" + "A1,2026-06-10,16\n" * 100, "utf-8")
    monkeypatch.setattr(files, "BYTES_AT_MOST", 1000)
    assert "the limit is 1,000" in problem(path, known)


def test_a_table_of_too_many_columns_is_refused(tmp_path: Path, known: Known) -> None:
    path = tmp_path / "wide.csv"
    path.write_text("plot" + ",x" * 3000 + "\nA1" + ",1" * 3000 + "\n", "utf-8")
    assert "3,001 columns" in problem(path, known)


def test_lists_within_parquet_are_no_cells(tmp_path: Path, known: Known) -> None:
    path = tmp_path / "lists.parquet"
    parquet.write_table(pa.table({"plot": [["A1"], ["A2"]]}), path)
    assert "contains lists" in problem(path, known)


@pytest.mark.parametrize("content", [b"", b"PAR1", b"PAR1" + bytes(40) + b"PAR1"])
def test_a_broken_parquet_file_is_refused(tmp_path: Path, known: Known, content: bytes) -> None:
    path = tmp_path / "broken.parquet"
    path.write_bytes(content)
    assert "Parquet file is damaged" in problem(path, known)


def test_the_names_within_a_workbook_lead_nowhere(tmp_path: Path, known: Known) -> None:
    path = tmp_path / "odd.xlsx"
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        packed.writestr("[Content_Types].xml", "<Types/>")
        packed.writestr("../../outside.txt", "x")
    path.write_bytes(out.getvalue())
    problem(path, known)
    assert not (tmp_path.parent / "outside.txt").exists()


@pytest.mark.slow
def test_the_fast_reader_makes_what_the_careful_one_does(tmp_path: Path, known: Known) -> None:
    from trials.records.faults import Faults
    from trials.records.files.delimited import FAST_FROM_BYTES, cut_fast, read_delimited

    body = "".join(f"A1,2026-07-{i % 28 + 1:02},é {i % 7},{i}\r\n" for i in range(60_000))
    data = ("plot,day,words,n\r\n" + body + ",,,\r\nA2,,,\r\n").encode()
    assert len(data) > FAST_FROM_BYTES
    path = tmp_path / "many.csv"
    path.write_bytes(data + b'"A1",,,\n')  # a quotation mark: only the careful one
    (slow,), fast = read_delimited("many.csv", path, Faults()), cut_fast("many.csv", "", data)
    assert slow is not None
    assert fast is not None
    assert fast.heading == slow.heading
    assert fast.row_numbers.tolist() == slow.row_numbers[:-1].tolist()
    for one, other in zip(fast.columns, slow.columns, strict=True):
        assert one.cells() == other.cells()[:-1]
    for odd in (b"\nA1,1\n", b"A1,1,2,3,4\n", b"\r"):
        assert cut_fast("many.csv", "", data + odd) is None
