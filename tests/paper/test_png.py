"""A picture as PNG: its size, its colours where they belong, and the same bytes each time."""

from __future__ import annotations

from io import BytesIO

from PIL import Image

from trials.drawing.inks import LIGHT, Ink, channels
from trials.drawing.picture import Anchor, Box, Dot, Line, Mark, Picture, Shape, Words
from trials.paper.png import SHARPNESS, png_file

MARKS: tuple[Mark, ...] = (
    Box(10, 10, 40, 20, Ink.LEAF),
    Line(((0, 50), (100, 50)), Ink.CLAY, 4),
    Line(((0, 60), (100, 60)), Ink.STONE, 4, (10, 10)),
    *(Dot(20 + 20 * n, 80, 6, Ink.STEP_5, Ink.TEXT, shape) for n, shape in enumerate(Shape)),
    Words(50, 20, "22.1 <b>", 14, Anchor.START, bold=True, ink=Ink.TEXT),
)
PICTURE = Picture("p", "t", "", "a", 100, 100, MARKS, ("c",), (("r",),))


def test_marks_have_their_colour_where_they_lie() -> None:
    image = Image.open(BytesIO(png_file(PICTURE)))
    assert image.size == (100 * SHARPNESS, 100 * SHARPNESS)

    def at(x: float, y: float) -> object:
        return image.getpixel((round(x * SHARPNESS), round(y * SHARPNESS)))

    assert at(30, 20) == channels(LIGHT[Ink.LEAF])
    assert at(30, 50) == channels(LIGHT[Ink.CLAY])
    assert at(5, 60) == channels(LIGHT[Ink.STONE])
    assert at(15, 60) == channels(LIGHT[Ink.GROUND])
    assert at(20, 80) == channels(LIGHT[Ink.STEP_5])
    assert at(2, 2) == channels(LIGHT[Ink.GROUND])


def test_the_same_picture_gives_the_same_bytes() -> None:
    assert png_file(PICTURE) == png_file(PICTURE)
