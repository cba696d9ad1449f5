"""Lines of several entries: inks and dashes that can be told apart, and names at their ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trials.drawing.inks import LINES, Ink
from trials.drawing.picture import Dot, Line, Mark, Shape, Words
from trials.drawing.scales import apart, lines_of, shown, width_px
from trials.report.pictures.frame import EDGE_PX, NAMES_SHARE, SMALL_PX

LEAD_PX = 14.0
NAME_GAP_PX = 17.0
_DASHES: tuple[tuple[float, ...], ...] = ((), (9, 4), (2, 4), (12, 4, 2, 4))


@dataclass(frozen=True, slots=True)
class LineLook:
    """How one entry's line is drawn."""

    ink: Ink
    width: float
    dash: tuple[float, ...]
    shape: Shape


QUIET = LineLook(Ink.STONE, 1.5, (2, 4), Shape.CIRCLE)
_SHAPES = (Shape.CIRCLE, Shape.SQUARE, Shape.DIAMOND)


def looks(number: int) -> tuple[LineLook, ...]:
    """A look for each of so many entries: ink first, then dash and shape of the points."""
    return tuple(
        LineLook(
            LINES[n % len(LINES)],
            2.5,
            _DASHES[n // len(LINES) % len(_DASHES)],
            _SHAPES[n % len(_SHAPES)],
        )
        for n in range(number)
    )


@dataclass(frozen=True, slots=True)
class NamedLine:
    """An entry's places from left to right, and how it is drawn."""

    name: str
    places: tuple[tuple[float, float], ...]
    look: LineLook


def room_for_names(names: Sequence[str], width: float) -> float:
    """The width that names at the right take, with the leads to them."""
    widest = max((width_px(shown(name), SMALL_PX, bold=True) for name in names), default=0.0)
    return LEAD_PX + EDGE_PX + min(widest, NAMES_SHARE * width)


def named_lines(
    lines: Sequence[NamedLine], top: float, bottom: float, width: float, names_px: float
) -> tuple[Mark, ...]:
    """The lines with a point at each place, and each name beside its end without overlap."""
    drawn = [line for line in lines if line.places]
    marks: list[Mark] = []
    for line in drawn:
        look = line.look
        marks.append(Line(line.places, look.ink, look.width, look.dash))
        marks += [Dot(x, y, 3.5, look.ink, look.ink, look.shape, 1) for x, y in line.places]
    wanted = [line.places[-1][1] for line in drawn]
    left = width - names_px
    for line, y in zip(drawn, apart(wanted, NAME_GAP_PX, top + 6, bottom - 4), strict=True):
        x_end, y_end = line.places[-1]
        if left - x_end < 3 * LEAD_PX:
            lead = ((x_end + 6, y_end), (left + LEAD_PX - 4, y))
            marks.append(Line(lead, Ink.RULE))
        text = lines_of(line.name, names_px - LEAD_PX - EDGE_PX + 1, SMALL_PX, most=1)[0]
        ink = Ink.QUIET if line.look is QUIET else line.look.ink
        marks.append(Words(left + LEAD_PX, y, text, SMALL_PX, bold=ink is not Ink.QUIET, ink=ink))
    return tuple(marks)
