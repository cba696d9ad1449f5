"""Checks the words of a command as text and as paths before any command gets them."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import click

from trials.report.grid import printable

LONGEST_NAME_BYTES = 255  # of a file or folder; other systems allow no more


class Words(click.ParamType[str]):
    """Text: what a shell hands over as bytes that are no text is refused."""

    name = "text"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """The text as it was typed."""
        text = str(value)
        if not is_text(text):
            self.fail(f"'{printable(text)}' is not text in UTF-8. Type it again.", param, ctx)
        return text


class Place(click.ParamType[Path]):
    """A file or folder, which this computer must be able to look for."""

    def __init__(self, kind: click.Path[Any]) -> None:
        self.kind = kind
        self.name = kind.name

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        """The place, if it is as it was asked for."""
        place = Path(os.fsdecode(self.kind.convert(value, param, ctx)))
        longest = max((len(os.fsencode(part)) for part in place.parts), default=0)
        if longest > LONGEST_NAME_BYTES:
            self.fail(f"{short(str(place))}: this name is too long. Shorten it.", param, ctx)
        try:
            place.expanduser().exists()
        except (OSError, RuntimeError) as problem:
            why = getattr(problem, "strerror", None) or str(problem)
            self.fail(f"{short(str(place))}: {why}. Name another place.", param, ctx)
        return place


def guarded(command: click.Command) -> click.Command:
    """The command, with each of its words checked; groups of commands too."""
    if isinstance(command, click.Group):
        for below in command.commands.values():
            guarded(below)
    for option in command.params:
        if isinstance(option.type, click.Path):
            option.type = Place(option.type)
        elif option.type is click.STRING:
            option.type = Words()
    return command


def is_text(word: str) -> bool:
    """Whether a word is text: Python keeps bytes that are none as halves of characters."""
    try:
        word.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return True


def short(word: str, most: int = 60) -> str:
    """A long word's beginning, to be named by."""
    return word if len(word) <= most else f"{word[:most]}…"
