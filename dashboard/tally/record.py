"""What is recorded of a plot on a day, as it stands in the store, and putting it right."""

from __future__ import annotations

from datetime import date
from functools import partial

import streamlit as st

from dashboard.redrawn import draw_again
from dashboard.settings import units
from dashboard.tally import bed
from dashboard.tally.form import (
    NOTHING_TYPED,
    TRUE,
    Fields,
    is_held,
    show_counts,
    show_refusal,
    start_anew_if_done,
    store,
)
from dashboard.tally.typed import SEEN, TYPED, WHY, offer, show_both
from dashboard.theme import markup
from trials.model.plot_day import PlotOfWalk, PlotOnDay
from trials.model.saleable import shortest_grade
from trials.model.trial import Outcome
from trials.report.figures import count, listed
from trials.report.length_grades import length_words, measured_words
from trials.season import DraftPlace, Purpose, Tally, TallyEntry, on_the_clock

CORRECTING = "tally_correcting"


def recorded_words(told: PlotOnDay, shortest_cm: float) -> str:
    """What is recorded, in a sentence or two."""
    if told.outcome is Outcome.MISSED:
        return "Recorded: not picked."
    if not any(stems for _, stems in (*told.stems, *told.culls)):
        return "Recorded: picked, nothing to cut (0)."
    parts = [f"{length_words(grade, units())}: {stems}" for grade, stems in told.stems]
    parts += [f"culls, {reason}: {stems}" for reason, stems in told.culls]
    lowest = shortest_grade(shortest_cm)
    total = sum(stems for grade, stems in told.stems if grade >= lowest)
    short = sum(stems for grade, stems in told.stems if grade < lowest)
    also = f", {short} too short" if short else ""
    return f"Recorded: {count(total, 'stem')} to sell{also}. {'; '.join(parts)}."


def show_recorded(here: PlotOfWalk, told: PlotOnDay) -> None:
    """The confirmation; it comes from the store, so that it is never said too early."""
    by = f" By {told.who}." if told.who else ""
    lengths = ""
    if told.lengths_cm:
        measured = [measured_words(length, units()) for length in told.lengths_cm]
        lengths = f" Measured: {listed(measured, 20)}."
    st.html(markup.done(f"{recorded_words(told, here.minimum_length_cm)}{lengths}{by}"))
    of = bed.draft_place(told.plot, told.day)
    draft = bed.drafts().at(of)
    if st.session_state.get(CORRECTING) == (told.plot, told.day):
        show_correction(here, told)
    elif draft.has_counts:
        show_both(of, draft, told, partial(put_mine_instead, of, told))
    else:
        show_way_to_correct(told)


def show_way_to_correct(told: PlotOnDay) -> None:
    """The button that begins a correction, or what was typed of one on an earlier visit."""
    place = bed.draft_place(told.plot, told.day, Purpose.CORRECTION)
    begun = bed.drafts().at(place)
    go_on = partial(_correct, (told.plot, told.day))
    if begun.typed_at is not None:
        st.html(markup.note(f"A correction: {TYPED.format(at=on_the_clock(begun.typed_at))}"))
        offer(place, begun.token, "Use it", go_on)
    elif st.button("Correct this", key=f"correct {told.plot} {told.entry}", width="stretch"):
        bed.drafts().done(place)
        go_on()
        draw_again()


def _correct(place: tuple[str, date]) -> None:
    st.session_state[CORRECTING] = place


def put_mine_instead(of: DraftPlace, told: PlotOnDay) -> None:
    """Begin a correction by what was typed while somebody else recorded the plot."""
    place = bed.draft_place(of.plot, of.day, Purpose.CORRECTION)
    bed.drafts().done(place)
    typed = {**bed.drafts().at(of).typed}
    for key, text in {**typed, SEEN: str(told.last_entry)}.items():
        bed.drafts().type_in(place, key, text)
    for key in typed:  # it is the correction's now; emptied, it goes from the store as well
        bed.drafts().type_in(of, key, "")
    _correct((of.plot, of.day))


def typed_before(told: PlotOnDay) -> dict[str, str]:
    """What is recorded, as it would have been typed."""
    return {
        **{f"grade {grade}": str(stems) for grade, stems in told.stems},
        **{f"cull {reason}": str(stems) for reason, stems in told.culls},
        SEEN: str(told.last_entry),
    }


def show_correction(here: PlotOfWalk, told: PlotOnDay) -> None:
    """The same fields, filled with what is recorded, and why they were wrong."""
    token = bed.drafts().at(bed.draft_place(told.plot, told.day, Purpose.CORRECTION)).token
    _show_correction(here, told, token)


@st.fragment
def _show_correction(here: PlotOfWalk, told: PlotOnDay, token: str) -> None:
    fields = Fields(bed.draft_place(told.plot, told.day, Purpose.CORRECTION))
    start_anew_if_done(fields.draft, token)
    if SEEN not in fields.draft.typed:
        fields.draft.typed.update(typed_before(told))
    kinds = {
        "counted": Tally.COUNTED,
        "nothing to cut (0)": Tally.NOTHING,
        "not picked": Tally.NOT_PICKED,
    }
    chosen = st.radio("Right figures", list(kinds), key=f"kind {token}", horizontal=True)
    what = kinds[chosen or "counted"]
    entry = TallyEntry(told.plot, told.day, what)
    if what is Tally.COUNTED:
        entry = show_counts(fields, told, here.minimum_length_cm)
    why = fields.words(WHY, "What was wrong")
    show_refusal(token)
    accept = fields.words(TRUE, "Why it is true") if is_held(token) else ""
    with st.container(horizontal=True, key="correction", gap="small"):
        asked = st.button("Correct", type="primary", key=f"right {token}", width="stretch")
        left = st.button("Leave it as it is", key=f"leave {token}", width="stretch")
    if left:
        store(partial(leave, fields.place), token)
    if not asked:
        return
    if what is Tally.COUNTED and not any(text.strip() for _, text in entry.stems):
        st.html(markup.alert(NOTHING_TYPED))
    elif not why.strip():
        st.html(markup.alert("Say what was wrong. The history keeps both."))
    else:
        seen = int(fields.draft.typed[SEEN])
        store(partial(put_right, entry, why, token, seen, accept.strip() or None), token)


def leave(place: DraftPlace) -> None:
    """Be done with correcting, and with what was typed for it."""
    bed.discard_draft(place)
    st.session_state.pop(CORRECTING, None)


def put_right(entry: TallyEntry, why: str, token: str, seen: int, accept: str | None) -> None:
    """Correct, and be done with correcting."""
    bed.correct_tally(entry, why, token, seen, accept)
    st.session_state.pop(CORRECTING, None)
