"""The answer to a trial's question in one sentence, and what takes away from it."""

from __future__ import annotations

from dataclasses import dataclass

from trials.report.comparison_tables import ranked_means, too_short_levels
from trials.report.diagnostics_words import doubts_of
from trials.report.figures import Figures, listed
from trials.report.scales import differences_of, surest_words
from trials.report.tested_words import level_words, levels_noun, nothing_compared, spoken
from trials.report.words import interaction_sentence
from trials.stats.results import Comparison, Mean, Pair, Verdict

MOST_NAMED = 4


@dataclass(frozen=True, slots=True)
class Answer:
    """One sentence for the top of a page, and the sentences that it must not be read without."""

    sentence: str
    but: tuple[str, ...] = ()


def answer_words(comparison: Comparison, factor: str, figures: Figures) -> Answer:
    """Which level of a factor to take by this measure, as far as the trial says.

    What could be the best is taken from the limits beside the best (Hsu), which hold for all levels
    together; levels too short to sell are named and never lead.
    """
    short = too_short_levels(comparison, factor)
    ranked = [
        mean for mean in ranked_means(comparison, factor) if level_words(mean.levels) not in short
    ]
    but = [_short_words(comparison, factor)] if short else []
    if not ranked:
        why = nothing_compared(comparison, figures)
        return Answer(f"All {levels_noun(factor)} are too short to sell." if short else why)
    if all(mean.se is None for mean in ranked):
        return Answer(_untested(comparison, ranked, figures), tuple(but))
    could = {
        level_words(item.levels)
        for item in comparison.with_best
        if item.term == factor and not item.within and item.could_be_best
    }
    pair = _only_pair(comparison, factor, ranked)
    if pair is not None:
        sentence, found = _of_two(comparison, pair, figures), pair.verdict != Verdict.UNKNOWN
    elif not could:
        sentence, found = _unranked(comparison, factor, ranked, figures), False
    else:
        sentence = _of_many(comparison, factor, ranked, could, figures)
        found = len(could) < len(ranked)
    but += [
        interaction_sentence(comparison, test.term)
        for test in comparison.tests
        if ":" in test.term and factor in test.term.split(":") and test.p <= comparison.alpha
    ]
    return Answer(sentence, (*but, *doubts_of(comparison, factor, found=found)))


def _short_words(comparison: Comparison, factor: str) -> str:
    names = [each.level for each in comparison.too_short if each.factor == factor]
    return f"Too short to sell, so left out: {listed(names, most=20)}."


def _untested(comparison: Comparison, ranked: list[Mean], figures: Figures) -> str:
    most = "lowest" if comparison.better == "lower" else "highest"
    name = level_words(ranked[0].levels)
    amount = _amount(comparison, ranked[0].mean, figures)
    return (
        f"{name} has the {most} figure, {amount}, but one plot of each cannot show "
        "whether that is more than chance."
    )


def _unranked(comparison: Comparison, factor: str, ranked: list[Mean], figures: Figures) -> str:
    return (
        f"{_leads(comparison, ranked, figures)}, but this trial cannot rule out any other "
        f"of the {levels_noun(factor)}."
    )


def _only_pair(comparison: Comparison, factor: str, ranked: list[Mean]) -> Pair | None:
    """The one pair of a factor with two levels."""
    pairs = [pair for pair in comparison.all_pairs if pair.term == factor and not pair.within]
    return pairs[0] if len(ranked) == 2 and len(pairs) == 1 else None


def _of_two(comparison: Comparison, pair: Pair, figures: Figures) -> str:
    a, b = spoken(pair.a), spoken(pair.b)
    if pair.verdict is Verdict.SAME:
        return f"{a} and {b} are the same for your purpose in {comparison.measure}."
    if pair.verdict is Verdict.UNKNOWN:
        return f"{a} and {b} are too close to call in {comparison.measure}."
    higher, lower = (a, b) if pair.verdict is Verdict.MORE else (b, a)
    return surest_words(comparison, pair, higher, lower, differences_of(comparison, figures))


def _of_many(
    comparison: Comparison, factor: str, ranked: list[Mean], could: set[str], figures: Figures
) -> str:
    others = [level_words(mean.levels) for mean in ranked[1:] if level_words(mean.levels) in could]
    leads = _leads(comparison, ranked, figures)
    if not others:
        return f"{leads}, and none of the other {levels_noun(factor)} could be the best."
    if len(others) == len(ranked) - 1:
        return f"{leads}, but any of the {len(ranked)} {levels_noun(factor)} could be the best."
    named = listed(others, most=MOST_NAMED)
    if len(others) <= MOST_NAMED:
        return f"{leads}, but {named} could also be the best."
    return f"{leads}, but {len(others)} others could also be the best: {named}."


def _leads(comparison: Comparison, ranked: list[Mean], figures: Figures) -> str:
    amount = _amount(comparison, ranked[0].mean, figures)
    return f"{level_words(ranked[0].levels)} leads with {amount}"


def _amount(comparison: Comparison, value: float, figures: Figures) -> str:
    """A figure as it is said: '23.1 stems per plant'."""
    if figures.unit.replace("/", " per ") == comparison.measure:
        return f"{figures.number(value)} {comparison.measure}"
    return figures.amount(value)
