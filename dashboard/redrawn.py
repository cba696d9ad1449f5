"""Parts of a page that are drawn by themselves: after a touch of their own, or once opened."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from typing import NoReturn, ParamSpec

import streamlit as st

from dashboard.access.visitor import said, visitor
from dashboard.theme import markup
from trials.errors import SignInRefused, TallybedError

P = ParamSpec("P")


def redrawn_alone(part: Callable[P, None]) -> Callable[P, None]:
    """A part of the page that a touch of its own controls redraws, and nothing else.

    The visitor is asked for again at each redrawing, as at every run of the page.
    """

    @wraps(part)
    def shown(*args: P.args, **kwargs: P.kwargs) -> None:
        try:
            visitor()
            part(*args, **kwargs)
        except SignInRefused as ended:
            st.html(markup.signed_out(str(ended)))
        except TallybedError as refusal:
            st.html(markup.alert(said(refusal)))

    return st.fragment(shown)


def draw_again() -> NoReturn:
    """Draw the page anew, unless its visitor asked for another one meanwhile.

    The library's own call alone would put this page in the place of the one that was asked for: a
    tap on a link would do nothing where it came while a result was waited for or stored.
    """
    st.empty()  # at every part that is drawn, what was asked for meanwhile goes first
    st.rerun(scope="app")


@contextmanager
def folded(label: str, key: str) -> Iterator[bool]:
    """A part that a tap opens; what yields True is drawn only then, so the page comes sooner.

    Use it within a part that is redrawn alone, as the tap runs the script around it again.
    """
    part = st.expander(label, key=key, on_change="rerun")
    with part:
        yield bool(part.open)
