"""A comparison's tables and facts as words in rows, for the terminal and for the pages alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trials.model.units import UnitSystem
from trials.report.figures import Figures, amounts_in, capital, listed, p_value
from trials.report.grid import Column, Table
from trials.report.scales import Differences, differences_of
from trials.report.tested_words import factor_heading, factor_words, level_words, levels_noun
from trials.stats.design.table import Scale
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

VERDICT_WORDS = {
    Verdict.MORE: "more",
    Verdict.LESS: "less",
    Verdict.SAME: "the same for your purpose",
    Verdict.UNKNOWN: "cannot tell yet",
}

METHOD_WORDS = {
    Method.LEAST_SQUARES: "least squares on plot values",
    Method.STRATA: "analysis of variance by strata (larger units or seasons, then plots)",
    Method.REML: "mixed model (REML) with Kenward-Roger errors",
    Method.REML_STRATA: "mixed model (REML) with errors by strata (larger units, then plots)",
    Method.DESCRIPTION: "description only: no test is possible",
}


def lettered_factors(comparison: Comparison) -> tuple[str, ...]:
    """The factors whose means have letters, in the layout's order."""
    terms = {mean.term for mean in comparison.means if mean.letters}
    return tuple(each.name for each in comparison.layout.factors if each.name in terms)


def letters_note(factors: Sequence[str], check: str | None) -> str:
    """What letters and 'could be best' mean in the tables of some factors."""
    alone = (
        ""
        if check is None
        else f"Beside {check} alone fewer pairs are compared, so smaller differences show. "
    )
    which = listed([levels_noun(factor) for factor in factors])
    return (
        f"{capital(which)} with the same letter are too close to call when all pairs are "
        f"compared. {alone}Could be best: the trial does not rule it out."
    )


@dataclass(frozen=True, slots=True)
class PairRow:
    """A pair as it is read: the higher level first, so that its verdict is never 'less'."""

    higher: str
    lower: str
    verdict: Verdict
    cells: tuple[str, ...]


def ranked_means(comparison: Comparison, factor: str) -> tuple[Mean, ...]:
    """The means of a factor's levels, best first; those too short to sell come last."""
    means = [mean for mean in comparison.means if mean.term == factor]
    means.sort(key=lambda mean: mean.mean, reverse=comparison.better != "lower")
    short = too_short_levels(comparison, factor)
    means.sort(key=lambda mean: level_words(mean.levels) in short)
    return tuple(means)


def too_short_levels(comparison: Comparison, factor: str) -> frozenset[str]:
    """The levels of a factor that are too short to sell."""
    return frozenset(each.level for each in comparison.too_short if each.factor == factor)


def means_table(comparison: Comparison, factor: str, figures: Figures) -> Table:
    """One row a level, best first; no intervals where the layout carries none."""
    best = {_level_key(item): item for item in comparison.with_best if _is_main(item, factor)}
    check = {level_words(pair.a): pair for pair in comparison.with_check if pair.term == factor}
    means = ranked_means(comparison, factor)
    short = too_short_levels(comparison, factor)
    tested = any(mean.se is not None for mean in means)
    columns = [
        Column(factor_heading(factor)),
        Column("plots", right=True),
        Column("mean", right=True),
    ]
    if tested:
        columns += [
            Column(f"{100 * (1 - comparison.alpha):g}% interval"),
            Column("letters"),
            Column("could be best"),
        ]
    elif short:
        columns.append(Column("long enough to sell"))
    how = differences_of(comparison, figures)
    checked = any(_level_key(mean) in check for mean in means)
    if checked:
        columns.append(Column(f"difference from {comparison.check}{_points(comparison)}"))
    rows = []
    for mean in means:
        row = [_level_key(mean), str(mean.n), figures.number(mean.mean)]
        if tested:
            row += [
                figures.interval(mean.low, mean.high),
                mean.letters or "",
                "too short" if _level_key(mean) in short else _could(best.get(_level_key(mean))),
            ]
        elif short:
            row.append("too short" if _level_key(mean) in short else "yes")
        if checked:
            pair = check.get(_level_key(mean))
            row.append("the check" if pair is None else _check_words(pair, how))
        rows.append(tuple(row))
    rows += [
        (level, str(plots), *["–" for _ in columns[2:]])
        for level, plots in _without_mean(comparison, factor)
    ]
    return Table(tuple(columns), tuple(rows))


def without_mean_note(comparison: Comparison, factor: str) -> str:
    """Which levels have no mean, so that 'could be best' leaves them out; '' if none."""
    names = [level for level, _ in _without_mean(comparison, factor)]
    if not names:
        return ""
    one = len(names) == 1
    return (
        f"{listed(names)} {'has' if one else 'have'} no mean over all levels of the other "
        f"factors and {'is' if one else 'are'} not ranked here."
    )


def _without_mean(comparison: Comparison, factor: str) -> list[tuple[str, int]]:
    """Levels with plots but without a mean over all levels of the other factors."""
    if not comparison.means:
        return []
    shown = {_level_key(mean) for mean in comparison.means if mean.term == factor}
    levels = next(each.levels for each in comparison.layout.factors if each.name == factor)
    finest = max((mean.term for mean in comparison.means), key=lambda term: term.count(":"))
    return [
        (
            level,
            sum(
                mean.n
                for mean in comparison.means
                if mean.term == finest and (factor, level) in mean.levels
            ),
        )
        for level in levels
        if level not in shown
    ]


