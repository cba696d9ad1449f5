"""Judges rows as they were held once: cells of a sheet, and the entries they came and went by."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from trials.model.rows import Sheet
from trials.records.encoded_column import Spelled
from trials.records.faults import Faults, Places, Wrong
from trials.records.rules.cells import judge_cell
from trials.records.rules.forms import FORMS, Column, Kind, Need, Range
from trials.records.rules.validation import typed

if TYPE_CHECKING:
    import pandas as pd

_NUMBERS = Range(1, 2**31 - 2)
CHANGE = Column("change", Kind.WHOLE, range=_NUMBERS)
SUPERSEDED_BY = Column("superseded_by", Kind.WHOLE, Need.NOTHING, range=_NUMBERS)


def judge_once_held(
    file: str, sheet: Sheet, names: Sequence[str], cells: Mapping[str, Sequence[str]]
) -> pd.DataFrame:
    """The rows of a history in the types of judged rows, with ``entry`` and ``superseded_by``.

    The store's ``entry`` is the column ``change`` of the cells.

    Parameters
    ----------
    file
        What the cells come from, for messages.
    sheet, names
        The sheet whose rules they obey, and the columns of it that the history has.
    cells
        The text of each column, from the top down; rows count from 2, as below a heading.

    Raises
    ------
    RecordsRefused
        A cell cannot be right; it lists every one.
    """
    import pandas as pd

    faults = Faults()
    found = {}
    for column in (*map(FORMS[sheet].column, names), CHANGE, SUPERSEDED_BY):
        spelled = Spelled.of(cells[column.name])
        judged = [judge_cell(text, column) for text in spelled.texts]
        wrong = [isinstance(value, Wrong) for value in judged]
        values = np.empty(len(judged), dtype=object)
        values[:] = [None if isinstance(value, Wrong) else value for value in judged]
        found[column.name] = typed(values[spelled.codes], column)
        if any(wrong):
            places = np.flatnonzero(np.array(wrong)[spelled.codes])
            says = [judged[spelled.codes[place]] for place in places]
            faults.add_rows(
                Places.of(file, (places + 2).tolist()),
                column.name,
                lambda i, says=says: says[i],  # type: ignore[misc]
            )
    faults.refuse_if_any()
    return pd.DataFrame(found).rename(columns={CHANGE.name: "entry"})
