"""Many comparisons at once: one set of sums and one set of integrals for each layout they share.

The figures are those of ``trials.stats.compare`` for each trial and measure; what cannot be shared
(larger units, layouts that are not replicated, figures that allow no test) is compared by itself.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trials.errors import ComparisonRefused, TallybedError
from trials.pool.family_rows import Asked, Solved, Writer, check_place, left_out_of
from trials.pool.layouts import Factored, Layouts, Ordered
from trials.pool.result_rows import Rows, Single, add_refusal
from trials.stats.comparison import adjusted_means, compare
from trials.stats.design.scale import margin_on
from trials.stats.design.table import Scale


def compare_all(asked: Sequence[Asked], rows: Rows, layouts: Layouts) -> None:
    """Add every comparison to ``rows``, those of one layout together."""
    shared: dict[object, list[tuple[Asked, Ordered]]] = {}
    for each in asked:
        if each.question.scale is not Scale.IDENTITY or not np.isfinite(each.table.y).any():
            _by_itself(each, rows)
            continue
        ordered = Ordered.of(each.table)
        question = each.question
        key = (ordered.key, question.alpha, question.better, check_place(each), left_out_of(each))
        shared.setdefault(key, []).append((each, ordered))
    for members in shared.values():
        first, ordered = members[0]
        layout = layouts.factored(ordered, first.table)
        alone = (
            [each for each, _ in members] if layout is None else _together(members, layout, rows)
        )
        for each in alone:
            _by_itself(each, rows)


def _by_itself(each: Asked, rows: Rows) -> None:
    try:
        found = compare(each.table, each.question)
    except TallybedError as refusal:
        add_refusal(rows, each.trial, each.measure, str(refusal))
        return
    adjusted = []
    for treatment in each.table.treatments:
        try:
            adjusted.append(adjusted_means(each.table, each.question, treatment.name))
        except ComparisonRefused:
            continue  # the layout cannot compare this factor, which the comparison says
    Single(each.trial, each.measure, found, tuple(adjusted)).add_to(rows)


def _together(
    members: Sequence[tuple[Asked, Ordered]], layout: Factored, rows: Rows
) -> list[Asked]:
    """Add what can be found together; the rest is returned, to be compared one by one."""
    y = np.stack([each.table.y[o.order][o.recorded] for each, o in members], axis=1)
    centre = y.mean(axis=0)
    coordinates = layout.space.T @ (y - centre)
    residuals = y - centre - layout.space @ coordinates
    rounding = 64 * np.finfo(float).eps * np.abs(y).max(axis=0)
    spread = np.sqrt(np.mean(residuals**2, axis=0)) > rounding
    fit = [
        bool(varies) and (each.question.check is None or check_place(each) is not None)
        for (each, _), varies in zip(members, spread, strict=True)
    ]
    kept = np.flatnonzero(fit)
    alone = [each for (each, _), together in zip(members, fit, strict=True) if not together]
    if not kept.size:
        return alone
    asked = tuple(members[i][0] for i in kept.tolist())
    grand = centre[kept]
    margins = [
        margin_on(each.question.margin, mean, Scale.IDENTITY)
        for each, mean in zip(asked, grand.tolist(), strict=True)
    ]
    solved = Solved(
        layout,
        asked,
        layout.solve @ coordinates[:, kept] + grand,
        (residuals[:, kept] ** 2).sum(axis=0) / layout.residual_df,
        grand,
        np.array([np.nan if each is None else each for each in margins]),
    )
    Writer.of(solved, rows).write()
    return alone
