"""The colours can be told apart and read, in light and in dark, by every kind of colour vision.

Simulation: Machado, G. M., Oliveira, M. M. & Fernandes, L. A. F. (2009), A physiologically-based
model for simulation of color vision deficiency, IEEE Transactions on Visualization and Computer
Graphics 15(6):1291-1298, the matrices of severity 1.0, applied to linear RGB. Differences: CIELAB
(L*a*b*, ISO/CIE 11664-4), white D65. Contrast: WCAG 2.2, success criteria 1.4.3 and 1.4.11.
"""

from __future__ import annotations

from itertools import combinations, pairwise
from math import dist

import pytest

from trials.drawing.inks import (
    DARK,
    LIGHT,
    LINES,
    MORES,
    SHORTS,
    STEPS,
    Ink,
    Palette,
    channels,
    contrast,
    words_on,
)

Matrix = tuple[tuple[float, float, float], ...]

VISION: dict[str, Matrix] = {
    "usual": ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
    "protanopia": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deuteranopia": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "tritanopia": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}
PALETTES = {"light": LIGHT, "dark": DARK}
APART = 10.0  # four times a difference that is just seen, 2.3 (Mahy, Van Eycken & Oosterlinck 1994)
STEP_APART = 6.0  # neighbours on a scale of one hue carry their figures as well
TO_XYZ = (  # linear sRGB to XYZ (IEC 61966-2-1)
    (0.4124, 0.3576, 0.1805),
    (0.2126, 0.7152, 0.0722),
    (0.0193, 0.1192, 0.9505),
)
WHITE = (0.9505, 1.0, 1.089)


def times(matrix: Matrix, vector: tuple[float, ...]) -> tuple[float, ...]:
    return tuple(sum(a * b for a, b in zip(row, vector, strict=True)) for row in matrix)


def linear(colour: str) -> tuple[float, ...]:
    shares = (channel / 255 for channel in channels(colour))
    return tuple(c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in shares)


def seen(colour: str, vision: str) -> tuple[float, float, float]:
    """L*, a* and b* of a colour as it is seen."""
    light = tuple(min(max(c, 0.0), 1.0) for c in times(VISION[vision], linear(colour)))
    x, y, z = (
        t ** (1 / 3) if t > (6 / 29) ** 3 else t / (3 * (6 / 29) ** 2) + 4 / 29
        for t in (v / w for v, w in zip(times(TO_XYZ, light), WHITE, strict=True))
    )
    return 116 * y - 16, 500 * (x - y), 200 * (y - z)


def test_lab_of_known_colours() -> None:
    """White, and sRGB red as tabled (Lindbloom, RGB/Lab of the primaries, D65)."""
    assert seen("#FFFFFF", "usual") == pytest.approx((100, 0, 0), abs=0.1)
    assert seen("#FF0000", "usual") == pytest.approx((53.2, 80.1, 67.2), abs=0.2)


def test_the_simulation_leaves_grey_as_it_is() -> None:
    for vision in VISION:
        assert seen("#777777", vision) == pytest.approx(seen("#777777", "usual"), abs=0.1)


@pytest.mark.parametrize("vision", VISION)
@pytest.mark.parametrize("shade", PALETTES)
def test_what_means_different_things_looks_different(shade: str, vision: str) -> None:
    palette = PALETTES[shade]
    groups = (
        LINES,
        (Ink.LEAF, Ink.STONE, Ink.CLAY),
        (STEPS[1], SHORTS[2]),
        (*reversed(SHORTS[1:]), Ink.CARD, *MORES[1:]),
    )
    for group in groups:
        for one, other in combinations(group, 2):
            apart = dist(seen(palette[one], vision), seen(palette[other], vision))
            assert apart >= APART, (one, other, round(apart, 1))


@pytest.mark.parametrize("vision", VISION)
@pytest.mark.parametrize("shade", PALETTES)
@pytest.mark.parametrize("scale", [STEPS, SHORTS, MORES], ids=["much", "short", "more"])
def test_a_scale_goes_one_way_in_steps_that_are_seen(
    scale: tuple[Ink, ...], shade: str, vision: str
) -> None:
    places = [seen(PALETTES[shade][ink], vision) for ink in scale]
    assert all(dist(a, b) >= STEP_APART for a, b in pairwise(places))
    lights = [place[0] for place in places]
    assert lights in (sorted(lights), sorted(lights, reverse=True))


@pytest.mark.parametrize("shade", PALETTES)
def test_words_can_be_read(shade: str) -> None:
    palette: Palette = PALETTES[shade]
    for ground in (Ink.GROUND, Ink.CARD, Ink.BAND):
        for ink in (Ink.TEXT, Ink.QUIET, Ink.LEAF, Ink.CLAY):
            assert contrast(palette[ink], palette[ground]) >= 4.5, (ink, ground)
    for ink in LINES:  # names at the ends of lines
        assert contrast(palette[ink], palette[Ink.GROUND]) >= 4.5, ink
    for ink in (*STEPS, *SHORTS, *MORES, Ink.BAND, Ink.CARD):
        assert contrast(words_on(palette[ink]), palette[ink]) >= 4.5, ink


@pytest.mark.parametrize("shade", PALETTES)
def test_marks_and_outlines_can_be_seen(shade: str) -> None:
    palette = PALETTES[shade]
    for ground in (Ink.GROUND, Ink.CARD):
        for ink in (Ink.LEAF, Ink.CLAY, Ink.STONE, *LINES):
            assert contrast(palette[ink], palette[ground]) >= 3.0, (ink, ground)


def test_contrast_of_black_and_white_is_the_standard_s() -> None:
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.005)
