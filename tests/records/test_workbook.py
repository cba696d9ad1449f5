from __future__ import annotations

import csv
import io
import warnings
import zipfile
from collections.abc import Iterator
from contextlib import suppress
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import openpyxl
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from trials.errors import Fault, RecordsRefused, TallybedError
from trials.layout.plan import Bed, PlannedLayout, PlannedPlot, Planting, TrialPlan
from trials.model.rows import Batch, Known, Sheet
from trials.model.trial import AppliedTo, Factor
from trials.paper.workbook import write_workbook
from trials.records import read
from trials.records.faults import Faults
from trials.records.files import workbook
from trials.records.files.workbook import read_workbook
from trials.records.rules.forms import FORMS
from trials.stats.results import LayoutKind

if TYPE_CHECKING:
    from tests.records.conftest import Farm

Rows = list[list[Any]]


def as_typed(cell: str) -> Any:
    """A cell as a person's spreadsheet would keep it: a number, a date or text."""
    for made in (int, float, datetime.fromisoformat):
        with suppress(ValueError):
            return made(cell)
    return cell or None


def saved(path: Path, sheets: dict[str, Rows]) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for name, rows in sheets.items():
        page = book.create_sheet(name)
        for row in rows:
            page.append(row)
    book.save(path)
    return path


def of_farm(farm: Farm) -> dict[str, Rows]:
    return {
        path.stem: [
            [cell if number == 0 else as_typed(cell) for cell in row]
            for number, row in enumerate(csv.reader(io.StringIO(path.read_text("utf-8"))))
        ]
        for path in sorted(farm.folder.glob("*.csv"))
    }


def faults_of(path: Path, known: Known) -> tuple[Fault, ...]:
    with pytest.raises(RecordsRefused) as refused:
        read([path], known)
    for fault in refused.value.faults:
        assert fault.problem.endswith(".")
        assert fault.remedy.endswith((".", "?"))
    return tuple(refused.value.faults)


def same_frames(a: Batch, b: Batch) -> None:
    assert list(a.frames) == list(b.frames)
    for sheet, frame in a.frames.items():
        pd.testing.assert_frame_equal(frame, b.frames[sheet])


HEADING = list(FORMS[Sheet.CUTS].names)
NEW_DAY = datetime(2026, 8, 10)


def cuts(*rows: list[Any]) -> dict[str, Rows]:
    return {"cuts": [HEADING, *rows]}


# -------------------------------------------------------------------- a workbook a person made


def test_a_workbook_reads_as_its_sheets_saved_as_csv_would(farm: Farm, tmp_path: Path) -> None:
    from_csv = farm.read()
    path = saved(tmp_path / "season.xlsx", of_farm(farm))
    from_workbook = read([path], Known({}, frozenset()))
    same_frames(from_csv, from_workbook)
    source = next(s for s in from_workbook.sources if s.sheet is Sheet.CUTS)
    assert (source.file, source.rows) == ("season.xlsx, sheet cuts", 6)


def test_sheets_may_have_any_name_and_empty_ones_are_passed_over(
    farm: Farm, tmp_path: Path
) -> None:
    sheets = {f"my {number}": rows for number, rows in enumerate(of_farm(farm).values())}
    path = saved(tmp_path / "season.xlsx", {"Sheet1": [], **sheets, "Sheet9": [[None, ""]]})
    same_frames(farm.read(), read([path], Known({}, frozenset())))


def test_a_workbook_and_csv_files_are_read_together(farm: Farm, tmp_path: Path) -> None:
    before = farm.read()
    path = saved(farm.folder / "picked.xlsx", {"cuts": of_farm(farm)["cuts"]})
    (farm.folder / "cuts.csv").unlink()
    (farm.folder / "~$picked.xlsx").write_bytes(b"left by a spreadsheet")
    same_frames(before, farm.read())
    path.unlink()
    assert any("no cut on" in fault.problem for fault in farm.faults())


@pytest.mark.parametrize(
    ("cell", "text"),
    [
        (7, "7"),
        (7.0, "7"),
        (46.25, "46.25"),
        (1e16, "10000000000000000"),
        (1e-5, "0.00001"),
        (datetime(2026, 7, 20), "2026-07-20"),
        (date(2026, 7, 20), "2026-07-20"),
        (datetime(2026, 7, 20, 14, 30), "2026-07-20 14:30:00"),
        ("2026-07-20", "2026-07-20"),
        ("007", "007"),
        (True, "TRUE"),
        ("  Ember ", "Ember"),
        ("NA", "NA"),
    ],
)
def test_a_cell_is_read_as_a_csv_file_would_hold_it(tmp_path: Path, cell: Any, text: str) -> None:
    path = saved(tmp_path / "any.xlsx", {"any": [["heading", "other"], [cell, "x"]]})
    (cells,) = read_workbook("any.xlsx", path, Faults())
    assert [cells.row(0), len(cells)] == [(text, "x"), 1]


