"""What pictures share: a key, names down the side, axes with their units, lines of a note."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from trials.drawing.inks import Ink
from trials.drawing.picture import Anchor, Box, Dot, Line, Mark, Shape, Words
from trials.drawing.scales import Scale, lines_of, shown, tick_words, width_px

WIDE_PX, HALF_PX, NARROW_PX = 680, 540, 360
TEXT_PX, SMALL_PX = 15.0, 13.0
LINE_PX = 17.0
ROW_PX = 30.0
EDGE_PX = 6.0
NAMES_SHARE = 0.36  # the most of a picture's width that names may take

Sign = Callable[[float, float], tuple[Mark, ...]]


@dataclass(frozen=True, slots=True)
class Names:
    """Names down the left side: their marks, the middle of each row, and where they end."""

    marks: tuple[Mark, ...]
    middles: tuple[float, ...]
    right: float
    bottom: float


@dataclass(frozen=True, slots=True)
class Name:
    """A row's name; a quiet one is out of the running, a gap before it parts it from the others."""

    text: str
    quiet: bool = False
    gap_before: float = 0.0


def names_down(names: Sequence[Name], width: float, top: float, row: float = ROW_PX) -> Names:
    """Names in their order, in as many lines as each needs."""
    room = min(
        max((width_px(shown(name.text), TEXT_PX) for name in names), default=0.0),
        NAMES_SHARE * width,
    )
    marks: list[Mark] = []
    middles: list[float] = []
    at = top
    for name in names:
        at += name.gap_before
        lines = lines_of(name.text, room + 1, TEXT_PX)
        height = max(row, LINE_PX * len(lines) + 8)
        middle = at + height / 2
        ink = Ink.QUIET if name.quiet else Ink.TEXT
        first = middle - LINE_PX * (len(lines) - 1) / 2
        marks += [
            Words(room + EDGE_PX, first + n * LINE_PX, line, TEXT_PX, Anchor.END, ink=ink)
            for n, line in enumerate(lines)
        ]
        middles.append(middle)
        at += height
    return Names(tuple(marks), tuple(middles), room + EDGE_PX + 10, at)


def across(
    scale: Scale, top: float, bottom: float, title: str, width: float, *, signed: bool = False
) -> tuple[tuple[Mark, ...], float]:
    """Upright grid lines with their figures and title below, and where it all ends."""
    ticks = scale.ticks(6 if scale.end - scale.start > 350 else 4)
    words = tick_words(ticks, signed=signed)
    marks: list[Mark] = [Line(((scale.at(t), top), (scale.at(t), bottom)), Ink.RULE) for t in ticks]
    marks += [
        Words(scale.at(t), bottom + 12, word, SMALL_PX, Anchor.MIDDLE)
        for t, word in zip(ticks, words, strict=True)
    ]
    return _title_below(marks, title, scale.start, width, bottom + 32)


def _title_below(
    marks: list[Mark], title: str, left: float, width: float, at: float
) -> tuple[tuple[Mark, ...], float]:
    lines = lines_of(title, width - left - EDGE_PX, SMALL_PX)
    for n, line in enumerate(lines):
        marks.append(Words(left, at + n * LINE_PX, line, SMALL_PX, ink=Ink.QUIET))
    return tuple(marks), at + len(lines) * LINE_PX


def upwards(scale: Scale, left: float, right: float, title: str) -> tuple[Mark, ...]:
    """Level grid lines with their figures at the left and the title above.

    ``scale.start`` is the bottom, ``scale.end`` the top.
    """
    ticks = scale.ticks(5)
    marks: list[Mark] = [Line(((left, scale.at(t)), (right, scale.at(t))), Ink.RULE) for t in ticks]
    marks += [
        Words(left - 6, scale.at(t), word, SMALL_PX, Anchor.END)
        for t, word in zip(ticks, tick_words(ticks), strict=True)
    ]
    marks.append(Words(EDGE_PX, scale.end - 16, title, SMALL_PX, ink=Ink.QUIET))
    return tuple(marks)


def room_for_ticks(scale: Scale) -> float:
    """The width that the figures of an upright axis take."""
    words = tick_words(scale.ticks(5))
    return EDGE_PX + 8 + max((width_px(word, SMALL_PX) for word in words), default=10.0)


def key(
    entries: Iterable[tuple[Sign, str]], width: float, top: float = 0.0
) -> tuple[tuple[Mark, ...], float]:
    """What the signs mean, in lines from the left; the marks and where they end."""
    marks: list[Mark] = []
    x, y = EDGE_PX, top + LINE_PX / 2 + 3
    found = list(entries)
    for sign, words in found:
        wide = 30 + width_px(words, SMALL_PX) + 18
        if x > EDGE_PX and x + wide > width:
            x, y = EDGE_PX, y + LINE_PX + 5
        marks += [*sign(x + 11, y), Words(x + 28, y, words, SMALL_PX)]
        x += wide
    return tuple(marks), (y + LINE_PX / 2 + 8) if found else top


def dot_sign(fill: Ink | None, stroke: Ink, shape: Shape = Shape.CIRCLE) -> Sign:
    """A point in a key."""
    return lambda x, y: (Dot(x, y, 6, fill, stroke, shape),)


def line_sign(ink: Ink, width: float = 3.0, dash: tuple[float, ...] = ()) -> Sign:
    """A piece of a line in a key."""
    return lambda x, y: (Line(((x - 11, y), (x + 11, y)), ink, width, dash),)


def box_sign(fill: Ink | None, stroke: Ink | None = None) -> Sign:
    """A filled place in a key."""
    return lambda x, y: (Box(x - 10, y - 7, 20, 14, fill, stroke),)


def titled(measure: str, unit: str) -> str:
    """An axis title: what it is, and in what."""
    said = not unit or unit in measure or unit.replace("/", " per ") in measure
    return measure if said else f"{measure} ({unit})"


def shaded(values: Sequence[float], value: float, steps: int) -> int:
    """Which of ``steps`` equal parts of the values' span a value lies in, 0 for the lowest."""
    low, high = min(values), max(values)
    if high <= low:
        return steps // 2
    return min(int((value - low) / (high - low) * steps), steps - 1)
