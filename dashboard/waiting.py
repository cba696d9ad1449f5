"""What a page shows while an answer is calculated; its visitor may go elsewhere meanwhile."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

import streamlit as st

from dashboard.answers import Answer
from dashboard.redrawn import draw_again
from dashboard.theme import markup

T = TypeVar("T")

PATIENCE_S = 0.1  # what is there so soon is shown at once
LOOK_AGAIN_S = 0.5
LEAVE = "You can go to another page. The result is here when you come back."


def is_soon(answer: Answer[T]) -> bool:
    """Whether an answer is there, or is about to be."""
    return answer.is_done(PATIENCE_S)


def result_of(answer: Answer[T], doing: str, stop: Callable[[], None] | None = None) -> T | None:
    """The result of an answer; None while it is calculated, and then the page says so here.

    Once it is there, the page is drawn again. ``stop`` forgets what the visitor asked for, where
    that was a button of the page.
    """
    if is_soon(answer):
        return answer.result()
    _wait_for(answer, doing, stop)
    return None


def redraw_once_done(answers: Sequence[Answer[Any]], words: str) -> None:
    """Say that something is still to come, and draw the page again when one of them is there."""
    if answers:
        _wait_for_any(tuple(answers), words)


@st.fragment(run_every=LOOK_AGAIN_S)
def _wait_for(answer: Answer[T], doing: str, stop: Callable[[], None] | None) -> None:
    if answer.is_done():
        draw_again()
    st.html(markup.note(f"{doing}: {answer.seconds():.0f} s so far. {LEAVE}"))
    if stop is not None and st.button("Stop waiting", key=f"stop {doing}"):
        answer.cancel()
        stop()
        draw_again()


@st.fragment(run_every=LOOK_AGAIN_S)
def _wait_for_any(answers: tuple[Answer[Any], ...], words: str) -> None:
    if any(answer.is_done() for answer in answers):
        draw_again()
    st.html(markup.note(words))
