"""Everything that one measure of one trial can honestly be made to say."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from trials.errors import ComparisonRefused, UnknownName
from trials.model.trial import Better
from trials.stats import families
from trials.stats.checks.cautions import cautions_of
from trials.stats.checks.diagnostics import (
    NO_JOINT_TEST,
    fragile,
    lacks_without,
    p_without_each,
    residual_checks,
    with_check,
)
from trials.stats.checks.efficiency import (
    cv_percent,
    relative_efficiency,
    unit_efficiencies,
)
from trials.stats.checks.zero_counts import none_found
from trials.stats.design.design_matrix import design
from trials.stats.design.linear_model import AdjustedMeans, Fit
from trials.stats.design.scale import margin_on, reported
from trials.stats.design.structure import Structure
from trials.stats.design.table import Floats, PlotTable, Question, Scale
from trials.stats.design.terms import Term, levels_of
from trials.stats.distributions.quadrature import t_quantile
from trials.stats.families import pairings
from trials.stats.families.pairings import Compared
from trials.stats.fit.analysis import Analysis, analyse, joint_test
from trials.stats.results import AgainstBest, Comparison, LeastDifference, Mean, Method, Pair
from trials.stats.seasons import over_seasons
from trials.stats.tested import tested
from trials.stats.trends import trend_of
from trials.stats.what_was_tested import Diagnostic, Solid, TermTest, Trend


def compare(table: PlotTable, question: Question) -> Comparison:
    """Compare the treatments of a table in one measure.

    Parameters
    ----------
    table
        One row a plot, or a sub-sample where ``plot`` says so. Where ``plants`` is given, ``y`` is
        already per plant.
    question
        Alpha, check, direction, margin and scale, fixed before the data exist.

    Returns
    -------
    Comparison
        All figures in the unit of the measure. What the layout cannot carry is None or left out,
        with the reason in ``layout`` and ``cautions``.

    Raises
    ------
    ComparisonRefused
        Nothing was recorded, there is a single treatment, every row was copied, or a plot has no
        place on the scale.
    UnknownName
        The check is no level of any treatment.
    NotConverged
        The variances of the larger units could not be found.
    """
    _require_check(table, question)
    analysis = analyse(table, question.scale)
    found = _compared(table, question, analysis)
    if analysis.structure.ground.trial is None:
        return found
    return replace(found, over_seasons=over_seasons(table, question, analysis, compare))


def _compared(table: PlotTable, question: Question, analysis: Analysis) -> Comparison:
    y, fit = analysis.model.y, analysis.fit
    grand_mean = float(y.mean())
    bare = Comparison(
        measure=table.measure,
        unit=table.unit,
        plots=int(y.size),
        alpha=question.alpha,
        layout=analysis.structure.layout,
        method=Method.DESCRIPTION,
        residual_df=None,
        components=(),
        tests=(),
        means=(),
        all_pairs=(),
        with_check=(),
        with_best=(),
        least_differences=(),
        cv_percent=None,
        grand_mean=grand_mean,
        relative_efficiency=None,
        solid=Solid(),
        cautions=(),
        check=question.check,
        better=question.better.value,
        margin=margin_on(question.margin, grand_mean, question.scale),
        scale=question.scale.value,
        none_found=none_found(analysis, question.alpha),
    )
    found = _described(bare, analysis) if fit is None else _judged(bare, analysis, fit, question)
    table, structure, constant = analysis.plots.table, analysis.structure, np.ptp(y) == 0
    found = replace(
        found,
        tested=tested(table, structure, found.tests, found.all_pairs, constant=bool(constant)),
    )
    found = replace(found, cautions=cautions_of(analysis.plots, analysis.structure, found))
    return reported(found, question.scale, question.margin)


def adjusted_means(table: PlotTable, question: Question, factor: str) -> AdjustedMeans:
    """The adjusted means of one factor with their covariance, on the question's scale.

    Raises
    ------
    UnknownName
        The table has no such treatment.
    ComparisonRefused
        The layout cannot compare the levels of this factor.
    """
    _require_check(table, question)
    analysis = analyse(table, question.scale)
    structure, fit = analysis.structure, analysis.fit
    if factor not in structure.cells.factors:
        raise UnknownName("treatment", factor, structure.cells.factors)
    place = structure.cells.factors.index(factor)
    term = structure.terms[place]
    if fit is None or not term.whole or not pairings.comparable(structure, fit, term.weights):
        reasons = [
            f"{item.reason} {item.remedy}"
            for item in structure.layout.not_replicated
            if item.factor == factor
        ]
        raise ComparisonRefused(
            " ".join(reasons) or f"The levels of {factor} cannot be compared in this layout."
        )
    weights = term.weights
    first, second = np.triu_indices(len(weights), 1)
    df = fit.df.of_contrasts(weights[first] - weights[second])
    return AdjustedMeans(
        factor,
        structure.cells.levels[place],
        weights @ fit.means,
        weights @ fit.cov @ weights.T,
        float(df.min()),
    )


def _require_check(table: PlotTable, question: Question) -> None:
    if question.check is None:
        return
    known = [level for treatment in table.treatments for level in treatment.labels.levels]
    if question.check not in known:
        raise UnknownName("level", question.check, known)


def _factor_of_check(structure: Structure, question: Question) -> int | None:
    """The first factor that has the check among its levels."""
    return next(
        (i for i, levels in enumerate(structure.cells.levels) if question.check in levels), None
    )


def _described(bare: Comparison, analysis: Analysis) -> Comparison:
    """Plain averages only: no test, no interval."""
    raw = _raw_cells(analysis)
    means = tuple(
        mean
        for term in analysis.structure.terms
        for mean in _plain_means(analysis.structure, term, raw)
    )
    return replace(bare, means=means)


def _raw_cells(analysis: Analysis) -> Floats:
    cells = analysis.model.cells
    sums = np.bincount(cells.codes, analysis.model.y, cells.count)
    return np.asarray(sums / np.bincount(cells.codes, minlength=cells.count))


def _judged(bare: Comparison, analysis: Analysis, fit: Fit, question: Question) -> Comparison:
    structure = analysis.structure
    raw = _raw_cells(analysis)
    checked = _factor_of_check(structure, question)
    tests: list[TermTest] = []
    means: list[Mean] = []
    all_pairs: list[Pair] = []
    with_check: list[Pair] = []
    with_best: list[AgainstBest] = []
    least: list[LeastDifference] = []
    conservative: list[str] = []
    for term in structure.terms:
        test = joint_test(structure, fit, term)
        tests += [] if test is None else [test]
        groups = [
            pairings.compared(group, fit, question.alpha)
            for group in pairings.groups_of(structure, fit, term)
        ]
        if any(families.conservative(each.cov) for each in groups):
            conservative.append(term.name)
        means += _means(structure, fit, term, raw, groups, question)
        least += _least_differences(structure, term, groups, test, question.alpha)
        if len(term.factors) > 1:
            whole = pairings.whole_group(structure, fit, term)
            if whole is not None:
                each = pairings.compared(whole, fit, question.alpha)
                with_best += pairings.with_best(each, question)
        for each in groups:
            all_pairs += pairings.pairs_of(each, each.pairs, bare.margin)
            with_best += pairings.with_best(each, question)
            if question.check is not None and each.group.factor == checked:
                with_check += pairings.with_check(each, question.check, question.alpha, bare.margin)
    return replace(
        bare,
        method=fit.method,
        residual_df=fit.residual_df,
        components=fit.components,
        tests=tuple(tests),
        means=tuple(means),
        all_pairs=tuple(all_pairs),
        with_check=tuple(with_check),
        with_best=tuple(with_best),
        least_differences=tuple(least),
        cv_percent=cv_percent(fit, bare.grand_mean),
        relative_efficiency=relative_efficiency(structure, analysis.model, fit),
        unit_efficiencies=unit_efficiencies(structure, analysis.model, fit),
        solid=_solid(analysis, fit, tests, question.alpha),
        conservative_pairs=tuple(conservative),
        trends=_trends(structure, fit, question),
    )


def _trends(structure: Structure, fit: Fit, question: Question) -> tuple[Trend, ...]:
    """On the measure's own scale only: elsewhere a straight line is another curve."""
    if question.scale is not Scale.IDENTITY:
        return ()
    higher = question.better is Better.HIGHER
    found = (
        trend_of(structure, fit, term, question.alpha, higher=higher) for term in structure.terms
    )
    return tuple(trend for trend in found if trend is not None)


