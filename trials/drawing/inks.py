"""The colours of pictures by what they mean, for light and for dark, readable to the colour-blind.

``tests/drawing/test_inks.py`` simulates the three kinds of colour blindness and measures contrast.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum


class Ink(StrEnum):
    """What a colour is for; its shade depends on light or dark."""

    GROUND = "ground"
    CARD = "card"
    BAND = "band"
    RULE = "rule"
    TEXT = "text"
    QUIET = "quiet"
    LEAF = "leaf"
    CLAY = "clay"
    STONE = "stone"
    # Lines of several entries; never more of them than can be told apart.
    LINE_1 = "line-1"
    LINE_2 = "line-2"
    LINE_3 = "line-3"
    LINE_4 = "line-4"
    LINE_5 = "line-5"
    LINE_6 = "line-6"
    # From little to much: each step is darker on light paper, lighter on dark.
    STEP_1 = "step-1"
    STEP_2 = "step-2"
    STEP_3 = "step-3"
    STEP_4 = "step-4"
    STEP_5 = "step-5"
    STEP_6 = "step-6"
    # What cannot be sold or lies below: the further, the stronger.
    SHORT_1 = "short-1"
    SHORT_2 = "short-2"
    SHORT_3 = "short-3"
    # What lies above, where it has to be told from what lies below: the further, the stronger.
    MORE_1 = "more-1"
    MORE_2 = "more-2"
    MORE_3 = "more-3"
    # Words on a filled place.
    ON_DARK = "on-dark"
    ON_LIGHT = "on-light"


LINES = (Ink.LINE_1, Ink.LINE_2, Ink.LINE_3, Ink.LINE_4, Ink.LINE_5, Ink.LINE_6)
STEPS = (Ink.STEP_1, Ink.STEP_2, Ink.STEP_3, Ink.STEP_4, Ink.STEP_5, Ink.STEP_6)
SHORTS = (Ink.SHORT_1, Ink.SHORT_2, Ink.SHORT_3)
MORES = (Ink.MORE_1, Ink.MORE_2, Ink.MORE_3)

Palette = Mapping[Ink, str]

LIGHT: Palette = {
    Ink.GROUND: "#FBF8F1",
    Ink.CARD: "#FFFDF8",
    Ink.BAND: "#F1EADB",
    Ink.RULE: "#D9D0BC",
    Ink.TEXT: "#22301F",
    Ink.QUIET: "#515B4A",
    Ink.LEAF: "#1E5B3A",
    Ink.CLAY: "#9A4318",
    Ink.STONE: "#857E6B",
    Ink.LINE_1: "#00603F",
    Ink.LINE_2: "#B4520A",
    Ink.LINE_3: "#2C6FB5",
    Ink.LINE_4: "#9C2A7A",
    Ink.LINE_5: "#111111",
    Ink.LINE_6: "#481845",
    Ink.STEP_1: "#EADFA6",
    Ink.STEP_2: "#C3C77F",
    Ink.STEP_3: "#8FAE6A",
    Ink.STEP_4: "#467A49",
    Ink.STEP_5: "#2B6943",
    Ink.STEP_6: "#0F3F28",
    Ink.SHORT_1: "#F0D3C2",
    Ink.SHORT_2: "#D49A79",
    Ink.SHORT_3: "#A8531F",
    Ink.MORE_1: "#CBDDEF",
    Ink.MORE_2: "#86B0DA",
    Ink.MORE_3: "#24588F",
    Ink.ON_DARK: "#FFFDF8",
    Ink.ON_LIGHT: "#16210F",
}
DARK: Palette = {
    Ink.GROUND: "#161C15",
    Ink.CARD: "#1F271D",
    Ink.BAND: "#2A3327",
    Ink.RULE: "#414C3C",
    Ink.TEXT: "#EDEBDD",
    Ink.QUIET: "#B9BEAA",
    Ink.LEAF: "#8CCB9B",
    Ink.CLAY: "#F0A070",
    Ink.STONE: "#938F7C",
    Ink.LINE_1: "#4FB286",
    Ink.LINE_2: "#F08A3C",
    Ink.LINE_3: "#7FB8F5",
    Ink.LINE_4: "#E459AF",
    Ink.LINE_5: "#F4F1E6",
    Ink.LINE_6: "#E8D44D",
    Ink.STEP_1: "#37412C",
    Ink.STEP_2: "#4F6138",
    Ink.STEP_3: "#7A9550",
    Ink.STEP_4: "#90AB5D",
    Ink.STEP_5: "#B8CE7E",
    Ink.STEP_6: "#E6F0B0",
    Ink.SHORT_1: "#4F372A",
    Ink.SHORT_2: "#8A5636",
    Ink.SHORT_3: "#E8823F",
    Ink.MORE_1: "#24384F",
    Ink.MORE_2: "#35608F",
    Ink.MORE_3: "#8DBEF2",
    Ink.ON_DARK: "#FFFDF8",
    Ink.ON_LIGHT: "#16210F",
}


def channels(colour: str) -> tuple[int, int, int]:
    """Red, green and blue of '#RRGGBB', each 0 to 255."""
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def luminance(colour: str) -> float:
    """Relative luminance, 0 to 1 (WCAG 2.2, from IEC 61966-2-1)."""
    linear = [
        c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4
        for c in (channel / 255 for channel in channels(colour))
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """The contrast ratio of two colours, 1 to 21 (WCAG 2.2)."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def words_on(fill: str) -> str:
    """The colour for words on a filled place: whichever of two contrasts more."""
    return max((LIGHT[Ink.ON_DARK], LIGHT[Ink.ON_LIGHT]), key=lambda ink: contrast(ink, fill))
