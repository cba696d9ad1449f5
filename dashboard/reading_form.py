"""Agreeing on the page how sheets of one's own are read, and why unlikely records are true."""

from __future__ import annotations

import streamlit as st

from dashboard.access.visitor import visitor
from dashboard.redrawn import draw_again
from dashboard.theme import markup
from dashboard.theme.text import for_markdown
from trials.report.pages import faults_table
from trials.report.reading_page import reading_lines, rows_table
from trials.season import (
    Agreed,
    Guess,
    agreed_on,
    as_understood,
    fields_of,
    kinds_of_sheet,
    taken_as,
    with_answers,
)

LEFT_OUT = "left out"


def agreement(key: str) -> Agreed | None:
    """What was agreed so far; None while something is still asked on the page.

    Parameters
    ----------
    key
        What everything about these files begins with in the session: ``guesses`` are the files
        to agree on, ``held`` the refusal of unlikely records.
    """
    guesses: tuple[Guess, ...] = st.session_state.get(f"{key} guesses", ())
    agreed: list[Guess] = st.session_state.get(f"{key} agreed", [])
    held = st.session_state.get(f"{key} held")
    if guesses and not agreed:
        found = [_ask(guess, f"{key} {place}") for place, guess in enumerate(guesses)]
        still = sum(len(guess.questions) for guess in found)
        if st.button(
            "Yes, add these records", type="primary", disabled=still > 0, key=f"{key} yes"
        ):
            st.session_state[f"{key} agreed"] = found
            draw_again()
        if still:
            st.html(markup.note("Answer the questions above first. Nothing is stored yet."))
        return None
    reason = None
    if held is not None:
        reason = st.session_state.get(f"{key} reason")
        if reason is None:
            st.html(
                markup.alert("Some records are unlikely. Nothing was stored.")
                + markup.table(faults_table(held, visitor().role))
            )
            with st.form(f"{key} accept", border=False):
                said = st.text_input("If all of it is true, why?", max_chars=200)
                if st.form_submit_button("Add them with this reason") and said.strip():
                    st.session_state[f"{key} reason"] = said.strip()
                    draw_again()
            return None
    return agreed_on(agreed, reason)


def _ask(guess: Guess, key: str) -> Guess:
    """One sheet: what it is, what each column is, what is open, and its rows as understood."""
    st.html(
        markup.section(
            guess.cells.file, "This file has columns of its own. Check how it would be read."
        )
    )
    kinds = kinds_of_sheet()
    kind = st.selectbox(
        "It contains",
        kinds,
        index=None if len(guess.sheets) > 1 else kinds.index(guess.reading.sheet),
        format_func=lambda sheet: sheet.value.replace("_", " "),
        placeholder="choose what was counted or measured",
        key=f"{key} sheet",
    )
    if kind is not None:
        guess = with_answers(guess, {"sheet": kind.value})
    fields = fields_of(guess)
    for read in guess.reading.columns:
        if read.sets is not None:
            continue
        options = [LEFT_OUT, *dict.fromkeys([*fields, *([read.field] if read.field else [])])]
        chosen = st.selectbox(
            f"Column {for_markdown(read.heading)} is",
            options,
            index=options.index(read.field or LEFT_OUT),
            key=f"{key} {guess.reading.sheet} column {read.heading}",
        )
        if chosen != (read.field or LEFT_OUT):
            guess = taken_as(guess, read.heading, None if chosen == LEFT_OUT else chosen)
    guess = _answer(guess, key)
    st.html(markup.lines(reading_lines(guess)))
    rows = as_understood(guess)
    if rows is not None:
        st.html(
            markup.caption("The first rows as they would be read") + markup.table(rows_table(rows))
        )
    return guess


def _answer(guess: Guess, key: str) -> Guess:
    for question in guess.questions:
        if question.key == "sheet":
            continue
        label, name = for_markdown(question.words), f"{key} {guess.reading.sheet} {question.key}"
        answer = (
            st.selectbox(label, question.answers, index=None, key=name, placeholder="choose")
            if question.answers
            else st.text_input(label, key=name)
        )
        if answer:
            guess = with_answers(guess, {question.key: answer})
    return guess
