"""People: who may sign in, inviting one by a code to scan, and shutting one out."""

from __future__ import annotations

import streamlit as st

from dashboard import data
from dashboard.access.visitor import said
from dashboard.redrawn import draw_again
from dashboard.theme import markup
from trials import TallybedError
from trials.model.trial import ROLE_WORDS, Role
from trials.report.people_page import invitation_words, people_table
from trials.season import code_svg


def show_inviting() -> None:
    """The form, and the code it made: shown until the next touch, and kept nowhere."""
    st.html(
        markup.section(
            "Invite somebody",
            "They scan a code with their own phone and choose a passphrase. Use it also for "
            "a forgotten passphrase.",
        )
    )
    with st.form("invite", border=False, clear_on_submit=False):
        name = st.text_input("Name", max_chars=60)
        role = st.selectbox(
            "Role",
            [role.value for role in Role],
            format_func=lambda role: f"{role}: {ROLE_WORDS[Role(role)]}",
        )
        asked = st.form_submit_button("Make a code", type="primary")
    if asked and not name.strip():
        st.html(markup.alert("The name is empty."))
    elif asked:
        try:
            link, invitation = data.invite(name, Role(role))
        except TallybedError as refusal:
            st.html(markup.alert(said(refusal)))
            return
        st.html(markup.scan(code_svg(link), link, invitation_words(invitation)))


def show_ending(names: list[str]) -> None:
    """Remove somebody; asked twice."""
    st.html(markup.section("Remove somebody", "Their records stay."))
    with st.form("shut out", border=False):
        name = st.selectbox("Who", names, index=None, placeholder="choose")
        sure = st.checkbox("I understand that they are signed out everywhere.")
        asked = st.form_submit_button("Remove")
    if not asked:
        return
    if name is None or not sure:
        st.html(markup.alert("Nobody was removed yet. Choose a name and tick the box."))
        return
    data.end_person(name)
    st.session_state["shut_out"] = name
    draw_again()


people = data.everybody()
st.html(markup.heading("Who may sign in", eyebrow="People"))
if "shut_out" in st.session_state:
    gone = st.session_state.pop("shut_out")
    st.html(markup.done(f"{gone} may no longer sign in."))
st.html(markup.table(people_table(people)))
left, right = st.columns(2, gap="large")
with left:
    show_inviting()
with right:
    show_ending([person.name for person in people])
