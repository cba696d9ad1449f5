"""From figures to places: round ticks, straight scales, the width of words and their lines."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from trials.drawing.picture import TEXT_PX

_NARROW = frozenset("ijlftrI.,:;'|!()[]/ ")
_WIDE = frozenset("mwMW@%—…")


@dataclass(frozen=True, slots=True)
class Scale:
    """Figures from ``low`` to ``high`` on a line of pixels from ``start`` to ``end``."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """The pixel of a figure."""
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)

    def ticks(self, most: int = 5) -> tuple[float, ...]:
        """Round figures within the scale, at most that many."""
        return round_ticks(self.low, self.high, most)


def scale_over(values: Sequence[float], start: float, end: float, room: float = 0.06) -> Scale:
    """A scale that holds all the values, with room at both ends as a share of their span."""
    low, high = min(values), max(values)
    span = (high - low) or abs(high) or 1.0
    return Scale(low - room * span, high + room * span, start, end)


def round_ticks(low: float, high: float, most: int = 5) -> tuple[float, ...]:
    """Multiples of 1, 2 or 5 times a power of ten between two figures."""
    if not (math.isfinite(low) and math.isfinite(high)) or high <= low:
        return ()
    power = 10.0 ** math.floor(math.log10((high - low) / most))
    step = next(s * power for s in (1, 2, 5, 10, 20) if (high - low) / (s * power) <= most)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return tuple(n * step for n in range(first, last + 1))


def tick_words(ticks: Sequence[float], *, signed: bool = False) -> tuple[str, ...]:
    """The ticks in as few decimals as tell them apart; ``signed`` gives each its sign."""
    step = min((b - a for a, b in pairwise(ticks)), default=1.0)
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    return tuple(_tick(round(tick, decimals) + 0.0, decimals, signed=signed) for tick in ticks)


def _tick(tick: float, decimals: int, *, signed: bool) -> str:
    """A figure with a real minus sign; none, nor a plus, at nothing."""
    size = f"{abs(tick):,.{decimals}f}"
    if tick == 0:
        return size
    return f"\u2212{size}" if tick < 0 else f"+{size}" if signed else size


def width_px(text: str, size: float = TEXT_PX, *, bold: bool = False) -> float:
    """How wide a line of words is at most, in any of the plain types that a device may have."""
    ems = 0.0
    for c in text:
        if unicodedata.combining(c):
            continue
        if unicodedata.east_asian_width(c) in "WF":
            ems += 1.0
        elif c in _NARROW:
            ems += 0.37
        elif c in _WIDE:
            ems += 0.97
        else:
            ems += 0.71 if c.isupper() else 0.61
    return ems * size * (1.1 if bold else 1.0)


def lines_of(text: str, room_px: float, size: float = TEXT_PX, most: int = 3) -> tuple[str, ...]:
    """The text in lines that fit the room; what needs more than ``most`` ends in an ellipsis."""
    lines: list[str] = []
    for word in shown(text).split(" "):
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and width_px(joined, size) <= room_px:
            lines[-1] = joined
            continue
        rest = word
        while width_px(rest, size) > room_px and len(rest) > 1:
            cut = next(
                (n for n in range(len(rest) - 1, 0, -1) if width_px(rest[:n], size) <= room_px), 1
            )
            lines.append(rest[:cut])
            rest = rest[cut:]
        lines.append(rest)
    if len(lines) > most:
        lines = [*lines[: most - 1], f"{lines[most - 1][:-1].rstrip()}…"]
    return tuple(lines) or ("",)


def shown(text: str) -> str:
    """The text on one line without characters that cannot be seen or turn the direction."""
    seen = (" " if c.isspace() else c for c in text)
    kept = "".join(c for c in seen if unicodedata.category(c) not in {"Cc", "Cf", "Cs"})
    return " ".join(kept.split())


def apart(places: Sequence[float], gap: float, low: float, high: float) -> tuple[float, ...]:
    """Places moved as little as it takes to lie at least ``gap`` apart between two ends.

    In the order given, which need not be theirs. Where there is no room for all, the gap shrinks.
    """
    if not places:
        return ()
    gap = min(gap, (high - low) / max(len(places) - 1, 1))
    order = sorted(range(len(places)), key=lambda i: places[i])
    moved: list[float] = []
    for i in order:
        moved.append(max(places[i], low if not moved else moved[-1] + gap))
    for n in range(len(moved) - 1, -1, -1):
        moved[n] = min(moved[n], high if n == len(moved) - 1 else moved[n + 1] - gap)
    found = dict(zip(order, moved, strict=True))
    return tuple(found[i] for i in range(len(places)))
