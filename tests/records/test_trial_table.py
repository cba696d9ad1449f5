"""A table of any trial is read as plots from any kind of file, or refused by row and column."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from openpyxl import Workbook

from trials.errors import RecordsRefused
from trials.model.trial import AppliedTo
from trials.records.table.columns import TableColumns
from trials.records.table.reading import read_table
from trials.stats.design.table import PlotTable

COLUMNS = TableColumns(measure="stems", treatments=("variety",), block="block")
PLAIN = TableColumns("stems", ("variety",))
GOOD = "block,variety,stems\n1,A,12\n1,B,\n2,A,0\n2,B,7.5\n"


def write(folder: Path, text: str | bytes) -> Path:
    path = folder / "beds.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def plots(folder: Path, text: str | bytes, columns: TableColumns = PLAIN) -> PlotTable:
    return read_table(write(folder, text), columns).plots


def test_empty_cell_is_not_recorded_and_zero_is_zero(tmp_path: Path) -> None:
    table = plots(tmp_path, GOOD, COLUMNS)
    assert np.isnan(table.y[1])
    assert table.y[2] == 0
    assert table.plot_names == ("row 2", "row 3", "row 4", "row 5")
    assert table.block is not None
    assert table.block.levels == ("1", "2")


def test_numeric_labels_sort_by_value_and_keep_their_spelling(tmp_path: Path) -> None:
    text = "variety,stems\n100,1\n9,2\n020,3\n"
    table = plots(tmp_path, text)
    assert table.treatments[0].labels.levels == ("9", "020", "100")


@pytest.mark.parametrize("separator", [";", "\t"])
def test_decimal_comma_with_semicolons_or_tabs(tmp_path: Path, separator: str) -> None:
    text = "variety,stems\nA,1.5\nB,2\n".replace(",", separator).replace(".", ",")
    table = plots(tmp_path, text)
    assert table.y.tolist() == [1.5, 2.0]


def test_measure_is_divided_by_plants(tmp_path: Path) -> None:
    text = "variety,stems,plants\nA,30,15\nB,28,14\n"
    table = plots(tmp_path, text, TableColumns("stems", ("variety",), plants="plants"))
    assert table.y.tolist() == [2.0, 2.0]
    assert table.measure == "stems per plants"


def test_treatments_are_named_once_and_know_their_ground(tmp_path: Path) -> None:
    text = "pinch,variety,stems\nyes,A,1\nno,B,2\n"
    columns = TableColumns("stems", ("variety",), whole_plot=("pinch",))
    table = plots(tmp_path, text, columns)
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
        (b"block,variety,stems\n", "no rows"),
        (b'block,variety,stems\n1,"A,3\n', "quotation marks"),
        (b"%PDF-1.7 block,variety,stems\n", "a PDF"),
    ],
)
def test_files_that_cannot_be_read(tmp_path: Path, content: bytes, words: str) -> None:
    with pytest.raises(RecordsRefused, match=words):
        read_table(write(tmp_path, content), COLUMNS)


def test_missing_file(tmp_path: Path) -> None:
    with pytest.raises(RecordsRefused, match="no such file"):
        read_table(tmp_path / "none.csv", COLUMNS)


OF = TableColumns("tall", ("variety",), of="stems")


@pytest.mark.parametrize(
    ("heading", "cells", "shares"),
    [
        ("tall", ("3", "20"), [0.1, 1.0]),
        ("tall", ("0.1", "1"), [0.1, 1.0]),
        ("tall", ("0.33", "0.35"), [1 / 3, 0.35]),
        ("tall", ("", "0"), [np.nan, 0.0]),
        ("tall %", ("10", "35"), [0.1, 0.35]),
    ],
)
def test_a_share_is_read_as_a_count_or_as_a_share(
    tmp_path: Path, heading: str, cells: tuple[str, str], shares: list[float]
) -> None:
    text = f"variety,stems,{heading}\nA,30,{cells[0]}\nB,20,{cells[1]}\nC,0,0\n"
    found = plots(tmp_path, text, TableColumns(heading, ("variety",), of="stems"))
    assert found.unit == "share"
    assert found.y.tolist() == pytest.approx([*shares, np.nan], nan_ok=True)


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("31,30", "column tall: This is more than the total"),
        ("-1,30", "column tall: This is more than the total"),
        ("3.5,30", "column tall: This is neither a share nor a whole number"),
        ("3,30.5", "column stems: The total of a share must be a whole number"),
        ("3,-1", "column stems: The total of a share must be a whole number"),
    ],
)
def test_what_is_no_share_is_refused(tmp_path: Path, row: str, said: str) -> None:
    with pytest.raises(RecordsRefused, match=f"row 2, {said}"):
        plots(tmp_path, f"variety,tall,stems\nA,{row}\nB,2,10\n", OF)


def test_a_share_that_no_count_makes_is_refused(tmp_path: Path) -> None:
    with pytest.raises(RecordsRefused, match="row 3, column tall: This share of the number"):
        plots(tmp_path, "variety,tall,stems\nA,0.5,30\nB,0.45,7\n", OF)


def test_plants_and_a_whole_exclude_one_another(tmp_path: Path) -> None:
    columns = TableColumns("tall", ("variety",), of="stems", plants="stems")
    with pytest.raises(RecordsRefused, match="not both"):
        plots(tmp_path, "variety,tall,stems\nA,5,30\nB,4,7\n", columns)


def test_misspelt_column_gets_the_nearest_name(tmp_path: Path) -> None:
    with pytest.raises(RecordsRefused, match="Did you mean 'variety'"):
        read_table(write(tmp_path, GOOD), TableColumns("stems", ("varety",)))


TYPED = "block;variety;stems\n1;Zürich;12,5\n1;B;1.250,5\n2;Zürich;9\n2;B;7,25\n"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_text_of_every_encoding_reads_alike(tmp_path: Path, encoding: str) -> None:
    found = plots(tmp_path, TYPED.encode(encoding), COLUMNS)
    assert found.y.tolist() == [12.5, 1250.5, 9, 7.25]
    assert found.treatments[0].labels.levels == ("B", "Zürich")


FRAME = pd.DataFrame(
    {"block": [1, 1, 2, 2], "variety": list("ABAB"), "stems": [12.125, None, 0.0, 7.0]}
)


def test_workbooks_and_parquet_files_read_as_csv_does(tmp_path: Path) -> None:
    FRAME.to_excel(tmp_path / "t.xlsx", index=False)
    FRAME.to_parquet(tmp_path / "t.parquet", index=False)
    FRAME.to_csv(tmp_path / "t.csv", index=False)
    for name in ("t.xlsx", "t.parquet", "t.csv"):
        found = read_table(tmp_path / name, COLUMNS).plots
        assert found.y.tolist() == pytest.approx([12.125, np.nan, 0, 7], nan_ok=True)
        assert found.block is not None
        assert found.block.levels == ("1", "2")
        assert found.plot_names == ("row 2", "row 3", "row 4", "row 5")


def test_the_worksheet_with_the_named_columns_is_taken(tmp_path: Path) -> None:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["notes", "when"])
    sheet.append(["slugs", "May"])
    for name in ("beds", "again"):
        sheet = book.create_sheet(name)
        for row in (["block", "variety", "stems"], [1, "A", 3], [1, "B", 4]):
            sheet.append(row)
    book.save(tmp_path / "two.xlsx")
    with pytest.raises(RecordsRefused, match="Several worksheets have these columns: beds, again"):
        read_table(tmp_path / "two.xlsx", COLUMNS)
    book.remove(book["again"])
    book.save(tmp_path / "one.xlsx")
    assert read_table(tmp_path / "one.xlsx", COLUMNS).plots.y.tolist() == [3, 4]


def test_rows_are_numbered_as_in_the_spreadsheet(tmp_path: Path) -> None:
    text = "My trial\n\nvariety,stems\nA,1\n\nB,x\n"
    with pytest.raises(RecordsRefused, match="row 6, column stems"):
        plots(tmp_path, text)


@pytest.mark.parametrize(
    ("cells", "values"),
    [
        (("1.5", "2"), [1.5, 2]),
        (("1,5", "2"), [1.5, 2]),
        (("1.234,5", "1.234"), [1234.5, 1234]),
        (("1,234.5", "1,234"), [1234.5, 1234]),
        (("0,125", "0,250"), [0.125, 0.25]),
        (("0.125", "1.250"), [0.125, 1.25]),
        (("1e-3", "2E2"), [0.001, 200]),
        (("1.234", "2.345"), [1.234, 2.345]),
        (("\N{MINUS SIGN}3", "-4"), [-3, -4]),
    ],
)
def test_numbers_have_the_decimal_mark_of_their_table(
    tmp_path: Path, cells: tuple[str, str], values: list[float]
) -> None:
    text = "variety\tstems\n" + "".join(f"{v}\t{c}\n" for v, c in zip("AB", cells, strict=True))
    assert plots(tmp_path, text).y.tolist() == values


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        (("1,234", "2"), "'1,234' may be 1234 or 1.234"),
        (("1,5", "2,5", "3.5"), "'3.5' is not a number. The other numbers have a decimal comma"),
        (("1,5", "2,5", "0.125"), "'0.125' is not a number"),
        (("12 cm", "2"), "'12 cm' is not a number"),
    ],
)
def test_a_number_that_may_be_two_is_asked_about(
    tmp_path: Path, cells: tuple[str, ...], said: str
) -> None:
    text = "variety\tstems\n" + "".join(f"{v}\t{c}\n" for v, c in zip("ABC", cells, strict=False))
    with pytest.raises(RecordsRefused, match=said):
        plots(tmp_path, text)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("Golden Hour", "Golden\u00a0Hour"),
        ("Golden Hour", "Golden  Hour "),
        ("Rose-Red", "Rose\u2011Red"),
        ("Rose-Red", "Rose\u2013Red"),
        ("Caf\u00e9", "Cafe\u0301"),
        ("Anna's", "Anna\u2019s"),
        ("Sun\u200brise", "Sunrise"),
        ("30", "30.0"),
    ],
)
def test_spellings_that_look_alike_are_one_level_and_it_is_said(
    tmp_path: Path, first: str, second: str
) -> None:
    text = f"block,variety,stems\n1,{first},1\n1,other,2\n2,{second},3\n2,other,4\n3,{first},5\n"
    found = read_table(write(tmp_path, text), COLUMNS)
    labels = found.plots.treatments[0].labels
    assert labels.codes.tolist()[::2] == [labels.codes[0]] * 3
    assert len(labels.levels) == 2
    (said,) = found.cautions
    assert said.code == "spellings"
    assert labels.levels[labels.codes[0]] in said.text


def test_capitals_alone_make_no_second_level_and_it_is_said(tmp_path: Path) -> None:
    text = "block,variety,stems\n1,Sunrise,1\n1,B,2\n2,sunrise,3\n2,B,4\n3,Sunrise,5\n3,B,2\n"
    found = read_table(write(tmp_path, text), COLUMNS)
    assert found.plots.treatments[0].labels.levels == ("B", "Sunrise")
    (said,) = found.cautions
    assert said.text.endswith("variety: 'sunrise' (row 4) as 'Sunrise'.")


@pytest.mark.parametrize(
    "rows", ["1,Sunrise,1\n1,sunrise,2\n2,Sunrise,3\n2,sunrise,4\n", "1,A,1\n1,B,2\n2,a,3\n2,B,4\n"]
)
def test_what_may_be_two_levels_is_asked_about(tmp_path: Path, rows: str) -> None:
    """Two spellings in one block, or names of one letter."""
    with pytest.raises(RecordsRefused, match="may be one level or two"):
        read_table(write(tmp_path, "block,variety,stems\n" + rows), COLUMNS)


def test_names_that_differ_stay_apart(tmp_path: Path) -> None:
    names = ("A1", "A2", "A-1b", "020", "20", "1-2", "12", "Rose", "Rosé")
    text = "variety,stems\n" + "".join(f"{name},{i}\n" for i, name in enumerate(names))
    found = read_table(write(tmp_path, text), TableColumns("stems", ("variety",)))
    assert set(found.plots.treatments[0].labels.levels) == set(names)
    assert found.cautions == ()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("variety,stems\nA,1e308\nB,2\n", "row 2, column stems: '1e308' is too large"),
        ("variety,stems\nA,1\nB,1e-300\n", "row 3, column stems: '1e-300' is too small"),
        (
            "variety,stems\nA,1\nA\0,2\n",
            "row 3, column variety: 'A.x00' has an invisible character",
        ),
        ("variety,stems\n" + "".join(f"v{i},1\n" for i in range(501)), "501 levels; at most 500"),
    ],
)
def test_what_cannot_be_calculated_is_refused(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(RecordsRefused, match=said):
        plots(tmp_path, text)


@pytest.mark.parametrize(
    "columns",
    [
        TableColumns("stems", ("stems",)),
        TableColumns("stems", ("variety",), plants="stems"),
        TableColumns("stems", ("variety",), of="stems"),
        TableColumns("stems", ("variety",), covariates=("stems",)),
    ],
)
def test_the_measure_has_no_other_part(tmp_path: Path, columns: TableColumns) -> None:
    with pytest.raises(RecordsRefused, match="is named as the measure and as part of the layout"):
        plots(tmp_path, "variety,stems\nA,1\nA,3\nB,2\nB,2\n", columns)


def test_rows_of_the_field_that_name_each_row_of_the_table_are_refused(tmp_path: Path) -> None:
    with pytest.raises(RecordsRefused, match="column r: This column has a different value"):
        plots(
            tmp_path,
            "variety,r,stems\nA,1,3\nB,2,4\n",
            TableColumns("stems", ("variety",), row="r"),
        )
