"""Who looks at the page: the grower of this machine, or whoever is signed in from the network.

Asked anew at every run of a page, and again by everything that reads or writes the records, so
that a page which forgot to ask shows nothing either.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from pathlib import Path

import streamlit as st

from dashboard.access.gate import COOKIE
from dashboard.access.who import Door
from trials import TallybedError
from trials.errors import NotAllowed, SignInRefused
from trials.model.trial import ROLE_WORDS, Role
from trials.report.remedies import page_words

HERE = "the grower of this machine"
READERS = (Role.GROWER, Role.ADVISER)
WRITERS = (Role.GROWER,)
TALLIERS = (Role.GROWER, Role.PICKER)
EVERYBODY = tuple(Role)  # whoever is signed in


@dataclass(frozen=True, slots=True)
class Visitor:
    """A name for the history, and what it may do; ``session`` is None on this machine."""

    name: str
    role: Role
    session: str | None = None


class _Guard:
    door: Door | None = None


@dataclass(frozen=True, slots=True)
class _Shown:
    """What a device showed with one request; None where it showed nothing."""

    token: str | None


# Set while a request is answered that no page of Streamlit's makes.
_shown: ContextVar[_Shown | None] = ContextVar("shown", default=None)


def guard(store: Path | None) -> Door | None:
    """From now on ask for a session of that store; None: this machine only, nobody signs in."""
    _Guard.door = None if store is None else Door(store)
    return _Guard.door


def door() -> Door | None:
    """The door that visitors came in by; None on this machine."""
    return _Guard.door


def visitor() -> Visitor:
    """Who looks at this page.

    Raises
    ------
    SignInRefused
        The session has ended while the page was open.
    """
    if _Guard.door is None:
        return Visitor(HERE, Role.GROWER)
    session = _Guard.door.session(token())
    if session is None:
        raise SignInRefused("You are signed out. Reload the page to sign in.")
    return Visitor(session.person.name, session.person.role, session.key)


def said(refusal: TallybedError) -> str:
    """A refusal in words that this visitor can follow: a page, the grower, never a command."""
    return page_words(refusal, visitor().role)


def token() -> str | None:
    """What the device showed when it opened the page, or with the request being answered."""
    shown = _shown.get()
    return st.context.cookies.get(COOKIE) if shown is None else shown.token


def is_page() -> bool:
    """Whether a page of Streamlit's is being drawn here, and no other request is answered."""
    return _shown.get() is None


@contextmanager
def showing(token: str | None) -> Iterator[None]:
    """Within it, the visitor is whoever made a request with that token."""
    before = _shown.set(_Shown(token))
    try:
        yield
    finally:
        _shown.reset(before)


def require(roles: tuple[Role, ...]) -> Visitor:
    """The visitor, if their role covers it.

    Raises
    ------
    NotAllowed
        It does not; the text says who may.
    """
    found = visitor()
    if found.role in roles:
        return found
    may = " or ".join(f"a {role.value}" for role in roles)
    raise NotAllowed(
        f"You are signed in as {found.role.value}, somebody who {ROLE_WORDS[found.role]}. "
        f"This needs {may}."
    )
