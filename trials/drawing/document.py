"""A document as its parts in reading order: headings, text, lists, tables, pictures and photos."""

from __future__ import annotations

from dataclasses import dataclass

from trials.drawing.picture import Picture


@dataclass(frozen=True, slots=True)
class Heading:
    """The head of a section; level 2 is under the document's title, level 3 within it."""

    text: str
    level: int = 2


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph; ``strong`` is what the document comes to."""

    text: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Listing:
    """Sentences or facts under one another."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Grid:
    """A table: its headings, which of its columns hold figures, its rows, and how it is set."""

    headings: tuple[str, ...]
    figures: tuple[bool, ...]
    rows: tuple[tuple[str, ...], ...]
    small: bool = False


@dataclass(frozen=True, slots=True)
class Photo:
    """A photo (JPEG) with its sides in pixels; ``words`` stand below it."""

    content: bytes
    width: int
    height: int
    alt: str
    words: str


@dataclass(frozen=True, slots=True)
class Photos:
    """Photos side by side."""

    photos: tuple[Photo, ...]


Part = Heading | Paragraph | Listing | Grid | Photos | Picture


@dataclass(frozen=True, slots=True)
class Document:
    """A title, the facts on the line below it, and the parts."""

    title: str
    facts: tuple[str, ...]
    parts: tuple[Part, ...]
