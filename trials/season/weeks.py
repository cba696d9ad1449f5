"""The weeks of a year (ISO) as places of arrays."""

from __future__ import annotations

from datetime import date

import numpy as np
from numpy.typing import NDArray

WEEKS = 53


def week_of(day: date) -> int:
    """The place of a day's week."""
    return day.isocalendar().week - 1


def weeks_between(first: int, last: int) -> NDArray[np.bool_]:
    """The weeks from the first to the last, both included and counted from 1 on."""
    weeks = np.zeros(WEEKS, dtype=bool)
    weeks[first - 1 : last] = True
    return weeks
