"""What a comparison comes to in sentences a grower can repeat at market."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import median

from trials.model.units import UnitSystem
from trials.report.diagnostics_words import doubts_of
from trials.report.figures import (
    Figures,
    capital,
    count,
    figures_of,
    listed,
    named_in,
    p_value,
    pairs_of,
    per_cent,
)
from trials.report.scales import Differences, differences_of, surest_words
from trials.report.tested_words import (
    factor_words,
    left_out_sentences,
    levels_noun,
    nothing_compared,
    spoken,
    together_sentences,
)
from trials.stats.design.table import Scale
from trials.stats.results import Comparison, LayoutKind, Pair, Verdict
from trials.stats.what_was_tested import FactorTested, Why


@dataclass(frozen=True, slots=True)
class PlainWords:
    """Three sentences: what differs, what could not be told, what the layout cannot answer."""

    differs: str
    not_told: str
    not_answered: str


LAYOUT_WORDS = {
    LayoutKind.COMPLETELY_RANDOMISED: "completely randomised plots",
    LayoutKind.COMPLETE_BLOCKS: "complete blocks",
    LayoutKind.LATIN_SQUARE: "Latin square",
    LayoutKind.ROW_COLUMN: "rows and columns",
    LayoutKind.INCOMPLETE_BLOCKS: "incomplete blocks",
    LayoutKind.AUGMENTED_BLOCKS: "augmented blocks",
    LayoutKind.SPLIT_PLOT: "split plots",
    LayoutKind.SPLIT_SPLIT_PLOT: "split plots, split again",
    LayoutKind.STRIPS: "crossing strips",
    LayoutKind.SIDE_BY_SIDE: "side by side, without replication",
}


def plain_words(comparison: Comparison, system: UnitSystem = UnitSystem.METRIC) -> PlainWords:
    """The three sentences of a comparison.

    Every amount is the simultaneous limit nearest to no difference ('at least'), never the
    estimate alone.
    """
    comparison = named_in(comparison, system)
    figures = figures_of(comparison, system)
    return PlainWords(
        differs=" ".join(_differs(comparison, figures)),
        not_told=" ".join(_not_told(comparison, figures)),
        not_answered=" ".join(_not_answered(comparison)),
    )


def _of_factor(comparison: Comparison, factor: str) -> list[Pair]:
    """The pairs of a factor's levels over all levels of the other factors."""
    return [pair for pair in comparison.all_pairs if pair.term == factor and not pair.within]


def _within(comparison: Comparison, each: FactorTested) -> list[Pair]:
    """The pairs that stand in for those that were not compared over all levels of the others."""
    if each.why is None or each.within_term is None:
        return []
    return [
        pair
        for pair in comparison.all_pairs
        if pair.term == each.within_term and pair.within and pair.a[0][0] == each.factor
    ]


def _differing(pairs: list[Pair]) -> list[Pair]:
    return [pair for pair in pairs if pair.verdict in (Verdict.MORE, Verdict.LESS)]


def _differs(comparison: Comparison, figures: Figures) -> list[str]:
    if not comparison.all_pairs and not comparison.tests:
        return [nothing_compared(comparison, figures)]
    how = differences_of(comparison, figures)
    found: list[str] = []
    doubts: list[str] = []
    for each in comparison.tested.factors:
        said = [*_main(comparison, each, how), *_inside(comparison, each, how)]
        said = said or _joint(comparison, each.factor)
        found += said
        doubts += doubts_of(comparison, each.factor, found=bool(said))
    for test in comparison.tests:
        if ":" in test.term:
            real = test.p <= comparison.alpha
            found += [interaction_sentence(comparison, test.term)] if real else []
            doubts += doubts_of(comparison, test.term, found=real)
    return [*(found or [_none(comparison)]), *doubts]


