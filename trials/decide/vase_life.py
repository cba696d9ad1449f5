"""How long a variety's stems last in the vase, from the tests of its plots.

Formula: mean over plots of each plot's mean days; limits mean ± t × s / sqrt(plots), s the SD of
    plots within variety and trial, pooled over all of them.
Limits: Trials are pooled as they come: varieties tested in different seasons differ by season too.
    What no test says is not known, and nothing is assumed in its place.
Source: Snedecor & Cochran 1989, Statistical Methods, section 6.6.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from scipy.stats import t as student


@dataclass(frozen=True, slots=True)
class VaseTest:
    """The mean days that the stems of one plot lasted."""

    trial: str
    plot: str
    variety: str
    days: float


@dataclass(frozen=True, slots=True)
class VaseLife:
    """A variety's mean days in the vase over ``plots`` plots.

    The 95% limits are None where no variety has two plots of a trial.
    """

    variety: str
    days: float
    low: float | None
    high: float | None
    plots: int
    trials: tuple[str, ...]


def vase_lives(tests: Iterable[VaseTest], coverage: float = 0.95) -> tuple[VaseLife, ...]:
    """The vase life of each variety tested, the longest first."""
    by: dict[str, dict[str, list[float]]] = {}
    for test in tests:
        by.setdefault(test.variety, {}).setdefault(test.trial, []).append(test.days)
    groups = [np.array(days) for of_trial in by.values() for days in of_trial.values()]
    df = sum(len(days) - 1 for days in groups)
    squares = sum(float(((days - days.mean()) ** 2).sum()) for days in groups)
    found = []
    for variety, of_trial in by.items():
        days = np.concatenate([np.array(one) for one in of_trial.values()])
        mean, low, high = float(days.mean()), None, None
        if df:
            error = (squares / df / len(days)) ** 0.5
            half = float(student.ppf(0.5 + coverage / 2, df)) * error
            low, high = max(mean - half, 0.0), mean + half
        found.append(VaseLife(variety, mean, low, high, len(days), tuple(sorted(of_trial))))
    return tuple(sorted(found, key=lambda one: (-one.days, one.variety)))
