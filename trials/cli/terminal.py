"""Colours, and a progress bar, where a terminal shows them."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count
from threading import Event, Thread
from typing import Any, TextIO

import click

CLEAR_LINE = "\r\033[K"
WAIT_SECONDS = 1.0  # what is done sooner needs no bar
_FRAME_SECONDS = 0.2
_WIDTH = 20
_BLOCK = 5  # characters of the bar that move


def coloured(text: str, stream: TextIO, **style: Any) -> str:
    """The text in a style, where the stream is a terminal that wants one.

    ``NO_COLOR`` (https://no-color.org) with any text turns styles off.
    """
    plain = not stream.isatty() or os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb"
    return text if plain or not text else click.style(text, **style)


@contextmanager
def progress_bar(doing: str) -> Iterator[None]:
    """Show a moving bar on standard error while the body runs, if that takes over a second.

    The bar shows the time so far, not the part done: reading, arithmetic and writing give no
    honest share of the whole. Nothing is shown where standard error is no terminal.
    """
    if not sys.stderr.isatty():
        yield
        return
    done = Event()
    bar = Thread(target=_draw, args=(doing, done), daemon=True)
    bar.start()
    try:
        yield
    finally:
        done.set()
        bar.join()


def _draw(doing: str, done: Event) -> None:
    started = time.monotonic()
    if done.wait(WAIT_SECONDS):
        return
    for frame in count():
        gone = time.monotonic() - started
        there_and_back = frame % (2 * (_WIDTH - _BLOCK))
        at = min(there_and_back, 2 * (_WIDTH - _BLOCK) - there_and_back)
        bar = ("─" * at + "━" * _BLOCK).ljust(_WIDTH, "─")
        sys.stderr.write(f"{CLEAR_LINE}{doing}  {bar}  {gone:.0f} s")
        sys.stderr.flush()
        if done.wait(_FRAME_SECONDS):
            break
    sys.stderr.write(CLEAR_LINE)
    sys.stderr.flush()
