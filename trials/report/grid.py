"""Plain-text tables for the terminal and for text files."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from unicodedata import category, east_asian_width


@dataclass(frozen=True, slots=True)
class Column:
    """A heading and the side to which its cells lean."""

    heading: str
    right: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """A table as words: its columns, and a cell in each for every row."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]

    def text(self) -> str:
        """The table for a terminal."""
        return grid(self.columns, self.rows)


def grid(columns: Sequence[Column], rows: Sequence[Sequence[str]], indent: str = "  ") -> str:
    """A table in text, one line a row, under its headings and a rule."""
    cells = [[printable(cell) for cell in row] for row in rows]
    widths = [
        max(_width(column.heading), *(_width(row[i]) for row in cells), 1)
        if cells
        else _width(column.heading)
        for i, column in enumerate(columns)
    ]

    def line(row: Sequence[str]) -> str:
        padded = (
            " " * (width - _width(cell)) + cell
            if column.right
            else cell + " " * (width - _width(cell))
            for cell, width, column in zip(row, widths, columns, strict=True)
        )
        return (indent + "  ".join(padded)).rstrip()

    rule = indent + "  ".join("─" * width for width in widths)
    return "\n".join([line([c.heading for c in columns]), rule, *(line(row) for row in cells)])


def printable(text: str) -> str:
    """The text with control and direction-changing characters shown as '�'."""
    if text.isprintable():
        return text
    return "".join("�" if unseen(c) else c for c in text)


def unseen(character: str) -> bool:
    """Whether it controls, turns the direction of what it stands in, or is half a character."""
    return category(character) in {"Cc", "Cf", "Cs"}


def for_terminal(text: str) -> str:
    """Lines as they may go to a terminal, which their text must not drive: see ``printable``."""
    return "\n".join(printable(line) for line in text.split("\n"))


def wrapped(text: str, indent: str = "  ", width: int = 96) -> str:
    """The text in lines of at most ``width`` characters; names are made printable."""
    return "\n".join(
        textwrap.wrap(
            printable(text),
            width=width,
            initial_indent=indent,
            subsequent_indent=indent,
            break_long_words=False,
            break_on_hyphens=False,
        )
    )


def _width(text: str) -> int:
    if text.isascii():
        return len(text)
    return sum(
        0 if category(c) in {"Mn", "Me"} else 2 if east_asian_width(c) in "WF" else 1 for c in text
    )
