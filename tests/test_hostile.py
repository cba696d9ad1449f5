"""Spoiled files and hostile text: refused in its place, or stored as the text it is."""

from __future__ import annotations

import csv
import importlib.util
import sys
import unicodedata
from pathlib import Path
from types import ModuleType

import openpyxl
import pytest

from trials import season
from trials.errors import RecordsRefused
from trials.inert import FORMULA_STARTS, inert
from trials.records.mended import FaultyRows
from trials.report.faults_file import write_faults_file
from trials.store import Store

FUZZ = Path(__file__).parent / "benchmarks" / "fuzz_loading.py"
RUNS = ("=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", " =1", "\n=1")


@pytest.fixture(scope="module")
def fuzzing() -> ModuleType:
    spec = importlib.util.spec_from_file_location("fuzz_loading", FUZZ)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules["fuzz_loading"] = module
    spec.loader.exec_module(module)
    return module


def test_spoiled_files_are_refused_in_their_place_or_stored(
    fuzzing: ModuleType, tmp_path: Path
) -> None:
    count = fuzzing.fuzz(250, 11, tmp_path)
    assert count.wrong == []
    assert sum(count.became.values()) == 250
    assert {"refused", "asked", "stored"} <= set(count.became)


def test_hostile_text_is_stored_as_the_text_it_is(fuzzing: ModuleType, tmp_path: Path) -> None:
    store = fuzzing.planted(tmp_path)
    texts = [text for text in fuzzing.HOSTILE if text.strip() and len(text) <= 1000]
    texts = [text for text in texts if text.isprintable() and "\ufeff" not in text]
    path = tmp_path / "hostile.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["trial", "plot", "happened_on", "kind", "reason"])
        writer.writerows(["Z26", "A1", "2026-06-12", "note", text] for text in texts)
    season.load(store, [path])
    kept = set(Store.open(store).events("Z26")["reason"])
    assert kept == {unicodedata.normalize("NFC", text).strip() for text in texts}
    Store.open(store).check()
    assert season.load(store, [path]).nothing_new


def test_hostile_names_of_files_and_headings_are_shown_as_text(
    fuzzing: ModuleType, tmp_path: Path
) -> None:
    store = fuzzing.planted(tmp_path)
    path = tmp_path / "\x1b[31m<b>.csv"
    path.write_text("plot,counted_on,li\x07ving\nA1,soon,3\n", "utf-8")
    with pytest.raises(RecordsRefused) as refused:
        season.load(store, [path])
    assert "\x1b" not in str(refused.value)
    assert "\x07" not in str(refused.value)


@pytest.mark.parametrize("text", RUNS)
def test_no_cell_that_is_written_runs(text: str, tmp_path: Path) -> None:
    assert not inert(text).startswith(FORMULA_STARTS)
    assert inert(text).startswith("'")
    rows = FaultyRows(text, ("plot", text), ((2, (text, "x"), text),))
    write_faults_file([rows], tmp_path / "mend.csv")
    with (tmp_path / "mend.csv").open(encoding="utf-8-sig", newline="") as file:
        for row in csv.reader(file):
            assert not [cell for cell in row if cell.lstrip().startswith(FORMULA_STARTS)]
    write_faults_file([rows], tmp_path / "mend.xlsx")
    for page in openpyxl.load_workbook(tmp_path / "mend.xlsx"):
        for cells in page.iter_rows():
            assert all(cell.data_type in "sn" for cell in cells)
            assert not [
                cell
                for cell in cells
                if str(cell.value).lstrip().startswith(FORMULA_STARTS) and not cell.quotePrefix
            ]


def test_every_writer_of_tables_is_known_here() -> None:
    """A new one has to come here, and into a test that none of its cells runs."""
    root = Path(__file__).parent.parent / "trials"
    writing = {
        str(path.relative_to(root))
        for path in root.rglob("*.py")
        if any(
            word in path.read_text("utf-8")
            for word in ("csv.writer", "DictWriter", ".to_csv", ".to_excel", "Workbook()")
        )
    }
    assert writing == {
        "paper/workbook.py",  # tests/paper/test_workbook.py
        "report/faults_file.py",  # above
        "report/order_csv.py",  # tests/report/test_order_csv.py
        "package/reading.py",  # handed to the judge of records, and to no spreadsheet
        "package/writing.py",  # tests/package
        "tallying.py",  # read back at once by the judge of records, by no spreadsheet
    }
