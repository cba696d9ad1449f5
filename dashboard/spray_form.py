"""The form that records a spray and how long nobody may enter the plots."""

from __future__ import annotations

from datetime import date, datetime
from secrets import token_hex

import streamlit as st

from dashboard import data
from dashboard.redrawn import draw_again
from dashboard.tally import bed
from dashboard.theme import markup
from trials.errors import RecordsRefused
from trials.model.trial import Trial
from trials.model.work_safety import SPRAYING, cautions
from trials.season import SprayEntry, said_of_fields

WHOLE_TRIAL = "Every plot of the trial"
RECORDED = (
    "The spray is recorded. Page Tally keeps the plots off its list until the re-entry time has "
    "passed."
)


def show_spray_form(trial: Trial) -> None:
    """What was sprayed, where and when, and the hours on the label."""
    tokens = st.session_state.setdefault("spray_tokens", {})
    token = tokens.setdefault(trial.code, token_hex(16))
    if st.session_state.pop("sprayed_now", None) == trial.code:
        st.html(markup.done(RECORDED))
    st.html(markup.note(" ".join(cautions(*SPRAYING))))
    zone = datetime.now().astimezone().tzname()
    with st.form(f"spray {token}", border=False):
        plots = st.multiselect(
            "Plots sprayed", data.plot_codes(trial.code), placeholder=WHOLE_TRIAL
        )
        product = st.text_input("Product, as on its label", max_chars=100)
        day = st.date_input("Day of spraying", value=date.today(), format="YYYY-MM-DD")
        at = st.text_input(f"Time when spraying ended ({zone})", placeholder="18:05", max_chars=5)
        hours = st.text_input("Re-entry time on the label, in hours", placeholder="24", max_chars=8)
        words = st.text_input("Why, or a note (may stay empty)", max_chars=200)
        asked = st.form_submit_button("Record spray", type="primary")
    if not asked:
        return
    typed = {
        "the product": product,
        "the time when spraying ended": at,
        "the re-entry time in hours": hours,
    }
    missing = [name for name, text in typed.items() if not text.strip()]
    if missing or not isinstance(day, date):
        needed = ", ".join(missing) or "the day of spraying"
        st.html(
            markup.alert(
                f"Nothing was recorded yet. Still needed: {needed}. See the label; write 0 hours "
                "only if it sets no re-entry time."
            )
        )
        return
    entry = SprayEntry(trial.code, day, product, hours, at, tuple(plots), words)
    try:
        bed.record_spray(entry, token)
    except RecordsRefused as refused:
        st.html(markup.alert("\n".join(said_of_fields(refused))))
        return
    del tokens[trial.code]
    st.session_state["sprayed_now"] = trial.code
    draw_again()
