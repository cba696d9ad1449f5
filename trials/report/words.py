"""What a comparison comes to in sentences a grower can repeat at market."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import median

from trials.report.figures import Figures, count, figures_of, listed, per_cent
from trials.report.scales import differences_of, surest_words
from trials.stats.results import Comparison, LayoutKind, Levels, Pair, Verdict
from trials.stats.table import Scale
from trials.units import UnitSystem


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


def level_words(levels: Levels) -> str:
    """'pinched' for one factor, 'pinched, Variety' for several."""
    return ", ".join(level for _, level in levels)


def plain_words(comparison: Comparison, system: UnitSystem = UnitSystem.METRIC) -> PlainWords:
    """The three sentences of a comparison.

    Every amount is the simultaneous limit nearest to no difference ('at least'), never the
    estimate alone.
    """
    figures = figures_of(comparison, system)
    return PlainWords(
        differs=" ".join(_differs(comparison, figures)),
        not_told=" ".join(_not_told(comparison, figures)),
        not_answered=" ".join(_not_answered(comparison)),
    )


def _main_pairs(comparison: Comparison) -> dict[str, list[Pair]]:
    """The pairs of each main effect, by factor."""
    by_term: dict[str, list[Pair]] = {}
    for pair in comparison.all_pairs:
        if not pair.within and ":" not in pair.term:
            by_term.setdefault(pair.term, []).append(pair)
    return by_term


def _differs(comparison: Comparison, figures: Figures) -> list[str]:
    if not comparison.all_pairs:
        return ["Nothing is compared here: see below for what this layout cannot answer."]
    how = differences_of(comparison, figures)
    sentences = []
    for factor, pairs in _main_pairs(comparison).items():
        shown = [p for p in pairs if p.verdict in (Verdict.MORE, Verdict.LESS)]
        if not shown:
            continue
        surest = max(shown, key=how.at_least)
        more, less = (
            (surest.a, surest.b) if surest.verdict is Verdict.MORE else (surest.b, surest.a)
        )
        sentences.append(
            surest_words(comparison, surest, level_words(more), level_words(less), how)
        )
        if len(pairs) > 1:
            sentences.append(
                f"Of {count(len(pairs), 'pair')} of {factor} levels, "
                f"{len(shown)} {'differs' if len(shown) == 1 else 'differ'}."
            )
    sentences += [
        f"What {first} does depends on {' and '.join(others)}: read them together."
        for test in comparison.tests
        for first, *others in [test.term.split(":")]
        if others and test.p < comparison.alpha
    ]
    luck = (
        "the luck of the bed makes"
        if comparison.over_seasons is None
        else "the luck of the beds and the swing between them make"
    )
    return sentences or [f"No difference in {comparison.measure} is beyond what {luck}."]


def _not_told(comparison: Comparison, figures: Figures) -> list[str]:
    how = differences_of(comparison, figures)
    sentences = []
    for factor, pairs in _main_pairs(comparison).items():
        unknown = [p for p in pairs if p.verdict is Verdict.UNKNOWN]
        if not unknown:
            continue
        reach = median(how.reach(p) for p in unknown)
        share = (
            f", {per_cent(reach / abs(comparison.grand_mean))} of the mean"
            if comparison.grand_mean and comparison.scale == Scale.IDENTITY
            else ""
        )
        which = (
            f"{level_words(unknown[0].a)} and {level_words(unknown[0].b)} ({factor})"
            if len(pairs) == 1
            else f"{len(unknown)} of {count(len(pairs), 'pair')} of {factor} levels"
        )
        article = "an" if how.noun.startswith("o") else "a"
        sentences.append(
            f"Could not be told apart: {which}; {article} {how.noun} under about "
            f"{how.figures.amount(reach)}{share} would not have shown in this trial."
        )
    if not sentences and comparison.all_pairs:
        return ["Every pair got an answer."]
    return sentences or ["Without replication no difference, however large, can be told from luck."]


def _not_answered(comparison: Comparison) -> list[str]:
    layout = comparison.layout
    sentences = [f"{item.reason} {item.remedy}" for item in layout.not_replicated]
    sentences += [
        f"{listed(names)} always went together, so their effects cannot be separated."
        for names in layout.confounded
    ]
    sentences.append(
        "These beds had one season: what another season brings is not in these figures."
        if not _over_seasons(comparison)
        else "These seasons are the only ones seen: the next may move all of these figures."
    )
    return sentences


def _over_seasons(comparison: Comparison) -> bool:
    over = comparison.over_seasons
    return over is not None and any(part.season is not None for part in over.own)
