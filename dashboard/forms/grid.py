"""A grid in which rows of one sheet are typed, a column for each of its fields."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import TYPE_CHECKING, Any

import streamlit as st

from dashboard.data import stored
from dashboard.forms.saving import token_of
from dashboard.settings import units
from trials.model.rows import Sheet
from trials.report.record_forms import (
    Field,
    FieldKind,
    TypedRows,
    fields_of_sheet,
    is_blank,
    typed_text,
)

if TYPE_CHECKING:
    import pandas as pd

BLANK_ROWS = 3
NEEDED = "*"
_TYPES: Mapping[FieldKind, str] = {
    FieldKind.WHOLE: "Int64",
    FieldKind.NUMBER: "Float64",
    FieldKind.DAY: "datetime64[ns]",
}


def typed_grid(form: str, sheet: Sheet, new_names: Collection[Sheet] = ()) -> TypedRows:
    """Show a grid and give back the rows that something was typed into.

    Names of the sheets ``new_names`` are typed in the same form, so they are not chosen here.
    """
    fields = fields_of_sheet(sheet, units())
    edited = st.data_editor(
        _empty(fields),
        num_rows="dynamic",
        hide_index=True,
        width="stretch",
        placeholder="",
        key=f"grid {form} {sheet.value} {units().value} {token_of(form)}",
        column_config={each.name: _column(each, new_names) for each in fields},
    )
    return _typed(fields, edited)


def _empty(fields: tuple[Field, ...]) -> pd.DataFrame:
    import pandas as pd

    columns = {
        each.name: pd.Series([None] * BLANK_ROWS, dtype=_TYPES.get(each.kind, "object"))
        for each in fields
    }
    return pd.DataFrame(columns)


def _column(each: Field, new_names: Collection[Sheet]) -> Any:
    label = f"{each.label} {NEEDED}" if each.needed else each.label
    config = st.column_config
    match each.kind:
        case FieldKind.WHOLE:
            return config.NumberColumn(
                label, help=each.help or None, step=1, min_value=each.least, max_value=each.most
            )
        case FieldKind.NUMBER:
            return config.NumberColumn(
                label, help=each.help or None, min_value=each.least, max_value=each.most
            )
        case FieldKind.DAY:
            return config.DateColumn(label, help=each.help or None, format="YYYY-MM-DD")
        case FieldKind.CHOICE:
            return config.SelectboxColumn(label, help=each.help or None, options=list(each.choices))
        case FieldKind.TEXT:
            chosen = each.refers_to
            names = [] if chosen is None or chosen in new_names else names_of(chosen)
            if names:
                return config.SelectboxColumn(label, help=each.help or None, options=names)
            return config.TextColumn(label, help=each.help or None)


def names_of(sheet: Sheet) -> list[str]:
    """The stored names of a sheet, in their order."""
    rows = stored(sheet)
    return [str(name) for name in rows[rows.columns[0]].drop_duplicates()]


def _typed(fields: tuple[Field, ...], edited: pd.DataFrame) -> TypedRows:
    rows, places = [], []
    for number, row in enumerate(edited.to_dict("records"), 1):
        if all(is_blank(row[each.name]) for each in fields):
            continue
        rows.append({each.name: typed_text(each, row[each.name], units()) for each in fields})
        places.append(f"row {number}")
    return TypedRows(tuple(rows), tuple(places))
