"""Questions to the store whose answers are kept until a record changes."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Generic, ParamSpec, TypeVar

import streamlit as st
from streamlit.runtime.scriptrunner import get_script_run_ctx

from dashboard.access.visitor import READERS, door, is_page, require, showing, token
from dashboard.answers import Answer, Answers, begin
from trials import TallybedError
from trials.report.pictures.of_trial import TrialViews
from trials.season import records_mark
from trials.stats.results import Comparison

STORE_VARIABLE = "TALLYBED_STORE"
EXAMPLE = "example farm"  # where its store is, in the visit of somebody who looks at it
ANSWERS_KEPT = 200
PAIRS_OF_ONE = 500  # in a comparison that weighs as much as a usual answer

P = ParamSpec("P")
T = TypeVar("T")
FileState = tuple[int, ...]
State = tuple[int, datetime] | None

# The store of a calculation that goes on behind the pages, where there is no visit.
_behind: ContextVar[Path | None] = ContextVar("behind", default=None)


def store_path() -> Path:
    """The store of these pages; the example farm's for a visitor who looks at that."""
    behind = _behind.get()
    if behind is not None:
        return behind
    # The page for the phone has no session of Streamlit's, which would say so at every request.
    if get_script_run_ctx(suppress_warning=True) is None:
        return Path(os.environ[STORE_VARIABLE])
    example: Path | None = st.session_state.get(EXAMPLE)
    return example or Path(os.environ[STORE_VARIABLE])


def file_state() -> FileState:
    """Changes whenever the store's file does; looks at the file without opening it."""
    path = store_path()
    seen: list[int] = []
    for file in (path, path.with_name(path.name + ".wal")):
        try:
            facts = file.stat()
        except FileNotFoundError:
            continue
        seen += [facts.st_mtime_ns, facts.st_size]
    return tuple(seen)


def state() -> State:
    """Changes whenever a record does: what is typed and who signs in changes the file as well."""
    return _state_of(store_path(), file_state())


@st.cache_resource(max_entries=ANSWERS_KEPT, show_spinner=False)
def _state_of(path: Path, at: FileState) -> State:
    return records_mark(path)


@dataclass(frozen=True, slots=True)
class _Asked(Generic[T]):
    """A question as one visitor asked it: of which store and which records, and who it was."""

    store: Path
    at: State
    token: str | None
    words: str
    ask: Callable[[], T]

    @property
    def key(self) -> tuple[Path, State, str]:
        return self.store, self.at, self.words

    def answer(self) -> T:
        """Ask, in whatever thread, for that visitor."""
        with showing(self.token), _at(self.store):
            return self.ask()


@contextmanager
def _at(store: Path) -> Iterator[None]:
    before = _behind.set(store)
    try:
        yield
    finally:
        _behind.reset(before)


def _weight(found: object) -> int:
    """How many usual answers take as much memory; 200 entries have 19,900 pairs."""
    if isinstance(found, Comparison):
        return 1 + len(found.all_pairs) // PAIRS_OF_ONE
    if isinstance(found, tuple) and found and isinstance(found[0], TrialViews):
        return _weight(found[0].comparison)
    return 1


_EVERY: list[Answers[Any]] = []


class Kept(Generic[P, T]):
    """A question to the store, as a decorator: its answers are kept until a record changes.

    They are frozen values, shared by all visitors.

    A refusal is not kept. Only those who may read everything are answered: the visitor is asked
    for at each call, so an answer that is there, or that another waits for, needs the right too.
    """

    def __init__(self, ask: Callable[P, T]) -> None:
        self._ask = ask
        self._answers: Answers[T] = Answers(ANSWERS_KEPT, _weight)
        _EVERY.append(self._answers)

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> T:
        """The answer; the page waits for it."""
        asked = self._asked(*args, **kwargs)
        if self._answers.is_there(asked.key) or not is_page():
            return self._answers.now(asked.key, asked.answer)
        with st.spinner("Calculating …"):
            return self._answers.now(asked.key, asked.answer)

    def begun(self, *args: P.args, **kwargs: P.kwargs) -> Answer[T]:
        """The answer, calculated behind the pages: look at it again until it is done."""
        asked = self._asked(*args, **kwargs)
        answer = self._answers.answer(asked.key, asked.answer)
        if answer.is_done() and not answer.is_there():
            self._answers.forget(asked.key, answer)  # this visitor sees the refusal, once
        return begin(answer)

    def is_there(self, *args: P.args, **kwargs: P.kwargs) -> bool:
        """Whether the answer can be had without calculating."""
        return self._answers.is_there(self._asked(*args, **kwargs).key)

    def ahead(self, *args: P.args, **kwargs: P.kwargs) -> Callable[[], bool]:
        """What calculates the answer, unless it is there or a record changed meanwhile.

        It tells whether it calculated.
        """
        asked = self._asked(*args, **kwargs)

        def run() -> bool:
            with suppress(TallybedError), _at(asked.store):
                if state() == asked.at:
                    return self._answers.answer(asked.key, asked.answer).run()
            return False

        return run

    def _asked(self, *args: P.args, **kwargs: P.kwargs) -> _Asked[T]:
        require(READERS)
        words = repr((args, sorted(kwargs.items())))  # of values: the same words, the same question
        showed = None if door() is None else token()
        return _Asked(store_path(), state(), showed, words, lambda: self._ask(*args, **kwargs))


def forget_answers() -> None:
    """A store that was restored may look as it once did: what is being calculated is of no use."""
    for answers in _EVERY:
        answers.clear()
