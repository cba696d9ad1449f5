"""What slower methods say beside the main analysis: dealing again, leaving plots out, counting."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from trials.errors import ComparisonRefused
from trials.stats.checks.count_opinion import Counted, count_opinion
from trials.stats.checks.counts import whole_counts
from trials.stats.checks.diagnostics import (
    NO_JOINT_TEST,
    fragile,
    lacks_without,
    p_by_refitting,
    with_check,
)
from trials.stats.checks.randomisation import Redrawn, not_dealt, redrawn, second_opinion
from trials.stats.checks.zero_counts import SHARE
from trials.stats.design.linear_model import Grouping, LinearModel
from trials.stats.design.table import Codes, PlotTable, Question
from trials.stats.fit.analysis import Analysis, analyse, fit_of, joint_test
from trials.stats.fit.left_out import fitted_without_each
from trials.stats.fit.unequal_variances import unequal_variances
from trials.stats.results import Comparison, Method, Pair
from trials.stats.what_was_tested import Diagnostic, FragileVerdict, SecondOpinion, Solid

# Beyond this many plots, no single one is worth the many fits that would show it.
MOST_PLOTS_LEFT_OUT = 150


def second_opinions(table: PlotTable, question: Question, comparison: Comparison) -> Comparison:
    """The same comparison with what slower methods say of it.

    Fills ``solid.randomisation`` and each pair's ``chance_by_randomisation``;
    ``solid.count_model`` where the measure is a count (for each plant or metre, or for each plot
    where ``plants`` are 1), or a share, and the table has ``plants``; ``solid.unequal_variances``
    where the variances were found to be unequal; and, where the model has larger units,
    ``solid.fragile`` by fitting again without each plot in turn. Takes from a tenth of a second
    to some seconds.
    """
    analysis = analyse(table, question.scale)
    if analysis.fit is None:
        return comparison
    dealt = redrawn(analysis.structure, analysis.model.y, comparison.tests)
    solid = replace(
        comparison.solid,
        randomisation=second_opinion(dealt, comparison.tests, question.alpha),
        not_dealt=tuple(
            (each.term, each.why)
            for each in not_dealt(analysis.structure, analysis.model.y, comparison.tests, dealt)
        ),
    )
    solid = with_check(
        solid, Diagnostic.RANDOMISATION, _lacks_randomisation(solid, comparison, question.alpha)
    )
    counted = _count_model(analysis, comparison)
    if counted is not None:
        solid = with_check(replace(solid, count_model=counted), Diagnostic.COUNTS, "")
    if comparison.method is not Method.LEAST_SQUARES:
        turned, lacks = _fragile(analysis, comparison)
        solid = with_check(replace(solid, fragile=turned), Diagnostic.LEAVE_ONE_OUT, lacks)
    if solid.equal_spread is not None and not solid.equal_spread.sound:
        solid = _with_unequal_variances(solid, analysis, comparison)
    return replace(
        comparison,
        solid=solid,
        all_pairs=tuple(_with_chance(pair, dealt, analysis) for pair in comparison.all_pairs),
    )


def _lacks_randomisation(solid: Solid, comparison: Comparison, alpha: float) -> str:
    """What keeps the randomisation test from saying anything; '' where it can."""
    if not comparison.tests:
        return NO_JOINT_TEST
    opinion = solid.randomisation
    if opinion is None:
        return "the layout does not allow it for any tested term"
    if opinion.able(alpha):
        return ""
    best = min(p for _, p in opinion.at_best)
    return f"with so few possible randomisations its p-value cannot fall below {best:.3g}"


def _with_unequal_variances(solid: Solid, analysis: Analysis, comparison: Comparison) -> Solid:
    found = unequal_variances(analysis, comparison)
    if isinstance(found, str):
        return with_check(solid, Diagnostic.UNEQUAL_VARIANCES, found)
    return with_check(replace(solid, unequal_variances=found), Diagnostic.UNEQUAL_VARIANCES, "")


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


def _fragile(analysis: Analysis, comparison: Comparison) -> tuple[tuple[FragileVerdict, ...], str]:
    """Verdicts that turn without one plot, and what stands in the way of looking."""
    structure, model = analysis.structure, analysis.model
    if not comparison.tests:
        return (), NO_JOINT_TEST
    if model.y.size > MOST_PLOTS_LEFT_OUT:
        return (), f"it is not tried with more than {MOST_PLOTS_LEFT_OUT} plots in larger units"
    tested = {test.term: test.p for test in comparison.tests}
    terms = [term for term in structure.terms if term.name in tested]

    def refit(rows: Codes) -> list[float | None]:
        left = without(model, rows)
        if left is None:
            return [None] * len(terms)
        try:
            fit = fit_of(left)
        except ComparisonRefused:  # nothing is left to judge by without this plot
            return [None] * len(terms)
        tests = [joint_test(structure, fit, term) for term in terms]
        return [None if test is None else test.p for test in tests]

    each_left_out = np.full((model.y.size, len(terms)), np.nan)
    at_once = fitted_without_each(model, [term.contrasts for term in terms])
    each_left_out[at_once.plots] = at_once.p
    others = np.setdiff1d(np.arange(model.y.size), at_once.plots)
    if others.size:
        each_left_out[others] = p_by_refitting(model.y.size, others, refit)
    turned = fragile(list(tested.items()), each_left_out, analysis.plot_names, comparison.alpha)
    return turned, lacks_without(each_left_out)


def without(model: LinearModel, rows: Codes) -> LinearModel | None:
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