def test_a_formula_counts_as_what_was_saved_with_it(known: Known, tmp_path: Path) -> None:
    path = saved(tmp_path / "beds.xlsx", cuts(["A1", NEW_DAY, "picked", 40, "=3+4", None]))
    (fault,) = faults_of(path, known)
    assert (fault.file, fault.row, fault.column) == ("beds.xlsx, sheet cuts", 2, "stems")
    assert "formula" in fault.problem
    _rewrite(path, "worksheets/sheet1.xml", b"<f>3+4</f><v />", b"<f>3+4</f><v>7</v>")
    assert read([path], known).frames[Sheet.CUTS]["stems"].tolist() == [7]


def _rewrite(path: Path, part: str, old: bytes, new: bytes) -> None:
    with zipfile.ZipFile(path) as packed:
        parts = {name: packed.read(name) for name in packed.namelist()}
    (name,) = (name for name in parts if name.endswith(part))
    assert old in parts[name], parts[name][-400:]
    parts[name] = parts[name].replace(old, new)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in parts.items():
            packed.writestr(name, content)


# ---------------------------------------------------------------------------- what is refused


def test_a_broken_cell_loads_nothing_and_is_named(known: Known, tmp_path: Path) -> None:
    good = ["A1", NEW_DAY, "picked", 40, 5, None]
    path = saved(
        tmp_path / "beds.xlsx",
        cuts(good, ["A1", NEW_DAY, "picked", 30, "a lot", None], ["A9", NEW_DAY, "missed"]),
    )
    stems, plot = faults_of(path, known)
    assert str(stems).startswith("beds.xlsx, sheet cuts, row 3, column stems: 'a lot'")
    assert stems.remedy == "Write a whole number, at least 0 and at most 1,000,000."
    assert (plot.row, plot.column) == (4, "plot")
    assert "A9" in plot.problem


def test_the_faults_are_those_of_the_same_cells_in_csv(
    farm: Farm, known: Known, tmp_path: Path
) -> None:
    for row, column, cell in (
        (2, "stems", "-4"),
        (3, "cut_on", "20.07.2026"),
        (4, "outcome", "pickt"),
        (5, "plot", "A22"),
    ):
        farm.spoil("cuts.csv", row, column, cell)
    path = saved(tmp_path / "season.xlsx", {"cuts": of_farm(farm)["cuts"]})
    from_csv = [
        (f.row, f.column, f.problem, f.remedy) for f in faults_of(farm.folder / "cuts.csv", known)
    ]
    assert [(f.row, f.column, f.problem, f.remedy) for f in faults_of(path, known)] == from_csv


@pytest.mark.parametrize("shift", [-1, 1, 2, 3])
@pytest.mark.parametrize("sheet", ["stand_counts", "cuts", "stem_samples", "events"])
def test_a_row_shifted_to_other_columns_is_refused(
    farm: Farm, known: Known, tmp_path: Path, sheet: str, shift: int
) -> None:
    rows = of_farm(farm)[sheet]
    rows[1] = rows[1][-shift:] if shift < 0 else [*[None] * shift, *rows[1]]
    path = saved(tmp_path / "season.xlsx", {sheet: rows})
    without = Known({s: f for s, f in known.frames.items() if s.value != sheet}, frozenset())
    assert any(fault.row == 2 for fault in faults_of(path, without))


def test_a_cell_under_no_heading_is_named_by_its_column(known: Known, tmp_path: Path) -> None:
    row = ["A1", NEW_DAY, "picked", 40, 5, None, None, "see note"]
    (fault,) = faults_of(saved(tmp_path / "beds.xlsx", cuts(row)), known)
    assert (fault.row, fault.column) == (2, "H")
    assert fault.problem == "'see note' is under no heading."


