"""The example farm: a store of its own that a visitor looks at for a while, and the way back."""

from __future__ import annotations

import threading

import streamlit as st

from dashboard.access.visitor import WRITERS, require
from dashboard.kept import EXAMPLE, store_path
from dashboard.theme import markup
from trials import season as front

MARKED = "This is the example farm, with invented records. Nothing you do here changes your own."
_one_at_a_time = threading.Lock()


def is_open() -> bool:
    """Whether this visitor looks at the example farm."""
    return EXAMPLE in st.session_state


def open_example() -> None:
    """Show the example farm's pages to this visitor from now on; its store is made if need be."""
    require(WRITERS)
    with _one_at_a_time:
        store = front.example_farm(store_path())
    _start_again()
    st.session_state[EXAMPLE] = store


def close_example() -> None:
    """Show the visitor's own farm again."""
    _start_again()


def show_mark() -> None:
    """Say on each page of the example that it is one, with the way back."""
    with st.container(key="example", horizontal=True, vertical_alignment="center"):
        st.html(markup.done(MARKED))
        st.button("Back to my farm", on_click=close_example, key="leave example")


def _start_again() -> None:
    """What was chosen at one farm is not for the other; who looks at it stays."""
    session = st.session_state.get("session")
    st.session_state.clear()
    st.session_state["session"] = session
    st.query_params.clear()
