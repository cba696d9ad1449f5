"""A table of a form with the grid to change it behind a button: grids take a browser long."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING

import streamlit as st

from dashboard.theme import markup
from trials.report.grid import Column, Table

if TYPE_CHECKING:
    import pandas as pd
    from streamlit.elements.lib.column_types import ColumnConfig


def folded_grid(
    frame: pd.DataFrame, config: Mapping[str, ColumnConfig], key: str, button: str, sent_by: str
) -> pd.DataFrame:
    """The rows of a frame as they were changed; the browser draws the grid once it is opened.

    A form is sent as a whole: ``sent_by`` is the button after which the table has the changes.
    """
    table = st.container()
    with st.popover(button):
        st.html(markup.note(f"The table shows your changes once you press “{sent_by}”."))
        edited = st.data_editor(
            _first_rows(frame, key),
            num_rows="dynamic",
            hide_index=True,
            placeholder="",
            key=key,
            column_config=dict(config),
        )
    st.session_state[f"rows of {key}"] = edited
    with table:
        if len(edited):
            st.html(markup.table(_table(edited, config)))
    return edited


def _first_rows(frame: pd.DataFrame, key: str) -> pd.DataFrame:
    """What a grid begins with: the rows that its visitor had left on the page, if any.

    They stay the same for as long as the grid is there, as its changes are counted from them.
    """
    begun = f"grid of {key} began with"
    if key not in st.session_state or begun not in st.session_state:
        st.session_state[begun] = st.session_state.get(f"rows of {key}", frame)
    first: pd.DataFrame = st.session_state[begun]
    return first


def _table(frame: pd.DataFrame, config: Mapping[str, ColumnConfig]) -> Table:
    columns = tuple(Column(str(config[name]["label"] or name)) for name in frame.columns)
    rows = frame.to_dict("split")["data"]
    return Table(columns, tuple(tuple(map(_words, row)) for row in rows))


def _words(cell: object) -> str:
    if cell is None or cell != cell:  # noqa: PLR0124 - an empty cell may be NaN
        return ""
    if isinstance(cell, float):
        return f"{cell:.10g}"
    return f"{cell:%Y-%m-%d}" if isinstance(cell, date) else str(cell)