def test_a_cell_that_shows_an_error_is_refused(known: Known, tmp_path: Path) -> None:
    row = ["Z26", None, None, datetime(2026, 8, 1), "note", "#REF!"]
    path = saved(tmp_path / "beds.xlsx", {"events": [list(FORMS[Sheet.EVENTS].names), row]})
    (fault,) = faults_of(path, known)
    assert (fault.row, fault.column) == (2, "reason")
    assert "#REF!" in fault.problem


def test_an_unknown_sheet_is_refused(known: Known, tmp_path: Path) -> None:
    good = ["A1", NEW_DAY, "picked", 40, 5, None]
    sheets = cuts(good) | {"shopping": [["what", "where"], ["twine", "shed"]]}
    (fault,) = faults_of(saved(tmp_path / "beds.xlsx", sheets), known)
    assert (fault.file, fault.row) == ("beds.xlsx, sheet shopping", 1)


@pytest.mark.parametrize(
    ("content", "problem"),
    [
        (b"", "This is not a workbook (XLSX)."),
        (b"plot,cut_on\n", "This is not a workbook (XLSX)."),
        (b"\xd0\xcf\x11\xe0" + bytes(600), "This workbook has the old format (XLS) or a password"),
    ],
)
def test_a_file_that_is_no_workbook_is_refused(
    known: Known, tmp_path: Path, content: bytes, problem: str
) -> None:
    path = tmp_path / "beds.xlsx"
    path.write_bytes(content)
    (fault,) = faults_of(path, known)
    assert (fault.file, fault.row) == ("beds.xlsx", None)
    assert fault.problem.startswith(problem)


def test_another_zipped_file_is_no_workbook(known: Known, tmp_path: Path) -> None:
    path = tmp_path / "beds.xlsx"
    with zipfile.ZipFile(path, "w") as packed:
        packed.writestr("notes.txt", "hello")
    (fault,) = faults_of(path, known)
    assert fault.problem == "This is not a workbook (XLSX)."


def test_a_missing_workbook_names_the_nearest(known: Known, tmp_path: Path) -> None:
    saved(tmp_path / "beds.xlsx", cuts())
    (fault,) = faults_of(tmp_path / "bets.xlsx", known)
    assert fault.remedy == "Did you mean 'beds.xlsx'?"


def test_a_workbook_that_unpacks_to_too_much_is_refused_unopened(
    known: Known, tmp_path: Path
) -> None:
    path = saved(tmp_path / "beds.xlsx", cuts())
    with zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/media/image1.png", bytes(workbook.UNPACKED_AT_MOST))
    assert path.stat().st_size < 200_000
    (fault,) = faults_of(path, known)
    assert "unpacks to" in fault.problem


