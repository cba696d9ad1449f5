"""Which treatments a layout repeats: error degrees of freedom by rank, reasons, and remedies.

Formula: df = rank(all before, and the grouping) - rank(all before), for each random grouping.
Limits: Ranks count what the labels allow; they do not tell how plots were treated in the field.
Source: Searle 1987, Linear Models for Unbalanced Data, chapter 5; Bailey 2008, Design of
    Comparative Experiments, chapter 10.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trials.stats.design.experimental_units import Unit, constant_within
from trials.stats.design.linear_model import Grouping
from trials.stats.design.table import Codes, Floats
from trials.stats.design.terms import Cells
from trials.stats.results import FactorUnits, NotReplicated

FEWEST_BLOCKS = 3


def rank_of(groupings: Sequence[Grouping], covariates: Floats | None = None) -> int:
    """The rank of the indicator columns of ``groupings`` (and of ``covariates``) together."""
    columns = [np.eye(grouping.count)[grouping.codes] for grouping in groupings]
    if covariates is not None:
        spread = np.abs(covariates).max(axis=0)
        columns.append(covariates / np.where(spread > 0, spread, 1.0))
    return int(np.linalg.matrix_rank(np.hstack(columns)))


def error_df(
    fixed: Sequence[Grouping], random: Sequence[Grouping], covariates: Floats | None = None
) -> tuple[int, ...]:
    """Degrees of freedom that each random grouping keeps for its own error.

    What a grouping adds to the rank of the fixed part and of every random grouping that is not
    finer than itself: the error line of its stratum, none where each of its units carries a
    treatment of its own.
    """
    found = []
    for mine in random:
        others = [
            other
            for other in random
            if other is not mine and not constant_within(mine.codes, other)
        ]
        before = [*fixed, *others]
        found.append(rank_of([*before, mine], covariates) - rank_of(before, covariates))
    return tuple(found)


def units_of(cells: Cells, factor: int, unit: str, grouping: Grouping | None) -> FactorUnits:
    """How many units carry each level of a factor; a grouping of None means single plots."""
    codes = cells.codes[cells.grouping.codes, factor]
    if grouping is not None:
        _, first = np.unique(
            codes * grouping.count + grouping.codes, return_index=True
        )  # one row for each unit of each level
        codes = codes[first]
    levels = cells.levels[factor]
    counts = np.bincount(codes, minlength=len(levels))
    return FactorUnits(cells.factors[factor], levels, unit, tuple(int(count) for count in counts))


def not_replicated(factor: FactorUnits) -> NotReplicated:
    """Why a factor without error degrees of freedom cannot be tested, and what would mend it."""
    name, unit, levels = factor.name, factor.unit, len(factor.levels)
    if max(factor.units_per_level) == 1:
        reason = (
            f"Each level of {name} had only one {unit}, so a difference between levels may just "
            f"be a difference between those {unit}s. Measuring more stems or plants in them "
            "does not help."
        )
    else:
        reason = (
            f"Too few {unit}s were treated alike to show how much {unit}s differ by "
            f"chance, so the levels of {name} cannot be tested."
        )
    remedy = (
        f"The cheapest layout that answers it next season: {FEWEST_BLOCKS} blocks, each "
        f"with {levels} {unit}s that get the {levels} levels of {name} at random "
        f"({FEWEST_BLOCKS * levels} {unit}s in all)."
    )
    return NotReplicated(name, reason, remedy)


def confounded(cells: Cells, around: Sequence[Grouping]) -> tuple[tuple[str, ...], ...]:
    """Pairs of factors, or of a factor and a fixed grouping, whose effects cannot be separated.

    ``around`` are the fixed groupings, the larger first: the largest that a factor cannot be told
    from is named. Two classifications fall apart where their levels form groups that never meet;
    the rank of their columns then falls short.
    """
    found: list[tuple[str, ...]] = []
    count = len(cells.factors)
    if not cells.every_combination:
        found += [
            (cells.factors[i], cells.factors[j])
            for i in range(count)
            for j in range(i + 1, count)
            if _falls_apart(cells.codes[:, i], cells.codes[:, j])
        ]
    for i, name in enumerate(cells.factors):
        codes = cells.codes[cells.grouping.codes, i]
        apart = [each.source for each in around if _falls_apart(codes, each.codes)]
        found += [(name, apart[0])] if apart else []
    return tuple(found)


def _falls_apart(a: Codes, b: Codes) -> bool:
    meet = np.zeros((int(a.max()) + 1, int(b.max()) + 1))
    meet[a, b] = 1.0
    if meet.all(axis=0).any() or meet.all(axis=1).any():
        return False
    reached = meet[:1].any(axis=0)
    while True:
        rows = meet[:, reached].any(axis=1)
        further = meet[rows].any(axis=0)
        if (further == reached).all():
            return not bool(rows.all())
        reached = further


def bare_cells(unit: Unit, cells: Cells) -> Codes:
    """The cells (c,) by the treatments that a unit carries: one class a unit of its kind."""
    if not unit.constant:
        return np.zeros(cells.codes.shape[0], dtype=np.intp)
    _, place = np.unique(cells.codes[:, list(unit.constant)], axis=0, return_inverse=True)
    return np.asarray(place, dtype=np.intp)
