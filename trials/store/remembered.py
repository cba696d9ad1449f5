"""What a store was asked during one calculation, so that nothing is asked of the file twice."""

from __future__ import annotations

import copy
from collections.abc import Callable, Hashable
from contextlib import AbstractContextManager
from functools import partial
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    import duckdb

T = TypeVar("T")
Remembered = dict[Hashable, Any]


def answered(
    held: Remembered | None,
    ask: Callable[[duckdb.DuckDBPyConnection], T],
    reading: Callable[[], AbstractContextManager[duckdb.DuckDBPyConnection]],
) -> T:
    """The answer to a question, read once where ``held`` remembers what was asked before.

    Each caller gets a frame or mapping of its own.
    """
    if held is None:
        with reading() as cursor:
            return ask(cursor)
    key = _key_of(ask)
    if key not in held:
        held[key] = answered(None, ask, reading)
    same: T = copy.copy(held[key])
    return same


def _key_of(asked: object) -> Hashable:
    """The same for the same question: a function, and what it is asked with."""
    if isinstance(asked, partial):
        words = tuple((name, _key_of(value)) for name, value in sorted(asked.keywords.items()))
        return asked.func, tuple(map(_key_of, asked.args)), words
    return asked
