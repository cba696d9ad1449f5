"""Growers' own sheets: none is read wrongly in silence, none refused that a person would read."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.growers_sheets import GrowersSheet, planted, sheets, walk

SHEETS = sheets()


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return planted(tmp_path_factory.mktemp("farm"))


@pytest.mark.slow
@pytest.mark.parametrize("sheet", SHEETS.values(), ids=list(SHEETS))
def test_a_growers_sheet_is_read_as_its_writer_meant_it(
    sheet: GrowersSheet, store: Path, tmp_path: Path
) -> None:
    became = walk(sheet, store, tmp_path)
    assert list(became.asked) == [*sheet.asked] or set(became.asked) == set(sheet.asked)
    if sheet.refused:
        assert sheet.refused in became.refused
        assert became.stored == ()
    else:
        assert became.refused == ""
        assert sorted(became.stored) == sorted(sheet.stored)


def test_there_are_enough_of_them() -> None:
    assert len(SHEETS) >= 80
