"""A picture as PNG, in the type of the printed pages, without a browser."""

from __future__ import annotations

from functools import cache
from io import BytesIO
from itertools import pairwise
from math import hypot
from typing import TYPE_CHECKING

from trials.drawing.inks import LIGHT, Ink, Palette, words_on
from trials.drawing.picture import Anchor, Box, Dot, Line, Picture, Shape, Words
from trials.drawing.scales import shown
from trials.drawing.svg import corners
from trials.paper.page import FONTS

if TYPE_CHECKING:
    from PIL.ImageDraw import ImageDraw
    from PIL.ImageFont import FreeTypeFont

SHARPNESS = 2  # pixels of the file for one of the picture
_FINER = 2  # drawn as many times larger and then made smaller, so that slanting lines are smooth


def png_file(picture: Picture, palette: Palette = LIGHT) -> bytes:
    """The picture on its ground, ``SHARPNESS`` times its size in pixels; always the same bytes."""
    from PIL import Image, ImageDraw

    scale = SHARPNESS * _FINER
    size = (round(picture.width * scale), round(picture.height * scale))
    image = Image.new("RGB", size, palette[Ink.GROUND])
    pen = _Pen(ImageDraw.Draw(image), scale, palette)
    for mark in picture.marks:
        pen.draw(mark)
    image = image.resize((size[0] // _FINER, size[1] // _FINER), Image.Resampling.LANCZOS)
    written = BytesIO()
    image.save(written, "PNG", optimize=True, dpi=(144, 144))
    return written.getvalue()


@cache
def _font(bold: bool, size: int) -> FreeTypeFont:
    from PIL import ImageFont

    name = "DejaVuSansCondensed-Bold.ttf" if bold else "DejaVuSansCondensed.ttf"
    return ImageFont.truetype(str(FONTS / name), size)


class _Pen:
    """Draws marks on an image ``scale`` times as large as the picture."""

    def __init__(self, draw: ImageDraw, scale: int, palette: Palette) -> None:
        self._draw, self._scale, self._palette = draw, scale, palette

    def draw(self, mark: Line | Box | Dot | Words) -> None:
        if isinstance(mark, Line):
            self._line(mark)
        elif isinstance(mark, Box):
            s = self._scale
            corner = (mark.x * s, mark.y * s, (mark.x + mark.width) * s, (mark.y + mark.height) * s)
            self._draw.rectangle(
                corner,
                fill=self._ink(mark.fill),
                outline=self._ink(mark.stroke),
                width=self._width(mark.line),
            )
        elif isinstance(mark, Dot):
            self._dot(mark)
        else:
            self._words(mark)

    def _ink(self, ink: Ink | None) -> str | None:
        return None if ink is None else self._palette[ink]

    def _width(self, line: float) -> int:
        return max(1, round(line * self._scale))

    def _line(self, line: Line) -> None:
        points = [(x * self._scale, y * self._scale) for x, y in line.points]
        ink, width = self._palette[line.ink], self._width(line.width)
        if not line.dash:
            self._draw.line(points, fill=ink, width=width, joint="curve")
            return
        lengths = [length * self._scale for length in line.dash]
        turn, left = 0, lengths[0]
        for (x, y), (to_x, to_y) in pairwise(points):
            whole = hypot(to_x - x, to_y - y)
            at = 0.0
            while at < whole:
                step = min(left, whole - at)
                if turn % 2 == 0:
                    a, b = at / whole, (at + step) / whole
                    ends = [
                        (x + a * (to_x - x), y + a * (to_y - y)),
                        (x + b * (to_x - x), y + b * (to_y - y)),
                    ]
                    self._draw.line(ends, fill=ink, width=width)
                at, left = at + step, left - step
                if left <= 0:
                    turn += 1
                    left = lengths[turn % len(lengths)]

    def _dot(self, dot: Dot) -> None:
        s, r = self._scale, dot.radius
        fill, stroke, width = self._ink(dot.fill), self._palette[dot.stroke], self._width(dot.line)
        x, y = dot.x * s, dot.y * s
        if dot.shape is Shape.CIRCLE:
            corner = (x - r * s, y - r * s, x + r * s, y + r * s)
            self._draw.ellipse(corner, fill=fill, outline=stroke, width=width)
        elif dot.shape is Shape.CROSS:
            for way in (1, -1):
                ends = [(x - r * s, y - way * r * s), (x + r * s, y + way * r * s)]
                self._draw.line(ends, fill=stroke, width=width)
        else:
            points = [(px * s, py * s) for px, py in corners(dot)]
            self._draw.polygon(points, fill=fill)
            self._draw.line([*points, *points[:2]], fill=stroke, width=width, joint="curve")

    def _words(self, words: Words) -> None:
        font = _font(words.bold, round(words.size * self._scale))
        text = shown(words.text)
        across = {Anchor.START: "l", Anchor.MIDDLE: "m", Anchor.END: "r"}[words.anchor]
        ink = self._palette[words.ink] if words.on is None else words_on(self._palette[words.on])
        place = (words.x * self._scale, words.y * self._scale)
        self._draw.text(place, text, fill=ink, font=font, anchor=f"{across}m")
