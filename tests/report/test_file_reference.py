"""What each column of a file may contain, in the words that a grower looks up."""

from __future__ import annotations

import pytest

from trials.model.rows import Sheet
from trials.records.rules.forms import FORMS, Column, Kind
from trials.report.file_reference import columns_page

PAGE = columns_page()
COLUMNS = [(form.sheet, column) for form in FORMS.values() for column in form.columns]


def line_of(sheet: Sheet, column: Column) -> str:
    """The line of a column in the part of its file."""
    part = PAGE.partition(f"{sheet.value}.csv, one row per ")[2].partition("\n\n")[0]
    (line,) = [
        line
        for line in part.splitlines()[1:]
        if line.split()[:1] and line.split()[0].rstrip("?") == column.name and line[2] != " "
    ]
    return line.split(maxsplit=1)[1]


@pytest.mark.parametrize(("sheet", "column"), COLUMNS, ids=lambda each: getattr(each, "name", each))
def test_numbers_and_days_say_that_they_are_some(sheet: Sheet, column: Column) -> None:
    said = line_of(sheet, column)
    if column.choices:
        assert column.choices[0] in said
    elif column.kind in {Kind.WHOLE, Kind.NUMBER, Kind.DATE}:
        assert said.startswith(column.kind.value)
