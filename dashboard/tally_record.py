"""What is recorded of a plot on a day, as it stands in the store, and putting it right."""

from __future__ import annotations

from functools import partial

import streamlit as st

from dashboard import data, markup
from dashboard.tally_form import (
    NOTHING_TYPED,
    TRUE,
    Fields,
    is_held,
    show_counts,
    show_refusal,
    start_anew_if_done,
    store,
)
from trials import Tally, TallyEntry, count, listed
from trials.model import Outcome, PlotOfWalk, PlotOnDay

CORRECTING = "tally_correcting"
WHY = "why"
SEEN = "seen"


def recorded_words(told: PlotOnDay) -> str:
    """What is recorded, in a sentence or two."""
    if told.outcome is Outcome.MISSED:
        return "Recorded: not picked. What grew is not known."
    if not any(stems for _, stems in (*told.stems, *told.culls)):
        return "Recorded: picked, nothing to cut (0)."
    parts = [f"{grade} cm: {stems}" for grade, stems in told.stems]
    parts += [f"culls, {reason}: {stems}" for reason, stems in told.culls]
    total = sum(stems for _, stems in told.stems)
    return f"Recorded: {count(total, 'stem')} to sell. {'; '.join(parts)}."


def show_recorded(here: PlotOfWalk, told: PlotOnDay) -> None:
    """The confirmation; it comes from the store, so that it is never said too early."""
    by = f" By {told.who}." if told.who else ""
    lengths = ""
    if told.lengths_cm:
        lengths = f" Measured: {listed([f'{length:g}' for length in told.lengths_cm], 20)} cm."
    st.html(markup.done(f"{recorded_words(told)}{lengths}{by}"))
    place = (told.plot, told.day)
    if st.session_state.get(CORRECTING) == place:
        show_correction(here, told)
    elif st.button("Correct this", key=f"correct {told.plot} {told.entry}", width="stretch"):
        st.session_state[CORRECTING] = place
        data.DRAFTS.done(data.corrections_of(), *place)
        st.rerun()


def typed_before(told: PlotOnDay) -> dict[str, str]:
    """What is recorded, as it would have been typed."""
    return {
        **{f"grade {grade}": str(stems) for grade, stems in told.stems},
        **{f"cull {reason}": str(stems) for reason, stems in told.culls},
        SEEN: str(told.last_entry),
    }


def show_correction(here: PlotOfWalk, told: PlotOnDay) -> None:
    """The same fields, filled with what is recorded, and why they were wrong."""
    token = data.DRAFTS.at(data.corrections_of(), told.plot, told.day).token
    _show_correction(here, told, token)


@st.fragment
def _show_correction(here: PlotOfWalk, told: PlotOnDay, token: str) -> None:
    fields = Fields(data.corrections_of(), told.plot, told.day)
    start_anew_if_done(fields.draft, token)
    if SEEN not in fields.draft.typed:
        fields.draft.typed.update(typed_before(told))
    kinds = {
        "counted": Tally.COUNTED,
        "nothing to cut (0)": Tally.NOTHING,
        "not picked": Tally.NOT_PICKED,
    }
    chosen = st.radio("What it should say", list(kinds), key=f"kind {token}", horizontal=True)
    what = kinds[chosen or "counted"]
    entry = TallyEntry(told.plot, told.day, what)
    if what is Tally.COUNTED:
        entry = show_counts(fields, told, here.shortest_length_cm)
    why = fields.words(WHY, "What was wrong")
    show_refusal(token)
    accept = fields.words(TRUE, "Why it is true") if is_held(token) else ""
    with st.container(horizontal=True, key="correction", gap="small"):
        asked = st.button("Put it right", type="primary", key=f"right {token}", width="stretch")
        left = st.button("Leave it as it is", key=f"leave {token}", width="stretch")
    if left:
        st.session_state.pop(CORRECTING, None)
        st.rerun(scope="app")
    if not asked:
        return
    if what is Tally.COUNTED and not any(text.strip() for _, text in entry.stems):
        st.html(markup.alert(NOTHING_TYPED))
    elif not why.strip():
        st.html(markup.alert("Say in a few words what was wrong: the history keeps both."))
    else:
        seen = int(fields.draft.typed[SEEN])
        store(partial(put_right, entry, why, token, seen, accept.strip() or None), token)


def put_right(entry: TallyEntry, why: str, token: str, seen: int, accept: str | None) -> None:
    """Correct, and be done with correcting."""
    data.correct_tally(entry, why, token, seen, accept)
    st.session_state.pop(CORRECTING, None)