def test_cells_far_beyond_the_records_are_refused(known: Known, tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    page = book.worksheets[0]
    for row in range(1, 200):
        page.cell(row, 16384, "x")
    book.save(tmp_path / "beds.xlsx")
    (fault,) = faults_of(tmp_path / "beds.xlsx", known)
    assert "more than 2,000,000 cells" in fault.problem


def test_a_heading_alone_holds_nothing(known: Known, tmp_path: Path) -> None:
    (fault,) = faults_of(saved(tmp_path / "beds.xlsx", cuts()), known)
    assert fault.problem == "Nothing is recorded in this workbook."


@pytest.mark.slow
@settings(
    deadline=None,
    derandomize=True,
    max_examples=60,
    database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    place=st.floats(0, 1),
    put=st.binary(max_size=6),
    cut=st.integers(0, 40),
    part=st.sampled_from(["", "sheet1.xml", "workbook.xml", "styles.xml", "sharedStrings.xml"]),
)
def test_a_damaged_workbook_is_read_or_refused(
    known: Known, tmp_path: Path, place: float, put: bytes, cut: int, part: str
) -> None:
    path = saved(tmp_path / "beds.xlsx", cuts(["A1", NEW_DAY, "picked", 40, 5, "=1"]))

    def damaged(content: bytes) -> bytes:
        at = int(place * len(content))
        return content[:at] + put + content[at + cut :]

    if part:
        with zipfile.ZipFile(path) as packed:
            parts = {name: packed.read(name) for name in packed.namelist()}
        with zipfile.ZipFile(path, "w") as packed:
            for name, content in parts.items():
                packed.writestr(name, damaged(content) if name.endswith(part) else content)
    else:
        path.write_bytes(damaged(path.read_bytes()))
    with suppress(TallybedError):
        read([path], known)


# ------------------------------------------------------------- a workbook that went out and back


@pytest.fixture
def sent(tmp_path: Path) -> Path:
    """The workbook of the small farm's trial Z26, as it goes out."""
    plots = tuple(
        PlannedPlot(code, "North", n, n - 1.0, 1.2, 1.2, 1.44, 16, (("variety", name),), block="1")
        for n, (code, name) in enumerate((("A1", "Ember"), ("A2", "Frost Fern")), 1)
    )
    plan = TrialPlan(
        code="Z26",
        season=2026,
        site="Low Field",
        crop="zinnia",
        question="Which zinnia?",
        kind=LayoutKind.COMPLETE_BLOCKS,
        factors=(Factor("variety", ("Ember", "Frost Fern"), AppliedTo.PLOT),),
        checks=("Ember",),
        replicates=1,
        beds=(Bed("North", 10, 1.2),),
        planting=Planting(4, 30),
        plants_per_plot=16,
        guard_plants=0,
        primary_measure="stems_per_plant",
        alpha=0.05,
        margin=None,
        minimum_length_cm=40,
        grades_cm=(30, 40, 50),
        seed=1,
    )
    path = tmp_path / "beds.xlsx"
    write_workbook(
        PlannedLayout(plan, plots), path, on=date(2026, 3, 1), cull_reasons=("short", "rain")
    )
    return path


@pytest.fixture
def before(known: Known) -> Known:
    """What the store knows before anything was recorded."""
    picking = {Sheet.STAND_COUNTS, Sheet.CUTS, Sheet.STEM_SAMPLES, Sheet.EVENTS, Sheet.SCORES}
    return Known({s: f for s, f in known.frames.items() if s not in picking}, frozenset())


class Filling:
    """A person filling in a workbook row by row."""

    def __init__(self, path: Path) -> None:
        self.path = path
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            self.book = openpyxl.load_workbook(path)

    def write(self, sheet: str, row: int, **cells: Any) -> None:
        page = self.book[sheet]
        places = {cell.value: number for number, cell in enumerate(page[1], 1)}
        for name, value in cells.items():
            page.cell(row, places[name]).value = value

    def rows(self, sheet: str, **where: Any) -> Iterator[int]:
        """The ready rows whose cells are these."""
        page = self.book[sheet]
        names = [cell.value for cell in page[1]]
        for number, row in enumerate(page.iter_rows(min_row=2, values_only=True), 2):
            cells = dict(zip(names, row, strict=True))
            if all(cells[name] == value for name, value in where.items()):
                yield number

    def save(self) -> Path:
        self.book.save(self.path)
        return self.path


def test_an_untouched_workbook_records_nothing(sent: Path, before: Known) -> None:
    (fault,) = faults_of(sent, before)
    assert (fault.file, fault.problem) == ("beds.xlsx", "Nothing is recorded in this workbook.")


def test_what_was_filled_in_comes_back_whole(sent: Path, before: Known, farm: Farm) -> None:
    """The picking of the small farm's files, written into the workbook, reads as those files."""
    filling = Filling(sent)
    for number, (plot, living) in enumerate((("A1", 16), ("A2", 14)), 2):
        assert filling.book["stand_counts"].cell(number, 1).value == plot
        filling.write("stand_counts", number, counted_on=datetime(2026, 6, 10), living=living)
    (row,) = filling.rows("cuts", plot="A1")
    counts = {"40 cm": 12, "30 cm": 3, "culled: short": 2}
    filling.write("cuts", row, cut_on=datetime(2026, 7, 20), **counts)
    (row,) = filling.rows("cuts", plot="A2")
    # Nothing found is a nought in a box; in the plain file it needs no grade.
    filling.write("cuts", row, cut_on=datetime(2026, 7, 20), **{"30 cm": 0})
    # The next picking day goes below; one date is written as text.
    below = next(filling.rows("cuts", plot=None))
    filling.write("cuts", below, plot="A1", cut_on="2026-07-27", missed="x")
    filling.write("cuts", below + 1, plot="A2", cut_on=date(2026, 7, 27), **{"40 cm": 9})
    (row,) = filling.rows("stem_samples", plot="A1")
    lengths = {"stem 1, cm": 46, "stem 2, cm": 51.5}
    filling.write("stem_samples", row, cut_on=datetime(2026, 7, 20), **lengths)
    filling.write(
        "events", 2, happened_on=datetime(2026, 10, 14), kind="frost", reason="first hard frost"
    )
    farm.drop_row("events.csv", 3)
    farm.drop_row("events.csv", 2)
    farm.spoil("cuts.csv", 5, "grade_cm", "30")
    farm.only("stand_counts.csv", "cuts.csv", "stem_samples.csv", "events.csv")
    from_workbook, from_csv = read([filling.save()], before), farm.read(before)

    def records(batch: Batch, sheet: Sheet) -> set[tuple[Any, ...]]:
        frame = batch.frames[sheet].astype(object)
        return set(frame.where(frame.notna(), None).itertuples(index=False, name=None))

    assert list(from_workbook.frames) == list(from_csv.frames)
    for sheet in from_csv.frames:
        assert records(from_workbook, sheet) == records(from_csv, sheet)
        assert len(from_workbook.frames[sheet]) == len(from_csv.frames[sheet])


def test_a_date_on_a_row_without_a_count_is_no_record(sent: Path, before: Known) -> None:
    filling = Filling(sent)
    for row in (2, 3):
        filling.write("stand_counts", row, counted_on=datetime(2026, 6, 10))
    filling.write("stand_counts", 3, living=12)
    frame = read([filling.save()], before).frames[Sheet.STAND_COUNTS]
    assert frame["plot"].tolist() == ["A2"]


def test_stems_without_a_day_are_asked_about(sent: Path, before: Known) -> None:
    filling = Filling(sent)
    filling.write("cuts", 3, **{"40 cm": 4})
    (fault,) = faults_of(filling.save(), before)
    assert (fault.file, fault.row, fault.column) == ("beds.xlsx, sheet cuts", 3, "cut_on")


def test_a_code_pasted_over_is_refused(sent: Path, before: Known) -> None:
    filling = Filling(sent)
    filling.write("cuts", 3, plot="A1 A2", cut_on=NEW_DAY, **{"40 cm": 4})
    (fault,) = faults_of(filling.save(), before)
    assert (fault.row, fault.column) == (3, "plot")
    assert fault.remedy == "Did you mean 'A1'?" or "A1" in fault.remedy


def test_a_workbook_loaded_twice_adds_nothing_the_second_time(sent: Path, before: Known) -> None:
    filling = Filling(sent)
    filling.write("stand_counts", 2, counted_on=NEW_DAY, living=15)
    batch = read([filling.save()], before)
    again = read([sent], Known({**before.frames, **batch.frames}, frozenset()))
    assert not again.frames
    assert again.already_held == {Sheet.STAND_COUNTS: 1}


def test_codes_that_look_like_formulas_come_back_as_they_were(sent: Path, tmp_path: Path) -> None:
    filling = Filling(sent)
    page = filling.book["stand_counts"]
    page["A2"].value, page["A2"].data_type = "=1+1", "s"
    filling.write("stand_counts", 2, counted_on=NEW_DAY, living=15)
    (cells,) = read_workbook("beds.xlsx", filling.save(), Faults())
    assert cells.row(0) == ("=1+1", "2026-08-10", "15")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("cells", "column", "words"),
    [
        ({"missed": "x", "40 cm": 4}, "missed", "ticked as missed, but '40 cm' is filled"),
        ({"missed": "1"}, "missed", "'1' is not a tick"),
        ({"40 cm": "x"}, "40 cm", "not a number of stems"),
        ({"40 cm": "many"}, "40 cm", "many"),
    ],
)
def test_a_row_that_says_two_things_is_refused(
    sent: Path, before: Known, cells: dict[str, Any], column: str, words: str
) -> None:
    filling = Filling(sent)
    filling.write("cuts", 3, cut_on=NEW_DAY, **cells)
    found = faults_of(filling.save(), before)
    assert [fault.row for fault in found] == [3] * len(found)
    assert any(words in fault.problem for fault in found)
    assert column in {fault.column for fault in found} or found[0].column == "stems"


def test_stems_typed_under_the_day_are_not_lost(sent: Path, before: Known) -> None:
    filling = Filling(sent)
    filling.write("cuts", 3, cut_on=12)
    (fault,) = faults_of(filling.save(), before)
    assert (fault.row, fault.column) == (3, "cut_on")


def test_a_reason_of_ones_own_is_a_column_of_its_own(sent: Path, before: Known) -> None:
    filling = Filling(sent)
    page = filling.book["cuts"]
    page.cell(1, page.max_column + 1).value = "culled: slugs"
    filling.write("cuts", 2, cut_on=NEW_DAY, **{"culled: slugs": 3})
    frame = read([filling.save()], before).frames[Sheet.CUTS]
    assert frame["cull_reason"].tolist() == ["slugs"]
