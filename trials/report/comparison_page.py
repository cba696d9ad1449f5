"""A comparison as a page of text: the words first, then the tables they come from."""

from __future__ import annotations

from trials.model.trial import RecordsDigest
from trials.model.units import UnitSystem
from trials.report.comparison_seasons import (
    ranking_table,
    ranking_words,
    seasons_heading,
    seasons_note,
    seasons_table,
    seasons_words,
)
from trials.report.comparison_tables import (
    caution_heading,
    caution_words,
    cells_table,
    how_lines,
    interplay_words,
    lettered_factors,
    letters_note,
    means_table,
    pair_rows,
    pairs_table,
    two_factor_terms,
    within_rows,
    without_mean_note,
)
from trials.report.comparison_tables import crossed as crossed_factors
from trials.report.diagnostics_words import solid_line
from trials.report.figures import Figures, count, figures_of, named_in
from trials.report.grid import printable, wrapped
from trials.report.rests_on import rests_on_lines
from trials.report.trends import trend_words
from trials.report.words import LAYOUT_WORDS, plain_words
from trials.stats.results import Comparison, Verdict

MOST_PAIRS_LISTED = 30


def comparison_page(
    comparison: Comparison,
    title: str,
    system: UnitSystem = UnitSystem.METRIC,
    rests_on: RecordsDigest | None = None,
    *,
    every_pair: bool = False,
) -> str:
    """The whole comparison as text, about 100 characters wide.

    ``rests_on`` is the digest of the trial's records, said of a closed trial.

    ``every_pair`` lists all pairs; otherwise long lists are cut to those that differ and the
    number of the rest is said.
    """
    comparison = named_in(comparison, system)
    figures = figures_of(comparison, system)
    words = plain_words(comparison, system)
    parts = [
        _head(comparison, title, figures),
        _paragraph("What differs", words.differs),
        _paragraph("Too close to call", words.not_told),
        _paragraph("What this trial cannot answer", words.not_answered),
        *_means(comparison, figures),
        *_trends(comparison, figures),
        *_cells(comparison, figures),
        *_pairs(comparison, figures, every_pair=every_pair),
        *_seasons(comparison, figures),
        _how(comparison, figures),
        *_cautions(comparison, system),
        *_rests_on(rests_on),
    ]
    return "\n\n".join(parts) + "\n"


def _head(comparison: Comparison, title: str, figures: Figures) -> str:
    layout = LAYOUT_WORDS[comparison.layout.kind]
    unit = f" ({figures.unit})" if figures.unit else ""
    line = printable(f"{title}: {comparison.measure}{unit}")
    facts = (
        f"{count(comparison.plots, 'plot')}, {layout}; overall mean "
        f"{figures.amount(comparison.grand_mean)}"
    )
    return f"{line}\n{'═' * len(line)}\n{facts}"


def _paragraph(heading: str, text: str) -> str:
    return f"{heading}\n{wrapped(text)}"


def _means(comparison: Comparison, figures: Figures) -> list[str]:
    """One table for each factor, best first."""
    tables = [means_table(comparison, factor.name, figures) for factor in comparison.layout.factors]
    parts = [table.text() for table in tables if table.rows]
    lettered = lettered_factors(comparison)
    notes = [letters_note(lettered, comparison.check)] if lettered else []
    notes += [without_mean_note(comparison, factor.name) for factor in comparison.layout.factors]
    if any(notes):
        parts.append(wrapped(" ".join(note for note in notes if note), width=80))
    return parts


def _trends(comparison: Comparison, figures: Figures) -> list[str]:
    words = [trend_words(comparison, trend.factor, figures) for trend in comparison.trends]
    return [_paragraph("Trend", " ".join(words))] if words else []


def _cells(comparison: Comparison, figures: Figures) -> list[str]:
    parts = []
    for term in two_factor_terms(comparison):
        down, across = crossed_factors(comparison, term)
        words = interplay_words(comparison, term)
        note = f"\n{wrapped(f'{words}.')}" if words else ""
        table = cells_table(comparison, term, figures)
        parts.append(f"{down.name} by {across.name}{note}\n{table.text()}")
    return parts


def _pairs(comparison: Comparison, figures: Figures, *, every_pair: bool) -> list[str]:
    parts = []
    for factor in comparison.layout.factors:
        families = {"": pair_rows(comparison, factor.name, figures)}
        families |= within_rows(comparison, factor.name, figures)
        for within, pairs in families.items():
            if not pairs:
                continue
            shown, rest = pairs, ""
            if len(pairs) > MOST_PAIRS_LISTED and not every_pair:
                shown = tuple(pair for pair in pairs if pair.verdict is not Verdict.UNKNOWN)
                left = len(pairs) - len(shown)
                rest = f"\n  … and {count(left, 'pair')} too close to call."
            table = pairs_table(comparison, factor.name, shown, within)
            none = f"  pairs of {factor.name}: none differ."
            parts.append((table.text() if shown else none) + rest)
    return parts


def _seasons(comparison: Comparison, figures: Figures) -> list[str]:
    over = comparison.over_seasons
    if over is None:
        return []
    parts = []
    for factor in comparison.layout.factors:
        words = seasons_words(comparison, factor.name)
        table = seasons_table(comparison, factor.name, figures)
        parts.append(
            f"{seasons_heading(comparison)}\n{table.text()}\n"
            f"{wrapped(seasons_note(comparison))}\n{wrapped(words)}"
        )
    if over.ranking is None:
        parts.append(_paragraph("Next season", over.why_no_ranking))
    else:
        table = ranking_table(comparison, over.ranking, figures)
        words = ranking_words(comparison, over.ranking, figures)
        following = over.ranking.swing_sd is not None
        heading = "Next season" if following else "At another site like these"
        parts.append(f"{heading}\n{table.text()}\n{wrapped(words)}")
    return parts


def _how(comparison: Comparison, figures: Figures) -> str:
    method, *facts = how_lines(comparison, figures)
    lines = [method, *(f"  {fact}" for fact in facts)]
    return "\n".join([*lines, wrapped(f"Do other tests agree? {solid_line(comparison)}")])


def _rests_on(found: RecordsDigest | None) -> list[str]:
    lines = [wrapped(line, indent="") for line in rests_on_lines(found)]
    return ["\n".join(lines)] if lines else []


def _cautions(comparison: Comparison, system: UnitSystem) -> list[str]:
    if not comparison.cautions:
        return []
    lines = [
        _paragraph(f"! {caution_heading(caution.code)}", caution_words(caution, system))
        for caution in comparison.cautions
    ]
    return ["Cautions\n" + "\n".join(lines)]
