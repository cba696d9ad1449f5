"""Files into a store: sheets of somebody's own, unlikely records, and faults that are mended."""

from __future__ import annotations

import csv
import json
import os
import re
import shutil
import subprocess
import sys
from datetime import date, timedelta
from pathlib import Path
from typing import Any, cast

import duckdb
import openpyxl
import pandas as pd
import pytest
from click.testing import CliRunner

from tests.strategies import FARM
from trials import season
from trials.cli import tallybed
from trials.errors import SHOWN_AT_MOST, RecordsHeld, RecordsRefused, TallybedError
from trials.model.rows import Sheet
from trials.records.mapping.agreement import Agreed, agreed_on, with_answers
from trials.records.mapping.guess import ReadingNeeded
from trials.report.pages import refusal_document
from trials.store import Store

WIDE = "Plot;20.7.2026;27.7.2026\nA1;12;\nA2;3;4\n"
ANSWERS = {"sheet": "cuts", "blank": "zero", "grade_cm": "40"}


@pytest.fixture(scope="module")
def planted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("planted")
    for name, text in FARM.items():
        (folder / name).write_text(text, "utf-8")
    store = folder / "farm.tallybed"
    season.load(store, [folder])
    return store


@pytest.fixture
def store(planted: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(planted, tmp_path / "farm.tallybed"))


