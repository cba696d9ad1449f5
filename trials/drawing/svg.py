"""A picture as SVG (W3C Scalable Vector Graphics 1.1): words stay text, and nothing runs."""

from __future__ import annotations

import html
from collections.abc import Callable

from trials.drawing.inks import DARK, LIGHT, Ink, Palette, words_on
from trials.drawing.picture import Box, Dot, Line, Mark, Picture, Shape, Words
from trials.drawing.scales import shown

FONT = "'Source Sans','Source Sans 3','Helvetica Neue',Arial,sans-serif"

_PROPERTY = "-" * 2

Paint = Callable[[Ink], str]
PaintOn = Callable[[Ink], str]


def svg_file(picture: Picture, palette: Palette = LIGHT) -> str:
    """The picture as a file of its own, on its ground, in the colours of a palette."""
    ground = f'<rect width="100%" height="100%" fill="{palette[Ink.GROUND]}"/>'
    return _svg(picture, palette.__getitem__, lambda fill: words_on(palette[fill]), before=ground)


def svg_of_device(picture: Picture) -> str:
    """The picture for a page: light or dark as the reader's device is set."""
    return _svg(picture, _variable, _variable_on, before=f"<style>{device_style(':root')}</style>")


def svg_within(picture: Picture) -> str:
    """The picture to stand within a document that holds ``device_style``."""
    return _svg(picture, _variable, _variable_on)


def device_style(selector: str) -> str:
    """CSS that gives every ink its colour by the device's setting; light on paper."""
    light, dark = (f"{selector}{{{_variables(palette)}}}" for palette in (LIGHT, DARK))
    return f"{light}@media screen and (prefers-color-scheme:dark){{{dark}}}"


def _variables(palette: Palette) -> str:
    inks = [f"{_name(ink)}:{colour}" for ink, colour in palette.items()]
    inks += [f"{_name_on(ink)}:{words_on(colour)}" for ink, colour in palette.items()]
    return ";".join(inks)


def _name(ink: Ink) -> str:
    """An ink as a custom property (W3C CSS Custom Properties for Cascading Variables)."""
    return f"{_PROPERTY}{ink.value}"


def _name_on(ink: Ink) -> str:
    """What the words on an ink are written in."""
    return f"{_PROPERTY}on-{ink.value}"


def _variable(ink: Ink) -> str:
    return f"var({_name(ink)})"


def _variable_on(ink: Ink) -> str:
    return f"var({_name_on(ink)})"


def _svg(picture: Picture, paint: Paint, on: PaintOn, before: str = "") -> str:
    size = f"{picture.width:g} {picture.height:g}"
    label = html.escape(shown(picture.alt), quote=True)
    marks = "".join(_mark(mark, paint, on) for mark in picture.marks)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size}" width="{picture.width:g}" '
        f'height="{picture.height:g}" role="img" aria-label="{label}" font-family="{FONT}">'
        f"<title>{html.escape(shown(picture.title))}</title>{before}{marks}</svg>"
    )


def _mark(mark: Mark, paint: Paint, on: PaintOn) -> str:
    if isinstance(mark, Line):
        points = " ".join(f"{_n(x)},{_n(y)}" for x, y in mark.points)
        dash = f' stroke-dasharray="{" ".join(map(_n, mark.dash))}"' if mark.dash else ""
        return (
            f'<polyline points="{points}" fill="none" stroke="{paint(mark.ink)}" '
            f'stroke-width="{_n(mark.width)}"{dash}/>'
        )
    if isinstance(mark, Box):
        return (
            f'<rect x="{_n(mark.x)}" y="{_n(mark.y)}" width="{_n(mark.width)}" '
            f'height="{_n(mark.height)}"{_filled(mark.fill, mark.stroke, mark.line, paint)}/>'
        )
    if isinstance(mark, Dot):
        return _dot(mark, paint)
    return _words(mark, paint, on)


def _dot(dot: Dot, paint: Paint) -> str:
    x, y, r = dot.x, dot.y, dot.radius
    filled = _filled(dot.fill, dot.stroke, dot.line, paint)
    if dot.shape is Shape.CIRCLE:
        return f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(r)}"{filled}/>'
    if dot.shape is Shape.CROSS:
        way = f"M{_n(x - r)} {_n(y - r)}L{_n(x + r)} {_n(y + r)}M{_n(x - r)} {_n(y + r)}"
        return f'<path d="{way}L{_n(x + r)} {_n(y - r)}"{filled}/>'
    points = " ".join(f"{_n(px)},{_n(py)}" for px, py in corners(dot))
    return f'<polygon points="{points}"{filled}/>'


def corners(dot: Dot) -> tuple[tuple[float, float], ...]:
    """The corners of a square or a diamond."""
    x, y, r = dot.x, dot.y, dot.radius
    if dot.shape is Shape.DIAMOND:
        r *= 1.25
        return (x, y - r), (x + r, y), (x, y + r), (x - r, y)
    return (x - r, y - r), (x + r, y - r), (x + r, y + r), (x - r, y + r)


def _filled(fill: Ink | None, stroke: Ink | None, line: float, paint: Paint) -> str:
    filled = f' fill="{"none" if fill is None else paint(fill)}"'
    if stroke is None:
        return filled
    return f'{filled} stroke="{paint(stroke)}" stroke-width="{_n(line)}"'


def _words(words: Words, paint: Paint, on: PaintOn) -> str:
    ink = paint(words.ink) if words.on is None else on(words.on)
    bold = ' font-weight="600"' if words.bold else ""
    return (
        f'<text x="{_n(words.x)}" y="{_n(words.y + 0.35 * words.size)}" '
        f'font-size="{_n(words.size)}" text-anchor="{words.anchor.value}" fill="{ink}"{bold}>'
        f"{html.escape(shown(words.text))}</text>"
    )


def _n(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")
