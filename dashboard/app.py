"""The pages: their navigation, and the one place where a refusal becomes a message."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from dashboard import markup
from dashboard.looks import STYLE
from dashboard.settings import units_control
from trials import RecordsRefused, TallybedError, TrialState, count, faults_table

HERE = Path(__file__).parent

st.set_page_config(page_title="Tallybed", page_icon=str(HERE / "mark.svg"), layout="wide")
st.html(STYLE)
st.logo(str(HERE / "name.svg"), size="large")

SCREENS = [
    st.Page("screens/season.py", title="Season", default=True),
    st.Page("screens/trial.py", title="Trial"),
    st.Page("screens/standings.py", title="Standings"),
    st.Page("screens/order.py", title="Order"),
]


def show_refusal(refusal: TallybedError) -> None:
    """What is wrong and what to do, where the page stopped."""
    if isinstance(refusal, RecordsRefused):
        faults = count(len(refusal.faults), "fault")
        st.html(
            markup.alert(f"{faults} found. Nothing was stored: mend the files and try again.")
            + markup.table(faults_table(refusal))
        )
        return
    st.html(markup.alert(str(refusal)))
    if isinstance(refusal, TrialState):
        st.page_link(SCREENS[0], label="See what each trial needs →")


page = st.navigation(SCREENS, position="top")
with st.container(key="phone_nav", horizontal=True, gap="medium"):
    for screen in SCREENS:
        st.page_link(screen, label=screen.title)
try:
    page.run()
except TallybedError as refusal:
    show_refusal(refusal)
units_control()
