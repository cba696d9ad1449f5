"""The first page of a farm without trials: three ways to begin."""

from __future__ import annotations

import streamlit as st

from dashboard import example
from dashboard.redrawn import draw_again
from dashboard.theme import markup

SPREADSHEET = "bring a spreadsheet"


def show_doors(*, may_write: bool) -> None:
    """Plan a trial, look at the example farm, or load a spreadsheet."""
    if not may_write:
        st.html(markup.note("The grower has planned no trial yet."))
        return
    plan, look, bring = st.columns(3)
    with plan, st.container(border=True, key="door plan", height="stretch"):
        st.html(
            markup.caption(
                "Plan your first trial",
                "Say what you want to know and which beds you have. You see what fits, and what "
                "the trial could tell, before anything is stored.",
            )
        )
        st.page_link("screens/plan.py", label="Plan your first trial →")
    with look, st.container(border=True, key="door example", height="stretch"):
        st.html(
            markup.caption(
                "Look at the example farm",
                "Three finished seasons of an invented farm, in a store of their own. One button "
                "brings you back.",
            )
        )
        if st.button("Look at the example farm", key="open example"):
            with st.spinner("Making the example farm …"):
                example.open_example()
            draw_again()
    with bring, st.container(border=True, key="door spreadsheet", height="stretch"):
        st.html(
            markup.caption(
                "Bring a spreadsheet",
                "CSV, XLSX or Parquet files with columns of your own. You see how they would be "
                "read before anything is stored.",
            )
        )
        if st.button("Bring a spreadsheet", key="open spreadsheet"):
            st.session_state[SPREADSHEET] = True


def wants_spreadsheet() -> bool:
    """Whether the visitor came through the third door."""
    return SPREADSHEET in st.session_state
