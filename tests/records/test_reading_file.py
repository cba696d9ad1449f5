from __future__ import annotations

from pathlib import Path

import pytest

from trials.errors import FileRefused, RecordsRefused
from trials.model.rows import Sheet
from trials.records.mapping.reading import (
    DateOrder,
    DecimalMark,
    Meaning,
    ReadColumn,
    Reading,
    Spread,
    Unit,
    signature,
)
from trials.records.mapping.remembered import read_reading, reading_of, reading_text

FULL = Reading(
    Sheet.CUTS,
    (
        ReadColumn("Tag", "plot"),
        ReadColumn('odd "one"\t', "grade_cm", Unit.IN),
        ReadColumn("bent", "stems", None, ("cull_reason", "bent")),
        ReadColumn("Notes", None),
    ),
    Spread("cut_on", "stems", Unit.CM),
    (("outcome", "picked"),),
    DateOrder.DAY,
    2026,
    DecimalMark.COMMA,
    Meaning.ZERO,
    (("x", Meaning.MISSED),),
    ("total",),
)


@pytest.mark.parametrize("reading", [FULL, Reading(Sheet.SITES, ())])
def test_what_is_written_reads_back(reading: Reading) -> None:
    assert reading_of(reading_text(reading), "reading.toml") == reading


def test_every_fault_of_a_file_is_named(tmp_path: Path) -> None:
    path = tmp_path / "reading.toml"
    path.write_text(
        'sheet = "cuts"\ndates = "?"\nblank = "nothing"\nyear = "26"\nodd = 1\n[columns]\n'
        'Plot = {is = "plto"}\nDay = "cut_on"\n',
        "utf-8",
    )
    with pytest.raises(RecordsRefused) as refused:
        read_reading(path)
    faults = {fault.column: fault for fault in refused.value.faults}
    assert set(faults) == {"dates", "blank", "year", "odd", "columns.Plot.is", "columns.Day"}
    assert faults["columns.Plot.is"].remedy == "Did you mean 'plot'?"
    assert "not answered" in faults["dates"].problem


@pytest.mark.parametrize("content", [b"\xff\xfe", b"sheet = ", b"[" * 5000])
def test_what_is_no_reading_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "reading.toml"
    path.write_bytes(content)
    with pytest.raises(FileRefused):
        read_reading(path)


def test_a_further_day_is_the_same_kind_of_sheet() -> None:
    assert signature(["Plot", "3 Jul", "10 Jul"]) == signature(["plot", "17 Jul"])
    assert signature(["Plot", "Date"]) != signature(["Plot", "Day"])
