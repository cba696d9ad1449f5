"""Levels with no stem at all, or a share of none or all: an exact bound instead of an error.

Such a level has no spread to make an interval of, and on a log or logit scale no estimate at all.
What its numbers still leave room for is exact: with n plants and no stem the rate is below
-log(alpha) / n (Garwood 1936, Biometrika 28:437; 'three over n' at 0.05: Hanley & Lippman-Hand
1983, J. Amer. Med. Assoc. 249:1743), a share of none below 1 - alpha^(1/n) and of all above
alpha^(1/n) (Clopper & Pearson 1934, Biometrika 26:404), each one-sided. That takes the stems for
independent; where the other plots vary more than chance counts, the number counts for as many
times less.

Formula: rate < -log(alpha) / n; share < 1 - alpha^(1/n), or > alpha^(1/n) where it was all.
Limits: A one-sided bound for one level; it says nothing of the difference to another.
Source: Garwood 1936, Biometrika 28:437; Clopper & Pearson 1934, Biometrika 26:404; Hanley &
    Lippman-Hand 1983.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from trials.stats.checks.counts import count_test, whole_counts
from trials.stats.design.design_matrix import indicators
from trials.stats.design.table import Floats
from trials.stats.design.terms import levels_of
from trials.stats.fit.analysis import Analysis
from trials.stats.results import NoneFound

SHARE = "share"


def none_found(analysis: Analysis, alpha: float) -> tuple[NoneFound, ...]:
    """The levels, and combinations of levels, of which none (or all) were counted.

    Empty where the table has no numbers to count by (``plants``), or the measure times its plants
    is no whole number.
    """
    structure, table = analysis.structure, analysis.plots.table
    y = table.y[structure.rows]
    share = table.unit == SHARE
    if table.plants is None or not ((y == 0).any() or (share and (y == 1).any())):
        return ()
    plants = table.plants[structure.rows]
    counts = whole_counts(y, plants)
    if counts is None or (share and (counts > plants).any()):
        return ()
    cell = structure.cells.grouping.codes
    found: list[NoneFound] = []
    for term in structure.terms:
        for codes, weights in zip(term.codes, term.weights, strict=True):
            rows = (weights > 0)[cell]
            levels = levels_of(structure.cells, term.factors, codes)
            if any(set(each.levels) <= set(levels) for each in found):
                continue  # said of the larger part already
            number = float(plants[rows].sum())
            if not counts[rows].any():
                full = False
            elif share and (counts[rows] == plants[rows]).all():
                full = True
            else:
                continue
            dispersion = _dispersion(analysis, counts, plants, ~rows, share=share)
            spread = number if dispersion is None else number / max(dispersion, 1.0)
            found.append(
                NoneFound(
                    levels=levels,
                    number=number,
                    every=full,
                    bound=_bound(number, alpha, share=share, every=full),
                    dispersion=dispersion,
                    allowing=_bound(spread, alpha, share=share, every=full),
                )
            )
    return tuple(found)


def _bound(number: float, alpha: float, *, share: bool, every: bool) -> float:
    if not share:
        return -float(np.log(alpha)) / number
    reached = float(alpha ** (1.0 / number))
    return reached if every else 1.0 - reached


def _dispersion(
    analysis: Analysis, counts: Floats, plants: Floats, rows: NDArray[np.bool_], *, share: bool
) -> float | None:
    """Pearson's variance of the other plots over that of chance; None where nothing tells it."""
    counts, plants = counts[rows], plants[rows]
    cells = indicators(analysis.model.cells)[rows]
    cells = cells[:, cells.any(axis=0)]
    if share:
        mean = plants * (cells @ ((counts @ cells) / (plants @ cells)))
        chance = mean * (1.0 - mean / plants)
        judged = chance > 0
        df = int(np.count_nonzero(judged)) - int(np.linalg.matrix_rank(cells[judged]))
        if df < 1:
            return None
        return float(np.sum((counts - mean)[judged] ** 2 / chance[judged])) / df
    beside = [np.ones((counts.size, 1))]
    beside += [indicators(grouping)[rows] for grouping in analysis.model.fixed]
    tested = count_test(counts, plants, cells, np.hstack(beside))
    return None if tested is None else tested.dispersion
