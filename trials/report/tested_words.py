"""What was compared, what was left out and why, in sentences made from the list of tests."""

from __future__ import annotations

from trials.model.units import FACTOR_UNITS, level_with_unit
from trials.report.figures import Figures, capital, count, listed, pairs_of
from trials.stats.results import Comparison, LayoutKind
from trials.stats.what_was_tested import FactorTested, Levels, Why

MOST_NAMED = 4

_PLURALS = {
    "variety": "varieties",
    "cultivar": "cultivars",
    "entry": "entries",
    "treatment": "treatments",
}


def factor_words(factor: str) -> str:
    """A factor's name without the unit that a column carries in its name.

    >>> factor_words("spacing_cm")
    'spacing'
    """
    name, _, unit = factor.rpartition("_")
    return (name if name and unit in FACTOR_UNITS else factor).replace("_", " ")


def factor_heading(factor: str) -> str:
    """A factor's name over a column of its levels, with the unit of the bare numbers below.

    >>> factor_heading("spacing_cm")
    'spacing (cm)'
    """
    words = factor_words(factor)
    unit = factor.rpartition("_")[2]
    return f"{words} ({unit})" if words != factor.replace("_", " ") else words


def levels_noun(factor: str) -> str:
    """'varieties', or 'pinch levels' where a factor has no plural of its own."""
    return _PLURALS.get(factor, f"{factor_words(factor)} levels")


def _capital(sentence: str) -> str:
    return capital(sentence)


def level_words(levels: Levels) -> str:
    """'pinched' for one factor, 'pinched, Variety' for several."""
    return ", ".join(level for _, level in levels)


def spoken(levels: Levels) -> str:
    """The same within a sentence: a bare number has the unit of its factor, '20 cm'."""
    return ", ".join(level_with_unit(factor, level) for factor, level in levels)


def combination_words(levels: Levels) -> str:
    """'a3 with b2'."""
    return " with ".join(level for _, level in levels)


def nothing_compared(comparison: Comparison, figures: Figures) -> str:
    """Why there is no difference to speak of at all."""
    whys = {each.why for each in comparison.tested.factors if each.why is not None}
    if Why.CONSTANT in whys:
        return (
            f"Nothing was compared: {comparison.measure} is "
            f"{figures.amount(comparison.grand_mean)} in every plot."
        )
    reasons = {
        Why.NOT_REPLICATED: "no treatment has replicates to estimate the error from",
        Why.TOGETHER: f"the effects of {_together(comparison)} cannot be separated",
        Why.NEVER_MET: "the levels never met within a block"
        if not _in_rows_and_columns(comparison)
        else "the plots with a figure cannot separate the levels from rows and columns",
        Why.EMPTY: "too many combinations of the treatments have no figure",
    }
    said = [words for why, words in reasons.items() if why in whys]
    return f"Nothing was compared: {listed(said)}." if said else "Nothing was compared."


def _in_rows_and_columns(comparison: Comparison) -> bool:
    return comparison.layout.kind in (LayoutKind.LATIN_SQUARE, LayoutKind.ROW_COLUMN)


def _together(comparison: Comparison) -> str:
    names = [
        factor_words(each.factor) for each in comparison.tested.factors if each.why is Why.TOGETHER
    ]
    return listed(names)


def left_out_sentences(comparison: Comparison) -> list[str]:
    """A sentence for each factor of which some pairs were not compared, and why."""
    sentences = []
    for each in comparison.tested.factors:
        if each.no_figure:
            sentences.append(
                f"No plot of {listed(each.no_figure, MOST_NAMED)} ({factor_words(each.factor)}) "
                "has a figure, so "
                f"{'it is' if len(each.no_figure) == 1 else 'they are'} not compared."
            )
        if each.why is Why.EMPTY:
            sentences.append(_empty(comparison, each).strip())
        elif each.why is Why.NEVER_MET:
            why = "the others never met within a block, directly or through other levels"
            if _in_rows_and_columns(comparison):
                why = "the plots with a figure cannot separate the others from rows and columns"
            sentences.append(f"{_capital(_how_many(each))}: {why}.")
        elif each.why is not None and each.within:
            sentences.append(_within(each))
    return sentences


def _empty(comparison: Comparison, each: FactorTested) -> str:
    """Which levels have no mean over all levels of the other factors, and for lack of what."""
    lacking = {
        level: [
            combination_words(tuple(part for part in levels if part[0] != each.factor))
            for levels in comparison.tested.empty
            if (each.factor, level) in levels
        ]
        for level in each.left_out
    }
    named = [(level, names) for level, names in lacking.items() if names]
    others = listed(
        [
            factor_words(factor.name)
            for factor in comparison.layout.factors
            if factor.name != each.factor
        ]
    )
    sentences = [
        f"{level} has no figure with {listed(names, MOST_NAMED)}, so it has no mean over "
        f"all levels of {others}."
        for level, names in named[:MOST_NAMED]
    ]
    more = len(named) - MOST_NAMED
    if more > 0:
        sentences.append(
            f"{count(more, 'more level')} of {factor_words(each.factor)} lack such a mean."
        )
    return " ".join([*sentences, f"Over all levels of {others}, {_how_many(each)}.", _within(each)])


def _how_many(each: FactorTested) -> str:
    """'1 of the 3 pairs of a levels was compared', 'all 3 pairs of a levels were compared'."""
    noun = levels_noun(each.factor)
    if not each.compared:
        return f"no pair of {noun} was compared"
    verb = "was" if each.compared == 1 else "were"
    return f"{pairs_of(each.compared, each.possible)} of {noun} {verb} compared"


def _within(each: FactorTested) -> str:
    """How many pairs stand in for them; '' where there are none."""
    if not each.within:
        return ""
    names = (each.within_term or "").split(":")
    others = [factor_words(name) for name in names if name != each.factor]
    return (
        f"Within single levels of {listed(others)}, {count(each.within, 'pair')} of "
        f"{levels_noun(each.factor)} {'was' if each.within == 1 else 'were'} compared."
    )


def together_sentences(comparison: Comparison) -> list[str]:
    """What never came apart, treatment from treatment or treatment from block."""
    names = [factor.name for factor in comparison.layout.factors]
    sentences = []
    for pair in comparison.layout.confounded:
        first, second = pair[0], pair[1]
        if second not in names:
            sentences.append(
                f"The levels of {first} fall into groups that share no {second}, so the groups "
                "cannot be compared with each other."
            )
        elif (first, second) in comparison.tested.always_together:
            sentences.append(
                f"{first} and {second} always went together, so their effects cannot be "
                "separated, and neither was compared by itself."
            )
        else:
            sentences.append(
                f"The levels of {first} and {second} fall into groups that never met, so their "
                "effects cannot be separated, and neither was compared by itself."
            )
    return sentences
