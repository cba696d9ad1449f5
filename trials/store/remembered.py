"""What a store was asked during one calculation, so that nothing is asked of the file twice."""

from __future__ import annotations

import copy
from collections.abc import Callable, Hashable
from functools import partial
from typing import Any, TypeVar

T = TypeVar("T")
Remembered = dict[Hashable, Any]


def key_of(ask: Callable[..., object], code: str | None = None) -> Hashable:
    """The same for the same question: a function, what it is asked with, and a trial."""
    if isinstance(ask, partial):
        return ask.func, ask.args, tuple(sorted(ask.keywords.items())), code
    return ask, code


def answered(held: Remembered, key: Hashable, ask: Callable[[], T]) -> T:
    """The answer under a key, asked for once; each caller gets a frame or mapping of its own."""
    if key not in held:
        held[key] = ask()
    found: T = copy.copy(held[key])
    return found
