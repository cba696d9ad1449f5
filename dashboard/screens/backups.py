"""Keeping: is the store whole, a copy made now, the copies there are, and putting one back."""

from __future__ import annotations

import streamlit as st

from dashboard import keeping
from dashboard.access.visitor import said
from dashboard.theme import markup
from trials import TallybedError
from trials.report.figures import count
from trials.report.safety_page import check_lines, copies_table, what_to_do_lines
from trials.season import KeptCopy, Wholeness

CHECKED = "store_checked"
MADE = "copy_made"
LOOKED_THROUGH = "copies_looked_through"

WHO = "Only a grower sees this page. Pickers and advisers are told to ask you."
NO_COPY = (
    "There is no backup next to the store yet. One is made whenever a trial is closed and "
    "before the program updates the store. Make one now, and store another on a different "
    "disk."
)
ELSEWHERE = "Backups in other folders are not listed here."
PUT_BACK = (
    "Stop these pages first, so that nobody records meanwhile. Then restore a backup at the "
    "terminal of the farm's computer. The store that is there now is renamed, not lost."
)


def show_check() -> None:
    """The check, how far it is, and what it found."""
    st.html(
        markup.section(
            "Is the store undamaged?",
            "Reads every row, key and block of the file. It takes some seconds; anybody who "
            "records waits.",
        )
    )
    if st.button("Verify now", type="primary", key="check store"):
        bar = st.progress(0.0, "Waiting …")
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
        st.html(markup.note("Not verified since you opened the pages."))
    elif found.whole:
        st.html(markup.done("The store is undamaged.") + markup.lines(check_lines(found)))
    else:
        st.html(
            markup.alert("The store is DAMAGED. Stop all recording until it is restored.")
            + markup.lines(check_lines(found))
            + markup.caption("What to do, on the farm's computer")
            + markup.lines(what_to_do_lines(found))
        )


def show_copying() -> None:
    """A copy made now, and that it was read back."""
    st.html(
        markup.section(
            "Back up now",
            "Others can go on recording. The backup is read again and compared with the store.",
        )
    )
    if st.button("Make a backup", key="make copy"):
        try:
            with st.spinner("Backing up and verifying …"):
                st.session_state[MADE] = keeping.make_copy()
        except TallybedError as refusal:
            st.session_state.pop(MADE, None)
            st.html(markup.alert(said(refusal)))
    made = st.session_state.get(MADE)
    if made is not None:
        rows = count(made.rows, "row")
        st.html(
            markup.done(f"Backed up and verified: {rows} in {made.folder}.")
            + markup.note("Store a copy on another disk too.")
        )


def show_copies(copies: tuple[KeptCopy, ...]) -> None:
    """Backups next to the store, and reading them once more."""
    st.html(markup.section("Backups next to the store", ELSEWHERE))
    if not copies:
        st.html(markup.note(NO_COPY))
        return
    looked: dict[str, KeptCopy] = st.session_state.get(LOOKED_THROUGH, {})
    if st.button("Verify all backups", key="look through"):
        bar = st.progress(0.0, "Reading …")
        looked = {}
        for number, copy in enumerate(copies):
            bar.progress(number / len(copies), f"Reading {copy.folder.name} …")
            looked[str(copy.folder)] = keeping.look_through(copy)
        bar.empty()
        st.session_state[LOOKED_THROUGH] = looked
    shown = [looked.get(str(each.folder), each) if each.backup else each for each in copies]
    st.html(markup.table(copies_table(shown, [each.folder for each in looked.values()])))
    st.html(markup.caption("Restoring a backup", PUT_BACK))
    whole = next((copy for copy in shown if copy.backup is not None and not copy.problem), None)
    if whole is not None:
        st.code(keeping.restore_command(whole), language=None, wrap_lines=True)


keeping.copies()  # who may not see them sees nothing
st.html(
    markup.heading("Your records, verified and backed up", eyebrow="Backups") + markup.note(WHO)
)
left, right = st.columns(2, gap="large")
with left:
    show_check()
with right:
    show_copying()
show_copies(keeping.copies())
