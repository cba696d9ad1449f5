"""What the program says and draws of the invented farm, as text: one entry of ``OUTPUTS`` each.

``python -m tests.output`` writes all of it to ``tests/kept_output``, after a change that was meant
to change what people read; the difference to what was kept shows every place that it touched. It is
no proof that anything is right.
"""

from __future__ import annotations

import re
from pathlib import Path

from tests.output import commands, many, network, printed, reports, season, seed, winter
from tests.output.registry import OUTPUTS, ROOT

__all__ = ["KEPT", "OUTPUTS", "differences", "text_of"]

# Each adds its own as it is imported.
_MADE_BY = (commands, many, network, printed, reports, season, seed, winter)
KEPT = Path(__file__).parents[1] / "kept_output"

_WHEN = re.compile(
    r"\d{8}-\d{6}|\d{4}-\d\d-\d\d[ T]\d\d:\d\d(:\d\d(\.\d+)?)?([+-]\d\d:\d\d|Z)?"
    r"|(?<= at )\d\d:\d\d(?=: )"
)
_NUMBER = re.compile(r"\d+\.\d+")


def text_of(name: str, store: Path) -> str:
    """An output, without what differs from one farm's making to the next: places and times."""
    text = OUTPUTS[name](store).replace(str(store), "STORE").replace(str(ROOT), "ROOT")
    lines = _WHEN.sub("WHEN", text).replace("\r\n", "\n").splitlines()
    return "\n".join(line.rstrip() for line in lines) + "\n"


def differences(kept: str, now: str) -> list[str]:
    """The lines that are not the same; the last digit of a fraction may differ by one."""
    before, after = kept.splitlines(), now.splitlines()
    found = [f"- {a}\n+ {b}" for a, b in zip(before, after, strict=False) if not _same(a, b)]
    if len(before) != len(after):
        found.append(f"{len(before)} lines were kept, and now there are {len(after)}")
    return found


def _same(kept: str, now: str) -> bool:
    if kept == now:
        return True
    if _NUMBER.sub("#", kept) != _NUMBER.sub("#", now):
        return False
    pairs = zip(_NUMBER.findall(kept), _NUMBER.findall(now), strict=True)
    return all(_near(a, b) for a, b in pairs)


def _near(kept: str, now: str) -> bool:
    """Processors differ in the last digits of what they calculate, and so do what is rounded."""
    a, b = float(kept), float(now)
    decimals = min(len(kept.partition(".")[2]), len(now.partition(".")[2]), 6)
    return abs(a - b) <= max(1.01 * 10.0**-decimals, 1e-6 * abs(a))
