"""What slower methods say beside the main analysis: dealing again, leaving plots out, counting."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from trials.errors import ComparisonRefused
from trials.stats.analysis import Analysis, analyse, fit_of, joint_test
from trials.stats.count_opinion import Counted, count_opinion
from trials.stats.counts import whole_counts
from trials.stats.model import Grouping, LinearModel
from trials.stats.none_found import SHARE
from trials.stats.randomisation import Redrawn, not_dealt, redrawn, second_opinion
from trials.stats.results import Comparison, FragileVerdict, Method, Pair, SecondOpinion
from trials.stats.solid import fragile, p_by_refitting
from trials.stats.table import Codes, PlotTable, Question

# Beyond this many plots, no single one is worth the many fits that would show it.
MOST_PLOTS_LEFT_OUT = 150


def second_opinions(table: PlotTable, question: Question, comparison: Comparison) -> Comparison:
    """The same comparison with what slower methods say of it.

    Fills ``solid.randomisation`` and each pair's ``chance_by_randomisation``;
    ``solid.count_model`` where the measure is a count for each plant (or metre), or a share, and
    the table has ``plants``; and, where larger units stand in the model, ``solid.fragile``
    by fitting again without each plot in turn. Takes from a tenth of a second to some seconds.
    """
    analysis = analyse(table, question.scale)
    if analysis.fit is None:
        return comparison
    dealt = redrawn(analysis.structure, analysis.model.y, comparison.tests)
    solid = replace(
        comparison.solid,
        randomisation=second_opinion(dealt, comparison.tests, question.alpha),
        count_model=_count_model(analysis, comparison),
        not_dealt=tuple(
            (each.term, each.why)
            for each in not_dealt(analysis.structure, analysis.model.y, comparison.tests, dealt)
        ),
    )
    if comparison.method is not Method.LEAST_SQUARES:
        solid = replace(solid, fragile=_fragile(analysis, comparison))
    return replace(
        comparison,
        solid=solid,
        all_pairs=tuple(_with_chance(pair, dealt, analysis) for pair in comparison.all_pairs),
    )


def _count_model(analysis: Analysis, comparison: Comparison) -> SecondOpinion | None:
    """The count model, None where the measure times its plants is no whole number."""
    structure = analysis.structure
    plants = analysis.plots.table.plants
    if plants is None or not comparison.tests:
        return None
    plants = plants[structure.rows]
    counts = whole_counts(analysis.plots.table.y[structure.rows], plants)  # on whatever scale
    if counts is None:
        return None
    share = analysis.plots.table.unit == SHARE
    if share and (counts > plants).any():
        return None
    counted = Counted.SHARES if share else Counted.STEMS
    return count_opinion(structure, counts, plants, comparison.tests, comparison.alpha, counted)


def _with_chance(pair: Pair, dealt: tuple[Redrawn, ...], analysis: Analysis) -> Pair:
    if pair.within:
        return pair
    cells = analysis.structure.cells
    for each in dealt:
        if each.term == pair.term and each.chances is not None:
            levels = cells.levels[cells.factors.index(each.term)]
            a, b = levels.index(pair.a[0][1]), levels.index(pair.b[0][1])
            return replace(pair, chance_by_randomisation=float(each.chances[a, b]))
    return pair


def _fragile(analysis: Analysis, comparison: Comparison) -> tuple[FragileVerdict, ...]:
    structure, model = analysis.structure, analysis.model
    if model.y.size > MOST_PLOTS_LEFT_OUT:
        return ()
    tested = {test.term: test.p for test in comparison.tests}
    terms = [term for term in structure.terms if term.name in tested]

    def refit(rows: Codes) -> list[float | None]:
        left = _without(model, rows)
        if left is None:
            return [None] * len(terms)
        try:
            fit = fit_of(left)
        except ComparisonRefused:  # nothing is left to judge by without this plot
            return [None] * len(terms)
        tests = [joint_test(structure, fit, term) for term in terms]
        return [None if test is None else test.p for test in tests]

    without = p_by_refitting(model.y.size, refit)
    return fragile(list(tested.items()), without, analysis.plot_names, comparison.alpha)


def _without(model: LinearModel, rows: Codes) -> LinearModel | None:
    """The model of some of the plots; None where a cell would be left without any."""

    def some(grouping: Grouping) -> Grouping:
        return replace(grouping, codes=grouping.codes[rows])

    cells = some(model.cells)
    if np.bincount(cells.codes, minlength=cells.count).min() == 0:
        return None
    return LinearModel(
        model.y[rows],
        cells,
        tuple(some(grouping) for grouping in model.fixed),
        tuple(some(grouping) for grouping in model.random),
        None if model.covariates is None else model.covariates[rows],
    )
