"""Keeping: is the store whole, a copy made now, the copies there are, and putting one back."""

from __future__ import annotations

import streamlit as st

from dashboard import keeping
from dashboard.access.visitor import said
from dashboard.redrawn import draw_again
from dashboard.theme import markup
from trials import TallybedError
from trials.report.figures import count
from trials.report.safety_page import (
    check_lines,
    copies_table,
    missing_photos_sentence,
    what_to_do_lines,
)
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
RESTORED = "store_restored"
WHAT_IT_DOES = (
    "The backup replaces the store. The present store is renamed, not lost. "
    "What was recorded after the backup is missing until you restore that one."
)


def show_check() -> None:
    """The check, how far it is, and what it found."""
    st.html(
        markup.section(
            "Is the store undamaged?",
            "Reads every record in the store. It takes some seconds; anybody who records waits.",
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
        if made.photos_missing:
            st.html(markup.alert(missing_photos_sentence(made)))


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
    show_restoring([copy for copy in shown if copy.backup is not None and not copy.problem])


def show_restoring(whole: list[KeptCopy]) -> None:
    """Choose a backup, say that nobody records, and restore it."""
    if not whole:
        return
    of_name = {copy.folder.name: copy for copy in whole}
    st.html(markup.caption("Restore a backup", WHAT_IT_DOES))
    with st.form("restore", border=False):
        name = st.selectbox("Backup to restore", list(of_name))
        seen = st.checkbox("Nobody is recording now, and I want the records of that backup.")
        asked = st.form_submit_button("Restore this backup")
    if asked and not seen:
        st.html(markup.alert("Nothing was restored yet. Still needed: the tick in the box above."))
    elif asked and name is not None:
        try:
            with st.spinner("Restoring and verifying …"):
                st.session_state[RESTORED] = keeping.restore(of_name[name])
        except TallybedError as refusal:
            st.html(markup.alert(said(refusal)))
            return
        st.session_state.pop(CHECKED, None)
        draw_again()


keeping.copies()  # who may not see them sees nothing
st.html(
    markup.heading("Your records, verified and backed up", eyebrow="Backups") + markup.note(WHO)
)
if RESTORED in st.session_state:
    st.html(markup.done(" ".join(st.session_state.pop(RESTORED))))
left, right = st.columns(2, gap="large")
with left:
    show_check()
with right:
    show_copying()
show_copies(keeping.copies())
