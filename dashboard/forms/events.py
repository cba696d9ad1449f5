"""The form for what happened to a trial or its plots: frost, a loss, a swap, work done, a note."""

from __future__ import annotations

from datetime import date

import streamlit as st

from dashboard.data import plot_codes
from dashboard.forms.saving import save, show_outcome, token_of
from dashboard.spray_form import show_spray_form
from dashboard.theme import markup
from trials.model.rows import Sheet
from trials.model.trial import EventKind, Trial
from trials.report.record_forms import TypedRows

WHOLE_TRIAL = "Every plot of the trial"
KINDS = {
    EventKind.FROST: "Frost",
    EventKind.SPRAYED: "Spray",
    EventKind.PINCHED: "Plants pinched",
    EventKind.NETTED: "Net put up",
    EventKind.LOST: "Plots lost",
    EventKind.PLANTS_SWAPPED: "Plants of two plots swapped at planting",
    EventKind.LABELS_SWAPPED: "Stakes of two plots swapped",
    EventKind.PLANTED: "Planted out",
    EventKind.NOTE: "A note",
}
SWAPS = (EventKind.PLANTS_SWAPPED, EventKind.LABELS_SWAPPED)


def show_events(trial: Trial) -> None:
    """Choose what happened, then its form."""
    kind = st.selectbox(
        "What happened", list(KINDS), format_func=KINDS.__getitem__, key=f"event {trial.code}"
    )
    if kind is EventKind.SPRAYED:
        show_spray_form(trial)
        return
    form = f"event {kind.value} of {trial.code}"
    show_outcome(form)
    with st.form(f"{form} {token_of(form)}", border=False):
        on = st.date_input("Day", value=date.today(), format="YYYY-MM-DD")
        plots, other = _plots(trial, kind)
        why = st.text_input("Why, or a note", max_chars=200)
        asked = st.form_submit_button("Store the event", type="primary")
    if not asked:
        return
    missing = _missing(kind, on, plots, other, why)
    if missing:
        st.html(markup.alert(f"Nothing was stored. Still needed: {', '.join(missing)}."))
        return
    same = {"trial": trial.code, "happened_on": str(on), "kind": kind.value, "reason": why.strip()}
    rows = tuple({**same, "plot": plot, "other_plot": other} for plot in plots or ("",))
    places = tuple(f"plot {plot}" if plot else "" for plot in plots or ("",))
    save(form, {Sheet.EVENTS: TypedRows(rows, places)})


def _plots(trial: Trial, kind: EventKind) -> tuple[list[str], str]:
    """The plots of the event, none meaning all, and the other plot of a swap."""
    codes = list(plot_codes(trial.code))
    if kind not in SWAPS:
        hint = "choose" if kind is EventKind.LOST else WHOLE_TRIAL
        return st.multiselect("Plots", codes, placeholder=hint), ""
    first = st.selectbox("One plot", codes, index=None, placeholder="choose")
    other = st.selectbox("The other plot", codes, index=None, placeholder="choose")
    return [first] if first else [], other or ""


def _missing(kind: EventKind, on: date | None, plots: list[str], other: str, why: str) -> list[str]:
    """What the event cannot do without."""
    swap = kind in SWAPS
    needed = (
        ("the day", on is not None),
        ("the plots", bool(plots) or not (swap or kind is EventKind.LOST)),
        ("the other plot", bool(other) or not swap),
        ("why", bool(why.strip()) or not (swap or kind in (EventKind.LOST, EventKind.NOTE))),
    )
    return [words for words, there in needed if not there]
