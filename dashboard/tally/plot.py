"""The form of a plot that nobody has recorded yet: its counts, and taps of their own."""

from __future__ import annotations

from hashlib import sha256

import streamlit as st

from dashboard.tally import bed
from dashboard.tally.drafts import HAPPENED
from dashboard.tally.form import (
    NOTHING_TYPED,
    TRUE,
    Fields,
    is_held,
    record,
    show_counts,
    show_refusal,
    start_anew_if_done,
)
from dashboard.tally.typed import show_typed_before
from dashboard.theme import markup
from trials.model.plot_day import PlotOnDay
from trials.season import Tally, TallyEntry

LONGEST_STORY = 200
STORY_TYPED = "The note below is not stored. Tap 'Store note' first, or clear it."


def show_form(told: PlotOnDay, shortest_cm: float) -> None:
    """What can be said of a plot; what was typed before is in its fields, and said to be."""
    place = bed.draft_place(told.plot, told.day)
    _show_form(told, shortest_cm, bed.drafts().at(place).token)


@st.fragment
def _show_form(told: PlotOnDay, shortest_cm: float, token: str) -> None:
    fields = Fields(bed.draft_place(told.plot, told.day))
    draft = fields.draft
    start_anew_if_done(draft, token)
    # In a place of its own: when it goes, nothing moves below it, and a field in which somebody is
    # typing is not drawn anew.
    with st.container():
        go_on = show_typed_before(fields.place, draft, told)
    if not go_on:
        return
    entry = show_counts(fields, told, shortest_cm)
    counted = [text for _, text in entry.stems if text.strip()]
    show_refusal(draft.token)
    accept = fields.words(TRUE, "Why it is true") if is_held(draft.token) else ""
    story = draft.typed.get(HAPPENED, "").strip()
    asked = st.button("Record", type="primary", key=f"record {draft.token}", width="stretch")
    if asked and counted and not story:
        record(entry, draft.token, accept)
    elif asked:
        st.html(markup.alert(STORY_TYPED if counted else NOTHING_TYPED))
    with st.container(horizontal=True, key="no_stems", gap="small"):
        nothing = st.button("Nothing to cut (0)", key=f"nothing {draft.token}", width="stretch")
        missed = st.button("Not picked", key=f"missed {draft.token}", width="stretch")
    if (nothing or missed) and draft.has_counts:
        st.html(
            markup.alert("There are figures in the fields above. Clear them first, or tap Record.")
        )
    elif (nothing or missed) and story:
        st.html(markup.alert(STORY_TYPED))
    elif nothing:
        record(TallyEntry(told.plot, told.day, Tally.NOTHING), draft.token)
    elif missed:
        record(TallyEntry(told.plot, told.day, Tally.NOT_PICKED), draft.token)
    show_mishap(fields, told)


def show_mishap(fields: Fields, told: PlotOnDay) -> None:
    """A note, or that the plot is lost: each with its words and a button of its own."""
    token = fields.draft.token
    begun = bool(fields.draft.typed.get(HAPPENED, "").strip())
    with st.expander("A note, or the plot is lost", expanded=begun):
        for kind, reason in told.events:
            st.html(markup.note(f"{kind.value}: {reason or ''}"))
        words = fields.words(HAPPENED, "What happened", most=LONGEST_STORY, such_as="voles, hail")
        marks = {what: _mark(token, what, words) for what in (Tally.NOTE, Tally.LOST)}
        for mark in marks.values():
            show_refusal(mark)
        held = any(map(is_held, marks.values()))
        accept = fields.words(TRUE, "Why it is true") if held else ""
        with st.container(horizontal=True, key="mishap", gap="small"):
            note = st.button("Store note", key=f"note {token}", width="stretch")
            lost = st.button("The plot is lost", key=f"lost {token}", width="stretch")
        if (note or lost) and not words.strip():
            st.html(markup.alert("Say what happened in a few words."))
        elif note or lost:
            what = Tally.NOTE if note else Tally.LOST
            record(TallyEntry(told.plot, told.day, what, words=words), marks[what], accept)


def _mark(token: str, what: Tally, words: str) -> str:
    """Another note is another submission, the same one tapped twice is not."""
    return f"{token} {sha256(f'{what} {words}'.encode()).hexdigest()[:16]}"
