"""A picture as a list of marks in pixels, with the words that stand in for it and its data."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from trials.drawing.inks import Ink

Cell = str | float | int | None

TEXT_PX = 14.0


class Shape(StrEnum):
    """The shape of a point: what is told by colour is told by shape as well."""

    CIRCLE = "circle"
    DIAMOND = "diamond"
    SQUARE = "square"
    CROSS = "cross"


class Anchor(StrEnum):
    """The end of a line of words that its place names."""

    START = "start"
    MIDDLE = "middle"
    END = "end"


@dataclass(frozen=True, slots=True)
class Line:
    """Straight pieces from point to point; ``dash`` gives the lengths of pieces and gaps."""

    points: tuple[tuple[float, float], ...]
    ink: Ink
    width: float = 1.0
    dash: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle from its top left corner."""

    x: float
    y: float
    width: float
    height: float
    fill: Ink | None
    stroke: Ink | None = None
    line: float = 1.0


@dataclass(frozen=True, slots=True)
class Dot:
    """A point with its middle at a place."""

    x: float
    y: float
    radius: float
    fill: Ink | None
    stroke: Ink
    shape: Shape = Shape.CIRCLE
    line: float = 2.0


@dataclass(frozen=True, slots=True)
class Words:
    """A line of words; ``y`` is the middle of its height, ``on`` the fill it stands on."""

    x: float
    y: float
    text: str
    size: float = TEXT_PX
    anchor: Anchor = Anchor.START
    bold: bool = False
    ink: Ink = Ink.TEXT
    on: Ink | None = None


Mark = Line | Box | Dot | Words


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing of ``width`` by ``height`` px.

    ``name`` is the stem of its files, ``note`` says how to read it, ``alt`` says in words what it
    shows, and ``columns`` and ``rows`` are the figures in it.
    """

    name: str
    title: str
    note: str
    alt: str
    width: float
    height: float
    marks: tuple[Mark, ...]
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
