"""The pages: who sees which, their navigation, and the one place where refusals become messages."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from dashboard import example
from dashboard.access.visitor import Visitor, door, visitor
from dashboard.network import network_folder
from dashboard.settings import units_control
from dashboard.theme import markup
from dashboard.theme.looks import STYLE
from trials import TallybedError
from trials.errors import RecordsRefused, SignInRefused, TrialState
from trials.model.trial import Role
from trials.report.figures import count
from trials.report.pages import faults_table
from trials.report.remedies import page_words

HERE = Path(__file__).parent

st.set_page_config(page_title="Tallybed", page_icon=str(HERE / "mark.svg"), layout="wide")
st.html(STYLE)

SEASON = st.Page("screens/home.py", title="Home")
PLAN = st.Page("screens/plan.py", title="Plan")
TALLY = st.Page("screens/tally.py", title="Tally")
RECORDS = st.Page("screens/records.py", title="Records")
PEOPLE = st.Page("screens/people.py", title="People")
KEEPING = st.Page("screens/backups.py", title="Backups")
READING = [
    st.Page("screens/compare.py", title="Compare"),
    st.Page("screens/choose.py", title="Choose"),
    st.Page("screens/order.py", title="Order"),
    st.Page("screens/winter.py", title="Winter"),
    st.Page("screens/history.py", title="History"),
]
NETWORK = st.Page("screens/network.py", title="Network")
# Pages that others lead to, and the foot of each page: the row has no room for more on a phone.
VARIETIES = st.Page("screens/varieties.py", title="Varieties", visibility="hidden")
TERMS = st.Page("screens/terms.py", title="Terms", visibility="hidden")
SCREENS = {
    Role.GROWER: [SEASON, PLAN, TALLY, RECORDS, *READING, KEEPING],
    Role.ADVISER: [SEASON, *READING],
    Role.PICKER: [TALLY],
}
# Not of the example farm: tallies and people go to the farm's own store.
OWN_FARM_ONLY = (TALLY, RECORDS, KEEPING)


def to_the_bed() -> None:
    """Where a picker begins; a first page of its own would lose what a stake's code asks for."""
    st.switch_page(TALLY)


def show_refusal(refusal: TallybedError, role: Role) -> None:
    """What is wrong and what to do, where the page stopped."""
    if isinstance(refusal, RecordsRefused):
        faults = count(len(refusal.faults), "fault")
        st.html(
            markup.alert(f"{faults} found. Nothing was stored. Correct the files and try again.")
            + markup.table(faults_table(refusal, role))
        )
        return
    st.html(markup.alert(page_words(refusal, role)))
    if isinstance(refusal, TrialState) and role is not Role.PICKER:
        st.page_link(SEASON, label="See what each trial needs →")


def show_pages(who: Visitor) -> None:
    """The pages of a role, and the one that was asked for."""
    screens = [*SCREENS[who.role]]
    if example.is_open():
        screens = [screen for screen in screens if screen not in OWN_FARM_ONLY]
    if network_folder() is not None and who.role is not Role.PICKER:
        screens.append(NETWORK)
    if door() is not None and who.role is Role.GROWER and not example.is_open():
        screens.append(PEOPLE)
    if screens == [TALLY]:
        page = st.navigation([st.Page(to_the_bed, default=True), TALLY], position="hidden")
    else:
        page = st.navigation([*screens, VARIETIES, TERMS], position="top")
        with st.container(key="phone_nav", horizontal=True, gap="medium"):
            for screen in screens:
                st.page_link(screen, label=screen.title)
    if example.is_open():
        example.show_mark()
    try:
        page.run()
    except TallybedError as refusal:
        show_refusal(refusal, who.role)
    units_control()
    if screens != [TALLY]:
        st.page_link(VARIETIES, label="All varieties, with photos →")
        st.page_link(TERMS, label="What the words mean →")
    if who.session is not None:
        st.html(markup.signed_in(who.name, who.role.value))


def forget_another_visitor(who: Visitor) -> None:
    """What one person set or typed is not for the next one on the same device."""
    if st.session_state.get("session", who.session) != who.session:
        st.session_state.clear()
    st.session_state["session"] = who.session


def run() -> None:
    """Show the pages to whoever is there."""
    try:
        who = visitor()
    except SignInRefused as ended:
        st.html(markup.signed_out(str(ended)))
        return
    forget_another_visitor(who)
    st.logo(str(HERE / "name.svg"), size="large")
    show_pages(who)


run()
