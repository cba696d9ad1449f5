from __future__ import annotations

import pytest

from trials.errors import RecordsRefused
from trials.records.encoded_column import Cells
from trials.records.faults import Faults
from trials.records.files.other_tables import without_other_tables


def cells(text: str) -> Cells:
    lines = [line.split("|") for line in text.strip("\n").split("\n")]
    return Cells.of_rows("some.csv", "0" * 64, 1, lines[0], lines[1:], range(2, len(lines) + 1))


def test_headings_that_stand_again_are_no_record() -> None:
    faults = Faults()
    text = "Plot|Date|Alive\nA1|2026-06-10|15\nplot|date|Vase life\nA1|2026-07-20|8"
    left = without_other_tables(cells(text), faults)
    assert left.row_numbers.tolist() == [2, 4]
    assert dict(left.left_out) == {3: ("plot", "date", "Vase life")}
    with pytest.raises(RecordsRefused, match="does another table begin here") as refused:
        faults.refuse_if_any()
    assert [fault.row for fault in refused.value.faults] == [3]


def test_a_table_beside_another_is_not_left_out_in_silence() -> None:
    faults = Faults()
    without_other_tables(cells("Plot|Date|Stems|Plot|Date|Alive\nA1|1|2|A1|3|4"), faults)
    with pytest.raises(RecordsRefused, match="'Plot' occurs twice"):
        faults.refuse_if_any()


@pytest.mark.parametrize(
    "text",
    [
        "Plot|Note|Note\nA1|x|y",
        "trait|value|day\ntrait|3|2026-06-10",  # one cell alone may say what its heading says
        "Plot\nA1",
    ],
)
def test_one_table_is_left_as_it_is(text: str) -> None:
    faults = Faults()
    table = cells(text)
    assert without_other_tables(table, faults) is table
    assert len(faults) == 0