def _main(comparison: Comparison, each: FactorTested, how: Differences) -> list[str]:
    """The surest difference over all levels of the other factors, and how many there are."""
    pairs = _of_factor(comparison, each.factor)
    shown, noun = _differing(pairs), levels_noun(each.factor)
    sentences = [_surest(comparison, shown, how)] if shown else []
    short = [item.level for item in comparison.too_short if item.factor == each.factor]
    if short:
        names = listed(short, most=20)
        sentences.append(f"Too short to sell, so compared but not to be chosen: {names}.")
    if shown and len(pairs) > 1:
        verb = "differs" if len(shown) == 1 else "differ"
        sentences.append(f"{_number(shown, pairs, each)} of {noun} {verb}.")
    sentences += _small(comparison, pairs, noun)
    against = {
        pair.a[0][1]
        for pair in _differing([p for p in comparison.with_check if p.term == each.factor])
    }
    if against and not shown:
        names = ", ".join(sorted(against))
        sentences.append(
            f"{names} {'differs' if len(against) == 1 else 'differ'} from {comparison.check} when "
            "only comparisons with the check are made."
        )
    return sentences


def _number(some: list[Pair], pairs: list[Pair], each: FactorTested) -> str:
    """How many of the pairs; 'all' only where every pair of the factor's levels was compared."""
    if len(pairs) == each.compared == each.possible:
        return capital(pairs_of(len(some), len(pairs)))
    return f"{len(some)} of the {count(len(pairs), 'pair')}"


def _inside(comparison: Comparison, each: FactorTested, how: Differences) -> list[str]:
    """The surest difference within single levels of the other factors, where these stand in."""
    pairs = _within(comparison, each)
    shown = _differing(pairs)
    others = [name for name in (each.within_term or "").split(":") if name != each.factor]
    noun = f"{levels_noun(each.factor)} within single levels of {listed(others)}"
    sentences: list[str] = []
    if shown:
        verb = "differs" if len(shown) == 1 else "differ"
        number = f"{len(shown)} of the {count(len(pairs), 'pair')} of {noun} {verb}."
        sentences = [_surest(comparison, shown, how), number]
    return [*sentences, *_small(comparison, pairs, noun)]


def _small(comparison: Comparison, pairs: list[Pair], noun: str) -> list[str]:
    """How many differences are real, but too small to matter."""
    small = sum(
        pair.verdict is Verdict.SAME and pair.p_adjusted <= comparison.alpha for pair in pairs
    )
    if not small:
        return []
    verb = "differs" if small == 1 else "differ"
    return [f"{count(small, 'pair')} of {noun} {verb}, but by less than what matters to you."]


def _surest(comparison: Comparison, pairs: list[Pair], how: Differences) -> str:
    short = {(each.factor, each.level) for each in comparison.too_short}
    running = [pair for pair in pairs if short.isdisjoint((*pair.a, *pair.b, *pair.within))]
    surest = max(running or pairs, key=how.at_least)
    more, less = (surest.a, surest.b) if surest.verdict is Verdict.MORE else (surest.b, surest.a)
    return surest_words(comparison, surest, spoken(more), spoken(less), how, spoken(surest.within))


def _joint(comparison: Comparison, factor: str) -> list[str]:
    """What all levels together show where no single pair does."""
    return [
        f"The {levels_noun(factor)} differ as a whole "
        f"({p_value(test.p, comparison.alpha)}), but no single pair of them stands out."
        for test in comparison.tests
        if test.term == factor and test.p <= comparison.alpha
    ]


def interaction_sentence(comparison: Comparison, term: str) -> str:
    """That the effect of one factor was not the same on each level of another."""
    names = term.split(":")
    levels = {factor.name: len(factor.levels) for factor in comparison.layout.factors}
    first = min(names, key=lambda name: levels[name])
    others = [factor_words(name) for name in names if name != first]
    return (
        f"How much {factor_words(first)} changed {comparison.measure} depended on the "
        f"{' and '.join(others)}: compare each combination."
    )


