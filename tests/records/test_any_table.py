"""Any CSV table becomes the table of a comparison, or is refused by row and column."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from trials.errors import FileRefused, RecordsRefused
from trials.model import AppliedTo
from trials.records.any_table import TableColumns, read_table

COLUMNS = TableColumns(measure="stems", treatments=("variety",), block="block")
GOOD = "block,variety,stems\n1,A,12\n1,B,\n2,A,0\n2,B,7.5\n"


def write(folder: Path, text: str | bytes) -> Path:
    path = folder / "beds.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def test_empty_cell_is_not_recorded_and_zero_is_zero(tmp_path: Path) -> None:
    table = read_table(write(tmp_path, GOOD), COLUMNS)
    assert np.isnan(table.y[1])
    assert table.y[2] == 0
    assert table.plot_names == ("row 2", "row 3", "row 4", "row 5")
    assert table.block is not None
    assert table.block.levels == ("1", "2")


def test_numeric_labels_sort_by_value_and_keep_their_spelling(tmp_path: Path) -> None:
    text = "variety,stems\n100,1\n9,2\n020,3\n"
    table = read_table(write(tmp_path, text), TableColumns("stems", ("variety",)))
    assert table.treatments[0].labels.levels == ("9", "020", "100")


@pytest.mark.parametrize("separator", [";", "\t"])
def test_decimal_comma_with_semicolons_or_tabs(tmp_path: Path, separator: str) -> None:
    text = "variety,stems\nA,1.5\nB,2\n".replace(",", separator).replace(".", ",")
    table = read_table(write(tmp_path, text), TableColumns("stems", ("variety",)))
    assert table.y.tolist() == [1.5, 2.0]


def test_measure_is_divided_by_plants(tmp_path: Path) -> None:
    text = "variety,stems,plants\nA,30,15\nB,28,14\n"
    table = read_table(write(tmp_path, text), TableColumns("stems", ("variety",), plants="plants"))
    assert table.y.tolist() == [2.0, 2.0]
    assert table.measure == "stems per plants"


def test_treatments_are_named_once_and_know_their_ground(tmp_path: Path) -> None:
    text = "pinch,variety,stems\nyes,A,1\nno,B,2\n"
    columns = TableColumns("stems", ("variety",), whole_plot=("pinch",))
    table = read_table(write(tmp_path, text), columns)
    assert [(t.name, t.applied_to) for t in table.treatments] == [
        ("variety", AppliedTo.PLOT),
        ("pinch", AppliedTo.WHOLE_PLOT),
    ]


@pytest.mark.parametrize(
    ("text", "row", "column"),
    [
        ("block,variety,stems\n1,A,12 cm\n", 2, "stems"),
        ("block,variety,stems\n1,A,1_0\n", 2, "stems"),
        ("block,variety,stems\n1,A,inf\n", 2, "stems"),
        ("block,variety,stems\n1,A,12\n1,,9\n", 3, "variety"),
        ("block,variety,stem\n1,A,12\n", 1, "stems"),
        ("block,variety,stems,stems\n1,A,12,13\n", 1, "stems"),
        ("block,variety,stems\n1,A,12\n1,B\n", 3, None),
    ],
)
def test_faults_name_row_and_column(
    tmp_path: Path, text: str, row: int, column: str | None
) -> None:
    with pytest.raises(RecordsRefused) as refusal:
        read_table(write(tmp_path, text), COLUMNS)
    fault = refusal.value.faults[0]
    assert (fault.file, fault.row, fault.column) == ("beds.csv", row, column)
    assert fault.remedy
    assert "nothing was compared" in str(refusal.value)


def test_no_plants_is_a_fault(tmp_path: Path) -> None:
    text = "variety,stems,plants\nA,30,0\n"
    with pytest.raises(RecordsRefused, match="row 2, column plants"):
        read_table(write(tmp_path, text), TableColumns("stems", ("variety",), plants="plants"))


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"block,variety,stems\n", "no row of plots"),
        ("block,variety,stems\n1,Zürich,3\n".encode("latin-1"), "row 2: not UTF-8"),
        (b'block,variety,stems\n1,"A,3\n', "quotation marks"),
    ],
)
def test_files_that_cannot_be_read(tmp_path: Path, content: bytes, words: str) -> None:
    with pytest.raises(FileRefused, match=words):
        read_table(write(tmp_path, content), COLUMNS)


def test_missing_file(tmp_path: Path) -> None:
    with pytest.raises(FileRefused, match="No such file"):
        read_table(tmp_path / "none.csv", COLUMNS)


def test_misspelt_column_gets_the_nearest_name(tmp_path: Path) -> None:
    with pytest.raises(RecordsRefused, match="Did you mean 'variety'"):
        read_table(write(tmp_path, GOOD), TableColumns("stems", ("varety",)))
