"""A comparison's tables and facts as words in rows, for the terminal and for the pages alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trials.report.figures import Figures, listed, p_value
from trials.report.grid import Column, Table
from trials.report.scales import Differences, differences_of
from trials.report.words import level_words
from trials.stats.results import (
    AgainstBest,
    Caution,
    Comparison,
    FactorUnits,
    Mean,
    Method,
    Pair,
    Verdict,
)
from trials.stats.table import Scale

VERDICT_WORDS = {
    Verdict.MORE: "more",
    Verdict.LESS: "less",
    Verdict.SAME: "the same for your purpose",
    Verdict.UNKNOWN: "cannot tell yet",
}

METHOD_WORDS = {
    Method.LEAST_SQUARES: "least squares on plot values",
    Method.STRATA: "analysis of variance by strata (larger units or swings, then plots)",
    Method.REML: "mixed model (REML) with Kenward-Roger errors",
    Method.DESCRIPTION: "description only: no test is possible",
}

LETTERS_NOTE = (
    "Levels that share a letter are not shown to differ. 'Could be best' means that the trial "
    "does not rule it out."
)


@dataclass(frozen=True, slots=True)
class PairRow:
    """A pair as it is read: the higher level first, so that its verdict is never 'less'."""

    higher: str
    lower: str
    verdict: Verdict
    cells: tuple[str, ...]


def ranked_means(comparison: Comparison, factor: str) -> tuple[Mean, ...]:
    """The means of a factor's levels, best first."""
    means = [mean for mean in comparison.means if mean.term == factor]
    means.sort(key=lambda mean: mean.mean, reverse=comparison.better != "lower")
    return tuple(means)


def means_table(comparison: Comparison, factor: str, figures: Figures) -> Table:
    """One row a level, best first; no intervals where the layout carries none."""
    best = {_level_key(item): item for item in comparison.with_best if _is_main(item, factor)}
    check = {level_words(pair.a): pair for pair in comparison.with_check if pair.term == factor}
    means = ranked_means(comparison, factor)
    tested = any(mean.se is not None for mean in means)
    columns = [Column(factor), Column("plots", right=True), Column("mean", right=True)]
    if tested:
        columns += [
            Column(f"{100 * (1 - comparison.alpha):g} % interval"),
            Column("letters"),
            Column("could be best"),
        ]
    how = differences_of(comparison, figures)
    checked = any(_level_key(mean) in check for mean in means)
    if checked:
        columns.append(Column(f"against {comparison.check}"))
    rows = []
    for mean in means:
        row = [_level_key(mean), str(mean.n), figures.number(mean.mean)]
        if tested:
            item = best.get(_level_key(mean))
            row += [
                figures.interval(mean.low, mean.high),
                mean.letters or "",
                "" if item is None else "yes" if item.could_be_best else "no",
            ]
        if checked:
            pair = check.get(_level_key(mean))
            row.append("the check" if pair is None else _check_words(pair, how))
        rows.append(tuple(row))
    return Table(tuple(columns), tuple(rows))


def _is_main(item: AgainstBest, factor: str) -> bool:
    return item.term == factor and not item.within


def _level_key(mean: Mean | AgainstBest) -> str:
    return level_words(mean.levels)


def _check_words(pair: Pair, how: Differences) -> str:
    limits = how.figures.interval(pair.low, pair.high)
    return f"{how.signed(pair.difference)} ({limits}) {VERDICT_WORDS[pair.verdict]}"


def two_factor_terms(comparison: Comparison) -> tuple[str, ...]:
    """The terms of two factors whose cells have means."""
    return tuple({mean.term: None for mean in comparison.means if mean.term.count(":") == 1})


def crossed(comparison: Comparison, term: str) -> tuple[FactorUnits, FactorUnits]:
    """The two factors of a term: the one with more levels, which goes down, then the other."""
    names = term.split(":")
    factors = [factor for factor in comparison.layout.factors if factor.name in names]
    down, across = sorted(factors, key=lambda factor: -len(factor.levels))
    return down, across


def interplay_words(comparison: Comparison, term: str) -> str:
    """How often luck alone makes two factors look so entangled; '' where it is untested."""
    down, across = crossed(comparison, term)
    test = next((test for test in comparison.tests if test.term == term), None)
    if test is None:
        return ""
    p = p_value(test.p, comparison.alpha)
    return (
        f"{p}: how often luck alone makes {across.name} look so different "
        f"from one {down.name} to the next"
    )


def cells_table(comparison: Comparison, term: str, figures: Figures) -> Table:
    """Two factors together: one row a level of the larger, one column a level of the smaller."""
    down, across = crossed(comparison, term)
    value = {
        (dict(cell.levels)[down.name], dict(cell.levels)[across.name]): cell.mean
        for cell in comparison.means
        if cell.term == term
    }
    columns = (Column(down.name), *(Column(level, right=True) for level in across.levels))
    rows = tuple(
        (row, *(figures.number(value.get((row, column))) for column in across.levels))
        for row in down.levels
    )
    return Table(columns, rows)


def pair_rows(comparison: Comparison, factor: str, figures: Figures) -> tuple[PairRow, ...]:
    """Every pair of a factor's levels, the largest difference first."""
    pairs = [p for p in comparison.all_pairs if p.term == factor and not p.within]
    how = differences_of(comparison, figures)
    pairs.sort(key=lambda pair: -how.size(pair))
    return tuple(_pair_row(pair, how, comparison.alpha) for pair in pairs)


