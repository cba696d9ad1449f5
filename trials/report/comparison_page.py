"""A comparison as a page of text: the words first, then the tables they come from."""

from __future__ import annotations

from trials.report.figures import (
    Figures,
    UnitSystem,
    count,
    figures_of,
    listed,
    p_value,
)
from trials.report.grid import Column, grid, printable, wrapped
from trials.report.words import LAYOUT_WORDS, level_words, plain_words
from trials.stats.results import AgainstBest, Comparison, Mean, Method, Pair, Verdict

MOST_PAIRS_LISTED = 30

VERDICT_WORDS = {
    Verdict.MORE: "more",
    Verdict.LESS: "less",
    Verdict.SAME: "the same for your purpose",
    Verdict.UNKNOWN: "cannot tell yet",
}

METHOD_WORDS = {
    Method.LEAST_SQUARES: "least squares on plot values",
    Method.STRATA: "analysis of variance by strata (whole plots, plots)",
    Method.REML: "mixed model (REML) with Kenward-Roger errors",
    Method.DESCRIPTION: "description only: no test is possible",
}


def comparison_page(
    comparison: Comparison,
    title: str,
    system: UnitSystem = UnitSystem.METRIC,
    *,
    every_pair: bool = False,
) -> str:
    """The whole comparison as text, about 100 characters wide.

    ``every_pair`` lists all pairs; otherwise long lists are cut to those that differ and the
    number of the rest is said.
    """
    figures = figures_of(comparison, system)
    words = plain_words(comparison, system)
    parts = [
        _head(comparison, title, figures),
        _paragraph("What differs", words.differs),
        _paragraph("What could not be told", words.not_told),
        _paragraph("What these beds cannot answer", words.not_answered),
        *_means(comparison, figures),
        *_cells(comparison, figures),
        *_pairs(comparison, figures, every_pair=every_pair),
        _how(comparison, figures),
        *_cautions(comparison),
    ]
    return "\n\n".join(parts) + "\n"


def _head(comparison: Comparison, title: str, figures: Figures) -> str:
    layout = LAYOUT_WORDS[comparison.layout.kind]
    unit = f" ({figures.unit})" if figures.unit else ""
    line = printable(f"{title}: {comparison.measure}{unit}")
    facts = (
        f"{count(comparison.plots, 'plot')}, {layout}; mean of all "
        f"{figures.amount(comparison.grand_mean)}"
    )
    return f"{line}\n{'═' * len(line)}\n{facts}"


def _paragraph(heading: str, text: str) -> str:
    return f"{heading}\n{wrapped(text)}"


def _level_key(mean: Mean | AgainstBest) -> str:
    return level_words(mean.levels)


def _means(comparison: Comparison, figures: Figures) -> list[str]:
    """One table for each factor, best first."""
    best = {(item.term, _level_key(item)): item for item in comparison.with_best if not item.within}
    check = {(pair.term, level_words(pair.a)): pair for pair in comparison.with_check}
    parts = []
    for factor in comparison.layout.factors:
        means = [mean for mean in comparison.means if mean.term == factor.name]
        if not means:
            continue
        lower = comparison.better == "lower"
        means.sort(key=lambda mean: mean.mean, reverse=not lower)
        tested = any(mean.se is not None for mean in means)
        columns = [Column(factor.name), Column("plots", right=True), Column("mean", right=True)]
        if tested:
            columns += [
                Column(f"{100 * (1 - comparison.alpha):g} % interval"),
                Column("letters"),
                Column("could be best"),
            ]
        with_check = [mean for mean in means if (factor.name, _level_key(mean)) in check]
        if with_check:
            columns.append(Column(f"against {comparison.check}"))
        rows = []
        for mean in means:
            row = [_level_key(mean), str(mean.n), figures.number(mean.mean)]
            if tested:
                item = best.get((factor.name, _level_key(mean)))
                row += [
                    figures.interval(mean.low, mean.high),
                    mean.letters or "",
                    "" if item is None else "yes" if item.could_be_best else "no",
                ]
            if with_check:
                pair = check.get((factor.name, _level_key(mean)))
                row.append("the check" if pair is None else _check_words(pair, figures))
            rows.append(row)
        parts.append(grid(columns, rows))
    if any(mean.letters for mean in comparison.means):
        parts.append(
            "  Levels that share a letter are not shown to differ. 'Could be best' means that\n"
            "  the trial does not rule it out."
        )
    return parts


def _check_words(pair: Pair, figures: Figures) -> str:
    limits = figures.interval(pair.low, pair.high)
    return f"{figures.signed(pair.difference)} ({limits}) {VERDICT_WORDS[pair.verdict]}"


