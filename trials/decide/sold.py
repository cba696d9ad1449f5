"""Where a winter plan's stems go: what each market gets by week, and what each sowing brings.

The sale of each week and drawn season that `sales` values, solved for its amounts: a transportation
problem (Hitchcock 1941, J. Math. Phys. 20:224), all seasons of a week in one linear programme.

Formula: maximise sum of price × stems sold, with the stems of each sowing sold at most once and
    each market's stems between what it wants and what it takes.
Limits: Stems are sold in the week they are cut; what no market takes is worth nothing.
Source: Hitchcock 1941, J. Math. Phys. 20:224.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trials.decide.sales import Week, sales
from trials.decide.winter import WinterPlan

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Sold:
    """Means over the drawn seasons.

    ``stems`` and ``missing`` (outlets, weeks) are the stems sold, and those that lack from what is
    wanted at least. ``by_crop`` (crops) is what the stems of each crop of the plan bring;
    ``charges`` what missing stems cost in all.
    """

    stems: Floats
    missing: Floats
    by_crop: Floats
    charges: float


def sold(plan: WinterPlan) -> Sold:
    """The sales of a plan; less ``charges`` and costs they are its expected net."""
    winter, metres = plan.winter, plan.metres
    weeks = winter.crops[0].stems.shape[2]
    stems = np.zeros((len(winter.outlets), weeks))
    missing = np.stack([outlet.at_least for outlet in winter.outlets]).astype(np.float64)
    by_crop = np.zeros(len(winter.crops))
    charges = 0.0
    for week in sales(winter):
        amounts, crops = _week(week, metres)
        of = np.array([part.outlet for part in week.parts], dtype=np.intp)
        extra = np.array([part.extra for part in week.parts])
        taken = np.zeros((len(amounts), len(winter.outlets)))
        np.add.at(taken.T, of, amounts.sum(axis=1).T)
        stems[:, week.number] += taken.mean(axis=0)
        here = sorted(set(of.tolist()))
        least = np.array([winter.outlets[o].at_least[week.number] for o in here])
        missing[here, week.number] = np.maximum(least - taken[:, here], 0.0).mean(axis=0)
        charges += week.charge - float((amounts.sum(axis=1) * extra).sum(axis=1).mean())
        brings = np.where(np.isnan(week.prices), 0.0, week.prices - extra)
        by_crop[week.places] += np.einsum("dkm,km,dkj->j", amounts, brings, crops) / len(amounts)
    return Sold(stems, missing, by_crop, charges)


def _week(week: Week, metres: Floats) -> tuple[Floats, Floats]:
    """The stems sold (draws, classes, parts), and each crop's share of a class's stems.

    The shares are (draws, classes, crops): stems of one class are sold alike, whose they are.
    """
    own = week.yields * metres[week.places]
    stems = own.sum(axis=2)
    shares = np.divide(own, stems[:, :, None], out=np.zeros_like(own), where=stems[:, :, None] > 0)
    if not stems.any():
        return np.zeros((*stems.shape, len(week.parts))), shares
    return _best_sale(stems, week.prices, week.room), shares


def _best_sale(stems: Floats, prices: Floats, room: Floats) -> Floats:
    """The sale of each row of ``stems`` (rows, classes) that brings the most."""
    from scipy.optimize import linprog
    from scipy.sparse import eye_array, kron, vstack

    (rows, classes), parts = stems.shape, len(room)
    of_stems = kron(eye_array(classes), np.ones((1, parts)))
    of_room = kron(np.ones((1, classes)), eye_array(parts))
    allowed = ~np.isnan(prices)
    found = linprog(
        -np.tile(np.where(allowed, prices, 0.0).ravel(), rows),
        A_ub=vstack([kron(eye_array(rows), of_stems), kron(eye_array(rows), of_room)]).tocsr(),
        b_ub=np.concatenate([stems.ravel(), np.tile(room, rows)]),
        bounds=[(0.0, None if each else 0.0) for each in np.tile(allowed.ravel(), rows)],
        method="highs",
    )
    if found.x is None:
        raise RuntimeError(f"a week's sale was not solved: {found.message}")
    return np.asarray(found.x.reshape(rows, classes, parts), dtype=np.float64)