def write(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.write_text(text, "utf-8")
    return path


def stems(store: Path) -> dict[tuple[str, str], float]:
    cuts = Store.open(store).cuts("Z26")
    return {
        (plot, str(day)): number
        for plot, day, number in zip(cuts["plot"], cuts["cut_on"], cuts["stems"], strict=True)
    }


@pytest.mark.slow
def test_a_sheet_of_ones_own_is_asked_about_agreed_on_and_kept(store: Path, tmp_path: Path) -> None:
    path = write(tmp_path, "july.csv", WIDE)
    before = store.read_bytes()
    with pytest.raises(ReadingNeeded) as needed:
        season.load(store, [path], agreed=Agreed(guesses=True))
    assert [q.key for q in needed.value.guesses[0].questions] == [*("sheet", "blank", "grade_cm")]
    assert store.read_bytes() == before
    season.load(store, [path], agreed=Agreed(answers=ANSWERS))
    assert stems(store) == {
        ("A1", "2026-07-20"): 12,
        ("A1", "2026-07-27"): 0,
        ("A2", "2026-07-20"): 3,
        ("A2", "2026-07-27"): 4,
    }
    # The next file of the kind, with other days, needs no agreeing.
    later = write(tmp_path, "august.csv", "Plot;3.8.2026\nA1;\nA2;7\n")
    season.load(store, [later])
    assert stems(store)["A2", "2026-08-03"] == 7
    assert stems(store)["A1", "2026-08-03"] == 0


def test_a_fault_names_the_row_and_heading_of_the_source(store: Path, tmp_path: Path) -> None:
    path = write(tmp_path, "july.csv", WIDE.replace("A2;3", "A2;3.5"))
    with pytest.raises(RecordsRefused) as refused:
        season.load(store, [path], agreed=Agreed(answers=ANSWERS))
    (fault,) = refused.value.faults
    assert (fault.file, fault.row, fault.column) == ("july.csv", 3, "20.7.2026")


@pytest.mark.slow
def test_one_table_is_the_same_from_every_kind_of_file(store: Path, tmp_path: Path) -> None:
    rows = [("A1", "2026-07-20", 12), ("A2", "2026-07-20", 3)]
    frame = pd.DataFrame(rows, columns=["plot", "counted_on", "living"])
    frame["counted_on"] = pd.to_datetime(frame["counted_on"])
    frame.to_parquet(tmp_path / "a.parquet")
    frame.astype({"living": float}).to_parquet(tmp_path / "b.parquet")
    book = openpyxl.Workbook()
    page = book.worksheets[0]
    page.append(["Stands of the zinnias"])
    page.append(list(frame.columns))
    for plot, day, living in rows:
        page.append([plot, pd.Timestamp(day).to_pydatetime(), living])
    book.save(tmp_path / "c.xlsx")
    text = "plot\tcounted_on\tliving\n" + "".join("\t".join(map(str, r)) + "\n" for r in rows)
    (tmp_path / "d.csv").write_bytes(text.encode("utf-16"))
    added = season.load(store, [tmp_path / "a.parquet"])
    assert dict(added.added) == {Sheet.STAND_COUNTS: 2}
    for name in ("b.parquet", "c.xlsx", "d.csv"):
        added = season.load(store, [tmp_path / name])
        assert dict(added.already_held) == {Sheet.STAND_COUNTS: 2}
        assert added.nothing_new


@pytest.mark.slow
def test_the_unlikely_waits_for_a_reason_which_is_kept(store: Path, tmp_path: Path) -> None:
    path = write(tmp_path, "stands.csv", "plot,counted_on,living\nA1,2026-06-20,17\n")
    before = store.read_bytes()
    with pytest.raises(RecordsHeld, match="17 plants are living, but only 16 were set"):
        season.load(store, [path])
    assert store.read_bytes() == before
    season.load(store, [path], agreed=Agreed(accept="a volunteer came up"))
    Store.open(store).check()
    with duckdb.connect(store, read_only=True) as connection:
        kept = connection.execute(
            "SELECT sheet, file, row_number, column_name, reason FROM accepted"
        ).fetchall()
    assert kept == [("stand_counts", "stands.csv", 2, "living", "a volunteer came up")]


@pytest.mark.slow
@pytest.mark.parametrize("suffix", ["csv", "xlsx"])
def test_faulty_rows_are_mended_apart_and_take_their_place(
    store: Path, tmp_path: Path, suffix: str
) -> None:
    path = write(tmp_path, "stands.csv", "plot,counted_on,living\nA1,=1+1,15\nA2,2026-06-20,14\n")
    with pytest.raises(RecordsRefused) as refused:
        season.load(store, [path])
    mend = tmp_path / f"mend.{suffix}"
    assert season.write_faults([path], refused.value.faults, mend) == 1
    if suffix == "csv":
        rows = list(csv.reader(mend.read_text("utf-8-sig").splitlines()))
        assert rows[1][1:] == ["stands.csv", "2", "A1", "'=1+1", "15"]
        assert "is not a date" in rows[1][0]
        mend.write_text(mend.read_text("utf-8-sig").replace("'=1+1", "2026-06-20"), "utf-8")
    else:
        book = openpyxl.load_workbook(mend)
        cell = book.worksheets[0]["E2"]
        assert (cell.value, cell.data_type, cell.quotePrefix) == ("=1+1", "s", True)
        cell.value = "2026-06-20"
        book.save(mend)
    added = season.load(store, [path, mend])
    assert dict(added.added) == {Sheet.STAND_COUNTS: 2}


def test_rows_of_two_tables_need_a_workbook_to_be_mended_in(store: Path, tmp_path: Path) -> None:
    one = write(tmp_path, "one.csv", "plot,counted_on,living\nA1,soon,15\n")
    two = write(tmp_path, "two.csv", "plot,scored_on,trait,value\nA1,soon,looks,3\n")
    with pytest.raises(RecordsRefused) as refused:
        season.load(store, [one, two])
    with pytest.raises(TallybedError, match=r"Name a workbook, such as mend\.xlsx"):
        season.write_faults([one, two], refused.value.faults, tmp_path / "mend.csv")
    assert season.write_faults([one, two], refused.value.faults, tmp_path / "mend.xlsx") == 2


def test_every_fault_of_a_large_file_is_to_be_mended_and_what_was_mended_loads(
    store: Path, tmp_path: Path
) -> None:
    days = [date(2026, 6, 1) + timedelta(days=n) for n in range(90)]
    rows = [f"{plot},{day},{n % 16}x" for n, day in enumerate(days) for plot in ("A1", "A2")]
    path = write(tmp_path, "stands.csv", "\n".join(["plot,counted_on,living", *rows, "A1,2,3,4"]))
    with pytest.raises(RecordsRefused, match="181 faults found") as refused:
        season.load(store, [path])
    faults = refused.value.faults
    assert len(str(refused.value).splitlines()) == 1 + SHOWN_AT_MOST + 1
    document = refusal_document(refused.value)
    listed = cast("list[dict[str, Any]]", document["faults"])
    assert [fault["row"] for fault in listed] == [*range(2, 183)]
    assert all(f["file"] == "stands.csv" and f["problem"] and f["remedy"] for f in listed)
    mend = tmp_path / "mend.csv"
    assert season.write_faults([path], faults, mend) == 181
    text = mend.read_text("utf-8-sig")
    # The cell too many is put where the heading has room; the others lose their letter.
    text = text.replace('"A1","2","3","4"', '"A1","2026-05-30","3"')
    mend.write_text(re.sub(r'"(\d+)x"', r'"\1"', text), "utf-8")
    added = season.load(store, [path, mend])
    assert dict(added.added) == {Sheet.STAND_COUNTS: 181}


@pytest.mark.parametrize("suffix", ["csv", "xlsx"])
def test_faults_of_no_row_are_in_the_file_too_and_are_passed_over(
    store: Path, tmp_path: Path, suffix: str
) -> None:
    path = write(tmp_path, "stands.csv", "plot,counted_on,leaving\nA1,soon,15\n")
    with pytest.raises(RecordsRefused) as refused:
        season.load(store, [path])
    assert {fault.row for fault in refused.value.faults} == {1, 2}
    mend = tmp_path / f"mend.{suffix}"
    season.write_faults([path], refused.value.faults, mend)
    if suffix == "csv":
        said = [row[:3] for row in csv.reader(mend.read_text("utf-8-sig").splitlines())]
    else:
        book = openpyxl.load_workbook(mend)
        said = [
            [str(row[k].value or "") for k in range(3)] for page in book for row in page.iter_rows()
        ]
    told = [words for words, file, row in said if file == "stands.csv" and row == ""]
    assert any(words.startswith("row 1, column leaving: ") for words in told)
    with pytest.raises(RecordsRefused) as again:
        season.load(store, [path, mend])
    assert not [fault for fault in again.value.faults if fault.problem.startswith("Column")]


def test_mended_rows_of_a_sheet_of_ones_own_are_read_as_that_sheet_is(
    store: Path, tmp_path: Path
) -> None:
    # Only the row that is right tells that the day comes first.
    path = write(tmp_path, "mine.csv", "Tag,Date,alive\nA1,20/6/26,15\nA2,1/6/26,14%\n")
    agreed = Agreed(guesses=True)
    with pytest.raises(RecordsRefused) as refused:
        season.load(store, [path], agreed=agreed)
    mend = tmp_path / "mend.csv"
    season.write_faults([path], refused.value.faults, mend)
    mend.write_text(mend.read_text("utf-8-sig").replace("14%", "14"), "utf-8")
    season.load(store, [path, mend], agreed=agreed)
    stands = Store.open(store).known().frames[Sheet.STAND_COUNTS]
    assert {(row.plot, str(row.counted_on)[:10], row.living) for row in stands.itertuples()} == {
        ("A1", "2026-06-20", 15),
        ("A2", "2026-06-01", 14),
    }


@pytest.mark.slow
def test_a_sheet_that_tells_plots_by_block_and_variety_is_stored_by_their_codes(
    store: Path, tmp_path: Path
) -> None:
    text = "Rep;Cultivar;20.7.26;27.7.26\n1;Ember;12;0\nBlock 1;frost fern;3;4\n"
    path = write(tmp_path, "cuts.csv", text)
    with pytest.raises(ReadingNeeded) as needed:
        season.load(store, [path])
    assert needed.value.guesses[0].reading.trial == "Z26"
    season.load(store, [path], agreed=Agreed(answers={"sheet": "cuts", "grade_cm": "40"}))
    assert stems(store) == {
        ("A1", "2026-07-20"): 12,
        ("A1", "2026-07-27"): 0,
        ("A2", "2026-07-20"): 3,
        ("A2", "2026-07-27"): 4,
    }
    # The next sheet of these headings needs no agreement.
    again = text.replace("20.7.26;27.7.26", "3.8.26").replace(";0\n", "\n").replace(";4\n", "\n")
    season.load(store, [write(tmp_path, "more.csv", again)])
    assert stems(store)["A2", "2026-08-03"] == 3


def test_plots_that_come_with_the_load_are_found_by_their_labels_too(tmp_path: Path) -> None:
    for name, content in FARM.items():
        write(tmp_path, name, content)
    write(tmp_path, "stands.csv", "block,variety,date,alive\n1,Ember,2026-06-20,15\n")
    store = tmp_path / "farm.tallybed"
    season.load(store, [tmp_path], agreed=Agreed(guesses=True))
    stands = Store.open(store).known().frames[Sheet.STAND_COUNTS]
    assert list(stands["plot"]) == ["A1"]


def test_one_day_is_not_taken_for_that_of_several_sheets(store: Path, tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    for title, alive in (("north", 15), ("south", 14)):
        page = book.create_sheet(title)
        for row in (["Plot", "Alive"], ["A1" if title == "north" else "A2", alive]):
            page.append(row)
    path = tmp_path / "stands.xlsx"
    book.save(path)
    agreed = Agreed(guesses=True, answers={"counted_on": "2026-06-20"})
    with pytest.raises(RecordsRefused, match="but 2 sheets have none") as refused:
        season.load(store, [path], agreed=agreed)
    assert {fault.file for fault in refused.value.faults} == {
        *("stands.xlsx, sheet north", "stands.xlsx, sheet south")
    }
    # On a page each sheet is asked for its own.
    found = season.guesses(store, [path])
    days = ("2026-06-20", "2026-06-21")
    each = [with_answers(one, {"counted_on": day}) for one, day in zip(found, days, strict=True)]
    season.load(store, [path], agreed=agreed_on(each))
    stands = Store.open(store).known().frames[Sheet.STAND_COUNTS]
    assert sorted(str(day)[:10] for day in stands["counted_on"]) == list(days)


def test_a_day_that_was_told_for_one_file_is_asked_for_the_next(
    store: Path, tmp_path: Path
) -> None:
    path = write(tmp_path, "one.csv", "Plot,Alive\nA1,15\n")
    season.load(store, [path], agreed=Agreed(answers={"counted_on": "2026-06-20"}))
    with pytest.raises(ReadingNeeded) as needed:
        season.load(store, [write(tmp_path, "two.csv", "Plot,Alive\nA1,14\n")])
    assert [question.key for question in needed.value.guesses[0].questions] == ["counted_on"]


def test_the_command_prints_every_fault_as_json_and_writes_it_to_a_file_of_its_own(
    store: Path, tmp_path: Path
) -> None:
    path = write(tmp_path, "stands.csv", "plot,counted_on,living\nA1,soon,15\nA9,2026-06-20,1\n")
    mend = tmp_path / "mend.csv"
    asked = ["load", str(path), "--store", str(store), "--json"]
    ran = CliRunner().invoke(tallybed, [*asked, "--faults", str(mend)])
    assert isinstance(ran.exception, RecordsRefused)
    document = json.loads(ran.stdout)
    assert document["stored"] is False
    assert [(f["file"], f["sheet"], f["row"], f["column"]) for f in document["faults"]] == [
        ("stands.csv", None, 2, "counted_on"),
        ("stands.csv", None, 3, "plot"),
    ]
    assert len(list(csv.reader(mend.read_text("utf-8-sig").splitlines()))) == 3
    # A faults file that is itself to be mended would lose the rows that are right in it.
    again = CliRunner().invoke(tallybed, [*asked, str(mend), "--faults", str(mend)])
    assert "Name another for the faults" in str(again.exception)


COUNTING = """
import sys, threading
from trials.cli import main
started = []
start = threading.Thread.start
threading.Thread.start = lambda thread: (started.append(thread.name), start(thread))[1]
sys.argv[0] = "tallybed"
try:
    main()
finally:
    print("threads:", started)
"""


@pytest.mark.slow
def test_no_two_threads_import_while_files_are_loaded(tmp_path: Path) -> None:
    """Two threads that import at once can end in a deadlock, which Python raises in one of them."""
    for name, text in FARM.items():
        (tmp_path / name).write_text(text, "utf-8")
    words = ["load", str(tmp_path), "--store", str(tmp_path / "farm.tallybed")]
    done = subprocess.run(
        [sys.executable, "-c", COUNTING, *words], capture_output=True, text=True, check=True
    )
    assert done.stdout.endswith("threads: []\n")


@pytest.mark.slow
def test_the_real_command_loads_with_all_imports_cold(tmp_path: Path) -> None:
    """At once, so that each has to share the processors; 200 are in benchmarks/cold_loads.py."""
    for name, text in FARM.items():
        (tmp_path / name).write_text(text, "utf-8")
    command = [sys.executable, "-B", "-m", "trials.cli", "load", str(tmp_path), "--store"]
    lines = [[*command, str(tmp_path / f"{number}.tallybed")] for number in range(2)]
    cold = {**os.environ, "PYTHONPYCACHEPREFIX": str(tmp_path / "compiled")}
    loads = [subprocess.Popen(line, env=cold, stderr=subprocess.PIPE, text=True) for line in lines]
    assert [(load.communicate()[1], load.returncode) for load in loads] == [("", 0)] * len(lines)
