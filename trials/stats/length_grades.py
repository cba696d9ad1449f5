"""How the graded stems of each level are spread over the length grades."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trials.stats.design.table import Floats, Labels


@dataclass(frozen=True, slots=True)
class GradeShare:
    """A level's stems of one length grade.

    ``grade_cm`` is the shortest length of the grade. ``stems_per_plant`` is the mean over the
    level's plots; ``share`` is of the level's stems of all grades, None where it had none.
    """

    level: str
    grade_cm: float
    stems_per_plant: float
    share: float | None


def grade_shares(
    levels: Labels, grades_cm: Sequence[float], stems: Floats, plants: Floats
) -> tuple[GradeShare, ...]:
    """Each level's stems per plant by length grade, levels in their order, shortest grade first.

    ``stems`` (n, g) are the graded stems of each plot by grade, ``plants`` (n,) those living;
    a plot where either is NaN, or without plants, is left out, and so is a level without plots.
    Plots weigh alike, as they do in a comparison, so that the saleable grades of a level add
    up to the plain mean of its stems per plant.
    """
    known = np.isfinite(stems).all(axis=1) & (plants > 0)
    per_plant = np.divide(
        stems, plants[:, None], out=np.full(stems.shape, np.nan), where=known[:, None]
    )
    found = []
    for code, level in enumerate(levels.levels):
        rows = known & (levels.codes == code)
        if not rows.any():
            continue
        means = per_plant[rows].mean(axis=0)
        total = float(means.sum())
        found += [
            GradeShare(level, float(grade), float(mean), float(mean) / total if total else None)
            for grade, mean in zip(grades_cm, means, strict=True)
        ]
    return tuple(found)