def _pair_row(pair: Pair, how: Differences, alpha: float) -> PairRow:
    a, b, low, high = pair.a, pair.b, pair.low, pair.high
    if not how.rises(pair):
        a, b, low, high = b, a, how.turned(high), how.turned(low)
    verdict = Verdict.MORE if pair.verdict is Verdict.LESS else pair.verdict
    higher, lower = level_words(a), level_words(b)
    cells = (
        f"{higher} over {lower}",
        how.signed(how.estimate(pair)),
        how.figures.interval(low, high),
        p_value(pair.p_adjusted, alpha).removeprefix("p = ").removeprefix("p "),
        VERDICT_WORDS[verdict],
    )
    return PairRow(higher, lower, verdict, cells)


def pairs_table(comparison: Comparison, factor: str, rows: Sequence[PairRow]) -> Table:
    """Some or all pairs of a factor's levels as a table."""
    columns = (
        Column(f"pairs of {factor}"),
        Column(differences_of(comparison, Figures("")).noun, right=True),
        Column(f"{100 * (1 - comparison.alpha):g} % interval, all pairs together"),
        Column("p", right=True),
        Column("verdict"),
    )
    return Table(columns, tuple(row.cells for row in rows))


def how_lines(comparison: Comparison, figures: Figures) -> list[str]:
    """The method, then what it rests on, a fact a line."""
    how = differences_of(comparison, figures)
    on = "" if comparison.scale == Scale.IDENTITY else f", on the {comparison.scale} scale"
    lines = [f"How it was found: {METHOD_WORDS[comparison.method]}{on}."]
    lines += [
        f"{test.term}: F = {test.F:.4g} on {test.num_df:g} and {test.den_df:.4g} degrees of "
        f"freedom, {p_value(test.p, comparison.alpha)}"
        for test in comparison.tests
    ]
    lines += [
        f"applied to: {factor.name} on {factor.unit}s, "
        f"{_units_per_level(factor.units_per_level)} for each level"
        for factor in comparison.layout.factors
    ]
    lines += _efficiency_lines(comparison)
    lines += [
        f"pairs of {term}: too many to weigh each one's own error against all the others; the "
        "careful figure stands, and a real difference may be missed a little more often"
        for term in comparison.conservative_pairs
    ]
    if comparison.cv_percent is not None:
        lines.append(f"spread between like plots (CV): {comparison.cv_percent:.1f} %")
    lines += [
        f"least significant {how.noun} of {lsd.term}: {how.figures.amount(lsd.value)}"
        for lsd in comparison.least_differences
        if lsd.shown and lsd.value is not None and ":" not in lsd.term
    ]
    lines += _not_dealt_lines(comparison)
    return lines


def _not_dealt_lines(comparison: Comparison) -> list[str]:
    by_reason: dict[str, list[str]] = {}
    for term, why in comparison.solid.not_dealt:
        by_reason.setdefault(why, []).append(term)
    return [
        f"not checked by dealing the plots again: {listed(terms)}, because {why.rstrip('.')}"
        for why, terms in by_reason.items()
    ]


def _efficiency_lines(comparison: Comparison) -> list[str]:
    """What a plot of this layout counts for, beside plots dealt in the plainer way."""
    lines = []
    if comparison.relative_efficiency is not None:
        lines.append(
            f"worth of the blocks: a plot in them counts as {comparison.relative_efficiency:.2f} "
            "plots without them"
        )
    said = [
        f"{each.efficiency:.2f} for {listed(each.factors) or 'how the strips act together'}"
        for each in comparison.unit_efficiencies
    ]
    if said:
        lines.append(
            "worth of the layout, beside plots dealt one by one in the blocks: a plot counts as "
            + listed(said)
        )
    return lines


def _units_per_level(units: tuple[int, ...]) -> str:
    low, high = min(units), max(units)
    return f"{low}" if low == high else f"{low} to {high}"


def solid_line(comparison: Comparison) -> str:
    """One line on whether the verdicts stand up."""
    solid = comparison.solid
    if comparison.method is Method.DESCRIPTION:
        return "nothing was tested."
    doubts = []
    if solid.normality is not None and not solid.normality.sound:
        doubts.append("residuals are not bell-shaped")
    if solid.equal_spread is not None and not solid.equal_spread.sound:
        doubts.append("some levels vary more than others")
    if solid.outliers:
        doubts.append(f"outlying: {listed([item.plot for item in solid.outliers])}")
    doubts += [
        f"{opinion.method} disagrees. {opinion.note}".strip()
        for opinion in (solid.randomisation, solid.count_model)
        if opinion is not None and not opinion.agrees
    ]
    if solid.fragile:
        doubts.append(
            "turns on one plot: "
            + listed([f"{item.term} without {item.plot}" for item in solid.fragile], most=4)
        )
    asked = [solid.normality, solid.equal_spread, solid.randomisation, solid.count_model]
    if doubts:
        return "; ".join(doubts) + "."
    return "yes, the checks agree." if any(part is not None for part in asked) else "not checked."


def caution_words(caution: Caution) -> str:
    """A caution's text with the plots it speaks of."""
    return caution.text + (f" (plots {listed(caution.plots)})" if caution.plots else "")
