"""Stores what a form was filled in with, and says what is wrong with it or asks why it is true."""

from __future__ import annotations

from collections.abc import Mapping
from secrets import token_hex

import streamlit as st

from dashboard.access.visitor import visitor
from dashboard.entering import enter
from dashboard.redrawn import draw_again
from dashboard.settings import units
from dashboard.theme import markup
from trials.errors import RecordsHeld, RecordsRefused
from trials.model.rows import Added, Sheet
from trials.report.pages import added_sentence
from trials.report.record_forms import TypedRows, in_sheets, typed_sentences

NOTHING_TYPED = "Nothing is filled in yet. Nothing was stored."
UNLIKELY = "Some of it is unlikely. Nothing was stored."

Typed = Mapping[Sheet, TypedRows]


def token_of(form: str) -> str:
    """The token under which a form is stored once; it also keeps its fields apart from the last."""
    tokens: dict[str, str] = st.session_state.setdefault("form tokens", {})
    return tokens.setdefault(form, token_hex(16))


def save(form: str, typed: Typed) -> None:
    """Store what was typed and empty the form; else say what is wrong, or ask why it is true."""
    if not in_sheets(typed):
        st.html(markup.alert(NOTHING_TYPED))
        return
    _store(form, typed, None)


def show_outcome(form: str) -> None:
    """What the form stored last, or what of it is unlikely and needs a reason."""
    done: tuple[str, Added] | None = st.session_state.get("form done")
    if done is not None and done[0] == form:
        st.html(markup.done(added_sentence(done[1])))
        del st.session_state["form done"]
    held: tuple[str, Typed, list[str]] | None = st.session_state.get("form held")
    if held is None or held[0] != token_of(form):
        return
    _, typed, sentences = held
    st.html(markup.alert(UNLIKELY) + markup.lines(sentences))
    with st.form(f"accept {form}", border=False):
        why = st.text_input("If all of it is true, why?", max_chars=200)
        asked = st.form_submit_button("Store it with this reason")
    if asked and why.strip():
        _store(form, typed, why.strip())


def _store(form: str, typed: Typed, accept: str | None) -> None:
    try:
        added = enter(in_sheets(typed), token_of(form), accept)
    except RecordsHeld as held:
        st.session_state["form held"] = (token_of(form), typed, _sentences(held, typed))
        draw_again()
    except RecordsRefused as refused:
        said = markup.lines(_sentences(refused, typed))
        st.html(markup.alert("Nothing was stored. Correct this and try again:") + said)
        return
    st.session_state.pop("form held", None)
    st.session_state["form done"] = (form, added)
    st.session_state["form tokens"].pop(form, None)
    draw_again()


def _sentences(refused: RecordsRefused, typed: Typed) -> list[str]:
    return typed_sentences(refused, typed, units(), visitor().role)