def _solid(analysis: Analysis, fit: Fit, tests: list[TermTest], alpha: float) -> Solid:
    """What costs little to check; see ``second_opinions`` for the rest."""
    model, names = analysis.model, analysis.plot_names
    if fit.method is not Method.LEAST_SQUARES:
        return residual_checks(fit, model.cells.codes, names)
    swept = design(model)
    blocked = swept.space if model.fixed else None
    checks = residual_checks(fit, model.cells.codes, names, blocked)
    if not tests:
        return with_check(checks, Diagnostic.LEAVE_ONE_OUT, NO_JOINT_TEST)
    weights = swept.weights
    terms = {term.name: term for term in analysis.structure.terms}
    each = [p_without_each(fit, weights, terms[test.term].contrasts) for test in tests]
    without = np.stack(each, axis=1)
    turned = fragile([(test.term, test.p) for test in tests], without, names, alpha)
    return with_check(
        replace(checks, fragile=turned), Diagnostic.LEAVE_ONE_OUT, lacks_without(without)
    )


def _means(
    structure: Structure,
    fit: Fit,
    term: Term,
    raw: Floats,
    groups: list[Compared],
    question: Question,
) -> list[Mean]:
    steps = term.weights[1:] - term.weights[:-1]
    if not len(term.codes) or not fit.estimable(steps).all():
        return _plain_means(structure, term, raw)
    estimate, se, df = fit.estimates(term.weights)
    if not structure.carries(steps).all():
        return _rows(structure, term, estimate)
    reach = t_quantile(1 - question.alpha / 2, df) * se
    lettered = _letters(groups, question)
    rows = _rows(structure, term, estimate)
    errors = zip(*(c.tolist() for c in (se, df, estimate - reach, estimate + reach)), strict=True)
    found = []
    for place, (mean, (error, freedom, low, high)) in enumerate(zip(rows, errors, strict=True)):
        text, within = lettered.get(place, (None, ()))
        found.append(
            replace(
                mean, se=error, df=freedom, low=low, high=high, letters=text, letters_within=within
            )
        )
    return found


