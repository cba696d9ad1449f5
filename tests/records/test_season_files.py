from __future__ import annotations

import csv
import subprocess
import sys
import tempfile
from contextlib import suppress
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from trials.errors import TallybedError
from trials.model.rows import Known, Sheet
from trials.records import read
from trials.records.faults import Wrong
from trials.records.mapping.agreement import Agreed
from trials.records.rules.cells import judge_cell
from trials.records.rules.forms import FORMS, Form, Kind

if TYPE_CHECKING:
    from tests.records.conftest import Farm

NOTHING = Known({}, frozenset())
fuzz = settings(
    deadline=None,
    derandomize=True,
    max_examples=40,
    database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],  # files are written anew each time
)
DEMO_FARM = Path(__file__).parents[2] / "data" / "farm"


def _reads_or_refuses(name: str, content: bytes, known: Known) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(content)
        with suppress(TallybedError):
            read([path], known)


@pytest.mark.slow
@fuzz
@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused(content: bytes) -> None:
    _reads_or_refuses("any.csv", content, NOTHING)


TELLING_CELLS = (
    *("", "A1", "A2", "B1", "Z26", "P26", "Ember", "Low Field", "2026-07-20", "01/02/2026"),
    *("0", "1", "-1", "40", "1e9", "NaN", "10 %", "picked", "missed", "lost", "yes"),
    "variety on plots",
)
cell_text = st.text(max_size=12) | st.sampled_from(TELLING_CELLS)


@pytest.mark.slow
@fuzz
@given(data=st.data(), form=st.sampled_from(list(FORMS.values())))
def test_any_cells_under_right_headings_are_read_or_refused(
    data: st.DataObject, form: Form, known: Known, tmp_path: Path
) -> None:
    headings = [*form.names]
    headings += data.draw(st.sampled_from([[], ["variety"], ["variety", "pinch"], ["", "odd"]]))
    width = len(headings)
    rows = data.draw(
        st.lists(st.lists(cell_text, min_size=width, max_size=width), min_size=1, max_size=6)
    )
    path = tmp_path / "cells.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([headings, *rows])
    whole = data.draw(st.booleans())
    with suppress(TallybedError):
        read([path], known if whole else NOTHING)


@pytest.mark.slow
@fuzz
@given(place=st.floats(0, 1), put=st.binary(max_size=3), cut=st.integers(0, 30))
def test_a_damaged_file_is_read_or_refused(
    farm: Farm, known: Known, place: float, put: bytes, cut: int
) -> None:
    right = (farm.folder / "plots.csv").read_bytes()
    at = int(place * len(right))
    _reads_or_refuses("plots.csv", right[:at] + put + right[at + cut :], known)


days = st.dates(date(2026, 5, 21), date(2026, 10, 31))
lines = st.dictionaries(
    st.tuples(
        st.sampled_from(["A1", "B1"]), days, st.sampled_from([30, 40, 50, "short", 'a, "b"'])
    ),
    st.integers(0, 1_000_000),
    min_size=1,
    max_size=30,
)


@pytest.mark.slow
@fuzz
@given(lines=lines)
def test_right_rows_come_back_as_they_were_written(
    lines: dict[tuple[str, date, float | str], int], known: Known, tmp_path: Path
) -> None:
    without_cuts = Known(
        {s: f for s, f in known.frames.items() if s is not Sheet.CUTS}, frozenset()
    )
    path = tmp_path / "cuts.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(FORMS[Sheet.CUTS].names)
        for (plot, day, line), stems in lines.items():
            grade, reason = ("", line) if isinstance(line, str) else (line, "")
            writer.writerow([plot, day, "picked", grade, stems, reason])
    frame = read([path], without_cuts, Agreed(accept="so it was")).frames[Sheet.CUTS]
    back = {}
    cells = frame.astype(object).to_numpy().tolist()
    for plot, day, _, grade, stems, reason in cells:
        back[plot, day, grade if pd.isna(reason) else reason] = stems
    assert back == lines


def test_frames_have_the_columns_and_types_that_are_promised(farm: Farm) -> None:
    types = {Kind.WHOLE: "Int64", Kind.NUMBER: "Float64"}
    for sheet, frame in farm.read().frames.items():
        form = FORMS[sheet]
        assert tuple(frame.columns[: len(form.names)]) == form.names
        for column in form.columns:
            kind = "category" if sheet is Sheet.CUTS else types.get(column.kind, "object")
            assert str(frame[column.name].dtype) == kind
            if column.kind is Kind.DATE:
                assert {type(day) for day in frame[column.name]} <= {date, type(None)}
    plots = farm.read().frames[Sheet.PLOTS]
    assert list(plots.columns[len(FORMS[Sheet.PLOTS].names) :]) == ["variety", "pinch"]
    assert plots["pinch"].tolist()[:3] == [None, None, "pinched"]
    assert plots["whole_plot"].tolist()[:3] == [None, None, "w1"]


def test_factors_are_put_in_one_form(farm: Farm) -> None:
    farm.spoil("trials.csv", 3, "factors", "Pinch on  Whole plot ; variety on plots;")
    assert farm.read().frames[Sheet.TRIALS]["factors"].tolist() == [
        "variety on plots",
        "pinch on whole plots; variety on plots",
    ]


def test_plots_files_with_other_factors_are_joined(farm: Farm) -> None:
    rows = farm.rows("plots.csv")
    at = rows[0].index("pinch")
    farm.rewrite("plots_z.csv", [row[:at] + row[at + 1 :] for row in rows[:3]])
    farm.rewrite("plots.csv", [rows[0], *rows[3:]])
    plots = farm.read().frames[Sheet.PLOTS]
    assert plots.loc[plots["plot"] == "A1", "pinch"].tolist() == [None]


@pytest.mark.slow
def test_records_may_come_one_sheet_after_another(farm: Farm) -> None:
    frames: dict[Sheet, pd.DataFrame] = {}
    for sheet in Sheet:
        batch = read([farm.folder / f"{sheet}.csv"], Known(frames, frozenset()))
        assert list(batch.frames) == [sheet]
        frames |= batch.frames
    assert not farm.read(Known(frames, frozenset())).frames


def test_records_before_what_they_refer_to_are_refused(farm: Farm) -> None:
    farm.only("cuts.csv")
    assert all("no plot" in fault.problem for fault in farm.faults())


@pytest.mark.slow
@pytest.mark.skipif(not DEMO_FARM.is_dir(), reason="the invented farm is not beside the tests")
def test_the_invented_farm_is_right() -> None:
    batch = read([DEMO_FARM], NOTHING)
    assert list(batch.frames) == list(Sheet)
    again = read([DEMO_FARM], Known(batch.frames, frozenset()))
    assert not again.frames


@fuzz
@given(text=st.text(max_size=40), kind=st.sampled_from(Kind))
def test_a_judged_cell_is_judged_the_same_again(text: str, kind: Kind) -> None:
    columns = [column for form in FORMS.values() for column in form.columns if column.kind is kind]
    for column in columns:
        value = judge_cell(text, column)
        if value is not None and not isinstance(value, Wrong):
            assert judge_cell(str(value), column) == value


def test_naming_the_reader_loads_no_heavy_library() -> None:
    code = "import sys, trials.records; print({'pandas', 'numpy', 'duckdb'} & set(sys.modules))"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "set()"


def test_a_plot_that_is_not_planted_in_a_trial_that_there_is_not(farm: Farm) -> None:
    farm.spoil("plots.csv", 2, "trial", "Z99")
    farm.spoil("plots.csv", 2, "transplanted_on", "")
    assert any("Z99" in fault.problem for fault in farm.faults())