def _could(item: AgainstBest | None) -> str:
    return "" if item is None else "yes" if item.could_be_best else "no"


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
    """How often chance alone makes an interaction this large; '' where it is untested."""
    down, across = crossed(comparison, term)
    test = next((test for test in comparison.tests if test.term == term), None)
    if test is None:
        return ""
    p = p_value(test.p, comparison.alpha)
    return (
        f"{p}: how often chance alone would make the effect of {factor_words(across.name)} differ "
        f"this much between {levels_noun(down.name)}"
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


def within_rows(
    comparison: Comparison, factor: str, figures: Figures
) -> dict[str, tuple[PairRow, ...]]:
    """The pairs within single levels of other factors, where not all were compared over them.

    By what they are within ('b1'); empty where every pair was compared over all levels.
    """
    tested = next((each for each in comparison.tested.factors if each.factor == factor), None)
    if tested is None or tested.why is None or tested.within_term is None:
        return {}
    how = differences_of(comparison, figures)
    groups: dict[str, list[Pair]] = {}
    for pair in comparison.all_pairs:
        if pair.term == tested.within_term and pair.within and pair.a[0][0] == factor:
            groups.setdefault(level_words(pair.within), []).append(pair)
    return {
        within: tuple(
            _pair_row(pair, how, comparison.alpha)
            for pair in sorted(pairs, key=lambda pair: -how.size(pair))
        )
        for within, pairs in groups.items()
    }


def pairs_table(
    comparison: Comparison, factor: str, rows: Sequence[PairRow], within: str = ""
) -> Table:
    """Some or all pairs of a factor's levels as a table, ``within`` a level of another."""
    inside = f" within {within}" if within else ""
    columns = (
        Column(f"pairs of {factor_heading(factor)}{inside}"),
        Column(differences_of(comparison, Figures("")).noun + _points(comparison), right=True),
        Column(f"{100 * (1 - comparison.alpha):g}% interval, all pairs together"),
        Column("p", right=True),
        Column("verdict"),
    )
    return Table(columns, tuple(row.cells for row in rows))


def _points(comparison: Comparison) -> str:
    """The unit of differences in a heading, where it is not the page's own."""
    points = comparison.unit == "share" and comparison.scale == Scale.IDENTITY
    return " (percentage points)" if points else ""


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
        f"experimental units of {factor_words(factor.name)}: {factor.unit}s, "
        f"{_units_per_level(factor.units_per_level)} per level"
        for factor in comparison.layout.factors
    ]
    lines += _efficiency_lines(comparison)
    lines += [
        f"pairs of {term}: too many for each to have its own error, so wider limits are used; "
        "they miss a true difference slightly more often"
        for term in comparison.conservative_pairs
    ]
    lines += _randomisation_lines(comparison)
    if comparison.cv_percent is not None:
        lines.append(f"coefficient of variation between plots: {comparison.cv_percent:.1f}%")
    lines += [
        f"least significant {how.noun} of {lsd.term}: {how.figures.amount(lsd.value)}"
        for lsd in comparison.least_differences
        if lsd.shown and lsd.value is not None and ":" not in lsd.term
    ]
    lines += _not_dealt_lines(comparison)
    return lines


def _randomisation_lines(comparison: Comparison) -> list[str]:
    """What the randomisation test says of each term, and what it could have said at best."""
    opinion = comparison.solid.randomisation
    if opinion is None:
        return []
    best = dict(opinion.at_best)
    return [
        f"randomisation test of {term}: {p_value(p, comparison.alpha)}"
        + (f" (smallest possible here {best[term]:.3g})" if term in best else "")
        for term, p in opinion.p
    ]


def _not_dealt_lines(comparison: Comparison) -> list[str]:
    by_reason: dict[str, list[str]] = {}
    for term, why in comparison.solid.not_dealt:
        by_reason.setdefault(why, []).append(term)
    return [
        f"no randomisation test of {listed(terms)}, because {why.rstrip('.')}"
        for why, terms in by_reason.items()
    ]


def _efficiency_lines(comparison: Comparison) -> list[str]:
    """What a plot of this layout counts for, beside plots dealt in the plainer way."""
    lines = []
    if comparison.relative_efficiency is not None:
        lines.append(
            "relative efficiency of blocking: one plot in blocks tells as much as "
            f"{comparison.relative_efficiency:.2f} plots without them"
        )
    said = [
        f"{each.efficiency:.2f} for {listed(each.factors) or 'the interaction of the strips'}"
        for each in comparison.unit_efficiencies
    ]
    if said:
        lines.append(
            "relative efficiency of the layout, compared with plots randomised within "
            "blocks: one plot tells as much as " + listed(said)
        )
    return lines


def _units_per_level(units: tuple[int, ...]) -> str:
    low, high = min(units), max(units)
    return f"{low}" if low == high else f"{low} to {high}"


CAUTION_HEADINGS = {
    "no-swing-seen": "no season-to-season variation found",
    "no-spread": "no variation",
    "single-units-interact": "interaction without replication",
    "none-found": "none counted",
    "all-found": "all counted",
    "missed-picks": "missed harvests",
    "unrecorded-picks": "harvests not recorded",
}


def caution_heading(code: str) -> str:
    """What a caution is about, in a few words."""
    return CAUTION_HEADINGS.get(code, code.replace("-", " "))


def caution_words(caution: Caution, system: UnitSystem = UnitSystem.METRIC) -> str:
    """A caution's text with the plots it speaks of, in the reader's units."""
    plots = f" Plots: {listed(caution.plots)}." if caution.plots else ""
    return amounts_in(caution.text, system) + plots