def _letters(
    groups: list[Compared], question: Question
) -> dict[int, tuple[str, tuple[tuple[str, str], ...]]]:
    """Letters by entry: of the factor with the most levels, within those of the others."""
    if not groups:
        return {}
    most = max(len(each.group.entries) for each in groups)
    factor = [each.group.factor for each in groups if len(each.group.entries) == most][-1]
    return {
        int(entry): (text, each.group.within)
        for each in groups
        if each.group.factor == factor
        for entry, text in zip(each.group.entries, pairings.letters_of(each, question), strict=True)
    }


def _rows(structure: Structure, term: Term, estimate: Floats) -> list[Mean]:
    plots = np.bincount(structure.cells.grouping.codes, minlength=structure.cells.grouping.count)
    counts = (term.weights > 0) @ plots
    return [
        Mean(
            term.name,
            levels_of(structure.cells, term.factors, codes),
            n,
            mean,
            None,
            None,
            None,
            None,
        )
        for codes, n, mean in zip(term.codes, counts.tolist(), estimate.tolist(), strict=True)
    ]


def _plain_means(structure: Structure, term: Term, raw: Floats) -> list[Mean]:
    """Averages of the plots' cell means, without errors.

    A factor none of whose levels met all others (it always went with another) is averaged over
    the cells it has.
    """
    if len(term.codes) or len(term.factors) > 1:
        return _rows(structure, term, term.weights @ raw)
    codes = structure.cells.codes[:, term.factors[0]]
    held = (codes == np.arange(int(codes.max()) + 1)[:, None]).astype(float)
    seen = replace(
        term,
        codes=np.arange(len(held))[:, None],
        weights=held / held.sum(axis=1, keepdims=True),
    )
    return _rows(structure, seen, seen.weights @ raw)


def _least_differences(
    structure: Structure,
    term: Term,
    groups: list[Compared],
    test: TermTest | None,
    alpha: float,
) -> list[LeastDifference]:
    return [
        pairings.least_difference(
            term.name,
            structure.cells.factors[factor],
            [each for each in groups if each.group.factor == factor],
            test,
            alpha,
        )
        for factor in term.factors
    ]