def _none(comparison: Comparison) -> str:
    """No difference found, said of what was compared and of nothing else."""
    factors = [each for each in comparison.tested.factors if _pairs_of(comparison, each)]
    chance = "chance"
    if comparison.over_seasons is not None:
        chance = "chance and the variation between seasons or sites"
    which = f"the differences in {comparison.measure}"
    if not factors:
        return f"No effect on {comparison.measure} is larger than {chance} could explain."
    if len(comparison.tested.factors) > 1:
        which += f" between {' or between '.join(levels_noun(each.factor) for each in factors)}"
    if not comparison.tested.complete:
        which += " that could be compared"
    return f"None of {which} is larger than {chance} could explain."


def _pairs_of(comparison: Comparison, each: FactorTested) -> list[Pair]:
    """All pairs of a factor that the page shows."""
    return [*_of_factor(comparison, each.factor), *_within(comparison, each)]


def _not_told(comparison: Comparison, figures: Figures) -> list[str]:
    tested = comparison.tested
    if not comparison.all_pairs:
        return [_no_pair(comparison)]
    sentences = []
    for each in tested.factors:
        pairs = _pairs_of(comparison, each)
        unknown = [pair for pair in pairs if pair.verdict is Verdict.UNKNOWN]
        if unknown:
            sentences += _too_close(comparison, each, pairs, unknown, figures)
    if sentences:
        return sentences
    if any(
        _differing(_pairs_of(comparison, each)) and doubts_of(comparison, each.factor, found=False)
        for each in tested.factors
    ):
        return ["What differs is in doubt, as said above: treat it as undecided."]
    if tested.complete:
        return ["Every pair got an answer."]
    number = sum(len(_pairs_of(comparison, each)) for each in tested.factors)
    if number == 1:
        return ["The one pair that was compared got an answer."]
    return [f"Each of the {number} pairs that were compared got an answer."]


def _no_pair(comparison: Comparison) -> str:
    whys = {each.why for each in comparison.tested.factors}
    if Why.CONSTANT in whys:
        return "Without any variation nothing shows how large a difference chance could make."
    if whys == {Why.NOT_REPLICATED}:
        return "Without replication no difference, however large, can be told from chance."
    return "No pair of levels was compared, so no difference can be told from chance."


def _too_close(
    comparison: Comparison,
    each: FactorTested,
    pairs: list[Pair],
    unknown: list[Pair],
    figures: Figures,
) -> list[str]:
    how = differences_of(comparison, figures)
    reach = median(how.reach(pair) for pair in unknown)
    share = (
        f" ({per_cent(reach / comparison.grand_mean)} of the mean)"
        if comparison.grand_mean > 0
        and comparison.scale == Scale.IDENTITY
        and comparison.unit != "share"
        else ""
    )
    if len(pairs) == 1:
        a, b = spoken(unknown[0].a), spoken(unknown[0].b)
        which = f"{a} and {b} ({factor_words(each.factor)}) are"
        this = "This trial"
    else:
        number = _number(unknown, pairs, each)
        which = f"{number} of {levels_noun(each.factor)} {'is' if len(unknown) == 1 else 'are'}"
        this = f"Between two {levels_noun(each.factor)} this trial"
    noun = "differences of roots" if how.noun == "difference of roots" else f"{how.noun}s"
    return [
        f"{which} too close to call.",
        f"{this} could only show {noun} of about {how.figures.amount(reach)}{share}.",
    ]


def _not_answered(comparison: Comparison) -> list[str]:
    layout = comparison.layout
    sentences = [f"{item.reason} {item.remedy}" for item in layout.not_replicated]
    sentences += together_sentences(comparison)
    sentences += left_out_sentences(comparison)
    largest = max(layout.factors, key=lambda factor: len(factor.levels)).name
    sentences.append(
        "These results are from one season. Another season may rank the "
        f"{levels_noun(largest)} differently."
        if not _over_seasons(comparison)
        else "These seasons are the only ones seen. Another season may change these figures."
    )
    return sentences


def _over_seasons(comparison: Comparison) -> bool:
    over = comparison.over_seasons
    return over is not None and any(part.season is not None for part in over.own)