def _cells(comparison: Comparison, figures: Figures) -> list[str]:
    """Two factors together: one row a level of the larger, one column a level of the smaller."""
    parts = []
    for term in {mean.term: None for mean in comparison.means if mean.term.count(":") == 1}:
        cells = [mean for mean in comparison.means if mean.term == term]
        by_factor = {
            factor.name: factor.levels
            for factor in comparison.layout.factors
            if factor.name in term.split(":")
        }
        down, across = sorted(by_factor, key=lambda name: -len(by_factor[name]))
        value = {(dict(cell.levels)[down], dict(cell.levels)[across]): cell.mean for cell in cells}
        columns = [Column(down), *(Column(level, right=True) for level in by_factor[across])]
        rows = [
            [row, *(figures.number(value.get((row, column))) for column in by_factor[across])]
            for row in by_factor[down]
        ]
        test = next((t for t in comparison.tests if t.term == term), None)
        note = (
            ""
            if test is None
            else f" ({p_value(test.p, comparison.alpha)} that {across} works alike on every {down})"
        )
        parts.append(f"{down} by {across}{note}\n{grid(columns, rows)}")
    return parts


def _pairs(comparison: Comparison, figures: Figures, *, every_pair: bool) -> list[str]:
    parts = []
    for factor in comparison.layout.factors:
        pairs = [p for p in comparison.all_pairs if p.term == factor.name and not p.within]
        if not pairs:
            continue
        listed_pairs = sorted(pairs, key=lambda pair: -abs(pair.difference))
        rest = ""
        if len(pairs) > MOST_PAIRS_LISTED and not every_pair:
            listed_pairs = [p for p in listed_pairs if p.verdict is not Verdict.UNKNOWN]
            left = len(pairs) - len(listed_pairs)
            rest = f"\n  … and {count(left, 'pair')} that cannot be told apart yet."
        rows = [_pair_row(pair, figures, comparison.alpha) for pair in listed_pairs]
        columns = [
            Column(f"pairs of {factor.name}"),
            Column("difference", right=True),
            Column(f"{100 * (1 - comparison.alpha):g} % interval, all pairs together"),
            Column("p", right=True),
            Column("verdict"),
        ]
        table = grid(columns, rows) if rows else f"  pairs of {factor.name}: none differs."
        parts.append(table + rest)
    return parts


def _pair_row(pair: Pair, figures: Figures, alpha: float) -> list[str]:
    """The pair with its higher level first."""
    a, b = (pair.a, pair.b) if pair.difference >= 0 else (pair.b, pair.a)
    low, high = sorted((abs(pair.low), abs(pair.high)))
    if pair.low <= 0 <= pair.high:
        low, high = (pair.low, pair.high) if pair.difference >= 0 else (-pair.high, -pair.low)
    verdict = Verdict.MORE if pair.verdict is Verdict.LESS else pair.verdict
    return [
        f"{level_words(a)} over {level_words(b)}",
        figures.signed(abs(pair.difference)),
        figures.interval(low, high),
        p_value(pair.p_adjusted, alpha).removeprefix("p = ").removeprefix("p "),
        VERDICT_WORDS[verdict],
    ]


def _how(comparison: Comparison, figures: Figures) -> str:
    lines = [f"How it was found: {METHOD_WORDS[comparison.method]}."]
    lines += [
        f"  {test.term}: F = {test.F:.4g} on {test.num_df:g} and {test.den_df:.4g} degrees of "
        f"freedom, {p_value(test.p, comparison.alpha)}"
        for test in comparison.tests
    ]
    lines += [
        f"  applied to: {factor.name} on {factor.unit}s, "
        f"{_units_per_level(factor.units_per_level)} for each level"
        for factor in comparison.layout.factors
    ]
    if comparison.cv_percent is not None:
        lines.append(f"  spread between like plots (CV): {comparison.cv_percent:.1f} %")
    lines += [
        f"  least significant difference of {lsd.term}: {figures.amount(lsd.value)}"
        for lsd in comparison.least_differences
        if lsd.shown and lsd.value is not None
    ]
    lines.append(f"  is it solid? {solid_line(comparison)}")
    return "\n".join(lines)


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


def _cautions(comparison: Comparison) -> list[str]:
    if not comparison.cautions:
        return []
    lines = [
        _paragraph(f"! {caution.code}", caution.text + _plots(caution.plots))
        for caution in comparison.cautions
    ]
    return ["Cautions\n" + "\n".join(lines)]


def _plots(plots: tuple[str, ...]) -> str:
    return f" (plots {listed(plots)})" if plots else ""
