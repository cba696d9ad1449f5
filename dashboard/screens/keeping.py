"""Keeping: is the store whole, a copy made now, the copies there are, and putting one back."""

from __future__ import annotations

import streamlit as st

from dashboard import keeping, markup
from dashboard.visitor import said
from trials import (
    KeptCopy,
    TallybedError,
    Wholeness,
    check_lines,
    copies_table,
    count,
    what_to_do_lines,
)

CHECKED = "store_checked"
MADE = "copy_made"
LOOKED_THROUGH = "copies_looked_through"

WHO = "Only a grower sees this page. The crew and an adviser are told to ask you."
NO_COPY = (
    "No copy is kept beside the store yet. One is made by itself whenever a trial is closed, and "
    "before an update of the program. Make one now, and keep one on another disk or stick too."
)
ELSEWHERE = "Copies that were put into other folders are not listed here."
PUT_BACK = (
    "Putting a copy back is done at the terminal of the farm's machine, with these pages ended, so "
    "that nobody records meanwhile. The store that is there is kept beside it under another name."
)


def show_check() -> None:
    """The check, how far it is, and what it found."""
    st.html(
        markup.section(
            "Is the store whole?",
            "Every row, key and block of the file is read. It takes some seconds, in which whoever "
            "records waits.",
        )
    )
    if st.button("Check it now", type="primary", key="check store"):
        bar = st.progress(0.0, "Waiting for its turn …")
        try:
            st.session_state[CHECKED] = keeping.check(bar.progress)
        except TallybedError as refusal:
            st.session_state.pop(CHECKED, None)
            st.html(markup.alert(said(refusal)))
            return
        finally:
            bar.empty()
    found: Wholeness | None = st.session_state.get(CHECKED)
    if found is None:
        st.html(markup.note("It was not checked since you opened the pages."))
    elif found.whole:
        st.html(markup.done("The store is whole.") + markup.lines(check_lines(found)))
    else:
        st.html(
            markup.alert("The store is NOT whole. Let nobody record until it is put right.")
            + markup.lines(check_lines(found))
            + markup.caption("What to do, on the farm's machine")
            + markup.lines(what_to_do_lines(found))
        )


def show_copying() -> None:
    """A copy made now, and that it was read back."""
    st.html(
        markup.section(
            "Make a copy now", "Others may go on recording. It is read back before it counts."
        )
    )
    if st.button("Make a copy", key="make copy"):
        try:
            with st.spinner("Copying, and reading it back …"):
                st.session_state[MADE] = keeping.make_copy()
        except TallybedError as refusal:
            st.session_state.pop(MADE, None)
            st.html(markup.alert(said(refusal)))
    made = st.session_state.get(MADE)
    if made is not None:
        rows = count(made.rows, "row")
        st.html(
            markup.done(f"Copied: {rows}, read back and found equal, in {made.folder}.")
            + markup.note("Keep a copy on another disk or stick too.")
        )


def show_copies(copies: tuple[KeptCopy, ...]) -> None:
    """The copies beside the store, and reading them once more."""
    st.html(markup.section("The copies beside the store", ELSEWHERE))
    if not copies:
        st.html(markup.note(NO_COPY))
        return
    looked: dict[str, KeptCopy] = st.session_state.get(LOOKED_THROUGH, {})
    if st.button("Read all of them once more", key="look through"):
        bar = st.progress(0.0, "Reading …")
        looked = {}
        for number, copy in enumerate(copies):
            bar.progress(number / len(copies), f"Reading {copy.folder.name} …")
            looked[str(copy.folder)] = keeping.look_through(copy)
        bar.empty()
        st.session_state[LOOKED_THROUGH] = looked
    shown = [looked.get(str(each.folder), each) if each.backup else each for each in copies]
    st.html(markup.table(copies_table(shown, [each.folder for each in looked.values()])))
    st.html(markup.caption("Putting one back", PUT_BACK))
    whole = next((copy for copy in shown if copy.backup is not None and not copy.problem), None)
    if whole is not None:
        st.code(keeping.restore_command(whole), language=None, wrap_lines=True)


keeping.copies()  # who may not see them sees nothing
st.html(markup.heading("Whether all of it is safe", eyebrow="Keeping") + markup.note(WHO))
left, right = st.columns(2, gap="large")
with left:
    show_check()
with right:
    show_copying()
show_copies(keeping.copies())
