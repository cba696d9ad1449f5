"""Spoiled files and hostile text: refused in its place, or stored as the text it is."""

from __future__ import annotations

import csv
import unicodedata
from pathlib import Path

import openpyxl
import pytest

from tests.benchmarks.fuzz_loading import Fuzz, kept_files, planted, run
from tests.strategies import ANSWERS, HOSTILE, Spoiled
from trials import season
from trials.errors import Fault, RecordsRefused
from trials.model.formula_escaping import FORMULA_STARTS, inert
from trials.model.rows import Sheet
from trials.records.files.corrected_files import FaultyRows, ToMend
from trials.report.faults_file import write_faults_file
from trials.season.comparing import Asked
from trials.store import Store

RUNS = ("=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", " =1", "\n=1")


@pytest.mark.slow
def test_spoiled_files_are_refused_in_their_place_or_stored_as_they_stand(tmp_path: Path) -> None:
    count = run(80, 0, tmp_path, derandomized=True)
    assert count.least == []
    assert not count.wrong
    assert {"refused", "asked", "stored"} <= set(count.became)


@pytest.mark.slow
def test_every_file_that_was_ever_taken_wrongly_is_judged_rightly(tmp_path: Path) -> None:
    fuzz = Fuzz(tmp_path)
    try:
        for file in kept_files():
            for answers in ((), tuple(ANSWERS.items())):
                fuzz.judge(Spoiled((file,), True, answers, None))
    finally:
        fuzz.close()


@pytest.mark.slow
def test_hostile_text_is_stored_as_the_text_it_is(tmp_path: Path) -> None:
    store = planted(tmp_path)
    texts = [text for text in HOSTILE if text.strip() and len(text) <= 1000]
    texts = [text for text in texts if text.isprintable() and "\ufeff" not in text]
    texts.remove("#REF!")  # what a spreadsheet shows where it has nothing to show
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


# A farm in which every field that holds text holds the same one (T).
EVERYWHERE = {
    "sites": (["site", "place", "bed_width_m", "note"], [["T", "T", "1.2", "T"]]),
    "seasons": (
        ["season", "site", "starts_on", "ends_on", "last_spring_frost", "first_autumn_frost"],
        [["2026", "T", "2026-03-01", "2026-11-30", "", ""]],
    ),
    "varieties": (
        ["variety", "crop", "colour", "habit"],
        [["T a", "T", "T", "T"], ["T b", "T", "T", "T"]],
    ),
    "seed_houses": (
        ["house", "currency", "shipping", "free_shipping_from", "minimum_order"],
        [["T", "EUR", "1", "", "0"]],
    ),
    "seed_items": (
        ["house", "item", "variety", "seeds", "price", "from_packs", "available"],
        [["T", "T", "T a", "50", "2", "1", "yes"]],
    ),
    "seed_lots": (
        ["lot", "house", "item", "packed_for", "germination"],
        [["T", "T", "T", "2026", "0.8"]],
    ),
    "trials": (
        ["trial", "season", "site", "crop", "question", "factors", "check", "primary_measure",
         "alpha", "equivalence_margin", "minimum_length_cm"],
        [["T", "2026", "T", "T", "T", "variety on plots", "T a", "stems_per_plant", "0.05", "",
          "40"]],
    ),
    "plots": (
        ["trial", "plot", "block", "whole_plot", "bed", "position", "variety", "lot",
         "plants_set", "net_length_m", "net_area_m2", "transplanted_on"],
        [
            ["T", f"T {n}", f"T {(n - 1) // 2}", "", "T", str(n), f"T {'ab'[n % 2]}",
             "" if n % 2 else "T", "10", "1", "1.2", "2026-05-01"]
            for n in range(1, 7)
        ],
    ),
    "stand_counts": (
        ["plot", "counted_on", "living"],
        [[f"T {n}", "2026-06-01", "10"] for n in range(1, 7)],
    ),
    "cuts": (
        ["plot", "cut_on", "outcome", "grade_cm", "stems", "cull_reason"],
        [
            [f"T {n}", "2026-07-01", "picked", *rest]
            for n in range(1, 7)
            for rest in (("40", str(20 + n * n % 7), ""), ("", "2", "T"))
        ],
    ),
    "events": (
        ["trial", "plot", "happened_on", "kind", "reason"],
        [["T", "T 1", "2026-07-02", "note", "T"]],
    ),
    "scores": (["plot", "scored_on", "trait", "value"], [["T 1", "2026-07-01", "T", "3"]]),
}  # fmt: skip


def refused_in(store: Path, folder: Path) -> tuple[Fault, ...]:
    try:
        season.load(store, [folder])
    except RecordsRefused as refused:
        return tuple(refused.faults)
    return ()


@pytest.mark.slow
def test_hostile_text_in_every_field_at_once_is_only_text(tmp_path: Path) -> None:
    stored = 0
    attacks = [text for text in HOSTILE[:32] if len(text) <= 60]
    for number, text in enumerate(attacks):
        folder = tmp_path / str(number)
        folder.mkdir()
        for name, (headings, rows) in EVERYWHERE.items():
            with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
                writer = csv.writer(file)
                writer.writerow(headings)
                writer.writerows([cell.replace("T", text) for cell in row] for row in rows)
        store = folder / "farm.tallybed"
        faults = refused_in(store, folder)
        if faults:
            assert all(fault.file and fault.remedy for fault in faults)
            assert not store.exists()
            continue
        stored += 1
        kept = unicodedata.normalize("NFC", text).strip()
        frames = Store.open(store).known().frames
        assert [trial.question for trial in season.trials(store)] == [kept]
        assert set(frames[Sheet.CUTS]["cull_reason"].dropna()) == {kept}
        assert set(frames[Sheet.SEED_LOTS]["lot"]) == {kept}
        found = season.compare_trial(store, kept, asked=Asked(second_opinions=False))
        assert found.plots == 6
    assert stored >= 15


def test_hostile_names_of_files_and_headings_are_shown_as_text(tmp_path: Path) -> None:
    store = planted(tmp_path)
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
    write_faults_file(ToMend((rows,), ()), tmp_path / "mend.csv")
    with (tmp_path / "mend.csv").open(encoding="utf-8-sig", newline="") as file:
        for row in csv.reader(file):
            assert not [cell for cell in row if cell.lstrip().startswith(FORMULA_STARTS)]
    write_faults_file(ToMend((rows,), ()), tmp_path / "mend.xlsx")
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
        "report/pictures/figures_file.py",  # tests/report/test_pictures.py
        "package/reading.py",  # handed to the judge of records, and to no spreadsheet
        "package/writing.py",  # tests/package
        "pool/publication.py",  # each text of it passes inert
        "season/winter_files.py",  # names pass inert; its orders are order_csv's
        "pool/gather.py",  # its key to the codes is read back by the next run, by no spreadsheet
    }
