"""What one factor did within each level of another, with the covariance of those effects."""

from __future__ import annotations

import numpy as np

from trials.stats.design.linear_model import AdjustedMeans
from trials.stats.design.table import PlotTable, Question
from trials.stats.fit.analysis import analyse


def effects_within(
    table: PlotTable, question: Question, factor: str, by: str, levels: tuple[str, str]
) -> AdjustedMeans | None:
    """The adjusted mean at the first of two levels less that at the second, by levels of ``by``.

    None where the layout has no error to judge them by, or combinations are missing.
    """
    analysis = analyse(table, question.scale)
    cells, fit = analysis.structure.cells, analysis.fit
    if fit is None or factor not in cells.factors or by not in cells.factors:
        return None
    places = sorted((cells.factors.index(factor), cells.factors.index(by)))
    term = next((t for t in analysis.structure.terms if list(t.factors) == places), None)
    if term is None or not term.whole:
        return None
    of_factor, of_by = (places.index(cells.factors.index(name)) for name in (factor, by))
    names = cells.levels[cells.factors.index(by)]
    wanted = [cells.levels[cells.factors.index(factor)].index(level) for level in levels]
    at = {(int(row[of_factor]), int(row[of_by])): i for i, row in enumerate(term.codes)}
    weights = np.array(
        [term.weights[at[wanted[0], i]] - term.weights[at[wanted[1], i]] for i in range(len(names))]
    )
    df = fit.df.of_contrasts(weights)
    return AdjustedMeans(
        by, names, weights @ fit.means, weights @ fit.cov @ weights.T, float(df.min())
    )
