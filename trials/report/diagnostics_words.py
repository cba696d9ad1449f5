"""What the checks of a fit and the other tests of its verdicts say, in one line and in doubts."""

from __future__ import annotations

from trials.report.figures import capital, count, listed, p_value
from trials.report.tested_words import factor_words, levels_noun
from trials.stats.results import Comparison
from trials.stats.what_was_tested import Diagnostic, SecondOpinion, TermTest

MOST_NAMED = 4
ENOUGH_DF = 3  # judgement: with fewer the error itself is hardly known, as for normality


def doubts_of(comparison: Comparison, term: str, *, found: bool) -> list[str]:
    """What takes away from the verdict on a term: tests that disagree, one plot, or no test.

    ``found`` says that the verdict is a difference; the first sentence starts with 'But'.
    """
    test = next((test for test in comparison.tests if test.term == term), None)
    if test is None:
        return []
    real = test.p <= comparison.alpha
    doubts = [
        f"the {_name(opinion)} {_differently(term, real=real)} "
        f"({p_value(dict(opinion.p)[term], comparison.alpha)}): treat {_subject(term)} as "
        "undecided."
        for opinion in comparison.solid.opinions
        if disagrees(comparison, opinion, term)
    ]
    doubts += _turned_pairs(comparison, term)
    plots = [item.plot for item in comparison.solid.fragile if item.term == term]
    if plots:
        doubts.append(
            f"the verdict on {_subject(term)} depends on {_any_of(plots)}: leaving "
            f"{'it' if len(plots) == 1 else 'one'} out changes the verdict."
        )
    if found and not _confirmable(comparison, term):
        doubts.append(_unconfirmed(test))
    return [
        f"But {doubt}" if number == 0 else capital(doubt) for number, doubt in enumerate(doubts)
    ]


def _turned_pairs(comparison: Comparison, factor: str) -> list[str]:
    """The pairs that another test sees differently, where it agrees on the levels as a whole."""
    doubts = []
    for opinion in comparison.solid.opinions:
        turned = [f"{a[0][1]} and {b[0][1]}" for a, b in opinion.turned_pairs if a[0][0] == factor]
        if turned and not disagrees(comparison, opinion, factor):
            doubts.append(
                f"the {_name(opinion)} gives another verdict on "
                f"{count(len(turned), 'pair')}: {listed(turned, most=4)}. Treat "
                f"{'it' if len(turned) == 1 else 'them'} as undecided."
            )
    return doubts


def disagrees(comparison: Comparison, opinion: SecondOpinion, term: str) -> bool:
    """Whether another test that could have come out either way falls on the other side."""
    main = {test.term: test.p for test in comparison.tests}
    other = dict(opinion.able(comparison.alpha)).get(term)
    if other is None or term not in main:
        return False
    return (other <= comparison.alpha) != (main[term] <= comparison.alpha)


def _confirmable(comparison: Comparison, term: str) -> bool:
    """Whether another test of the term was made, or none was asked for."""
    asked = {*comparison.solid.made, *(name for name, _ in comparison.solid.not_made)}
    if Diagnostic.RANDOMISATION not in asked:
        return True
    return any(
        term in dict(opinion.able(comparison.alpha)) for opinion in comparison.solid.opinions
    )


def _subject(term: str) -> str:
    first, *others = map(factor_words, term.split(":"))
    return f"the interaction of {first} and {listed(others)}" if others else first


def _name(opinion: SecondOpinion) -> str:
    return opinion.method.split(" (", maxsplit=1)[0]


def _differently(term: str, *, real: bool) -> str:
    if real:
        return "does not rule out chance"
    return "finds one" if ":" in term else f"finds that {levels_noun(term)} differ"


def _any_of(plots: list[str]) -> str:
    if len(plots) == 1:
        return f"one plot, {plots[0]}"
    if len(plots) <= MOST_NAMED:
        return f"any one of {len(plots)} plots ({listed(plots)})"
    others = len(plots) - MOST_NAMED
    return f"any one of {len(plots)} plots ({', '.join(plots[:MOST_NAMED])} or {others} others)"


def solid_line(comparison: Comparison) -> str:
    """One line on whether the checks and the other tests agree, and how many could be made."""
    solid = comparison.solid
    if not comparison.tests and not comparison.all_pairs:
        return "There is nothing to check, as no treatment was tested."
    doubts = _doubts(comparison)
    asked = len(solid.made) + len(solid.not_made)
    if not solid.made:
        said = "None could be made." if asked else "Not checked."
    elif doubts:
        said = f"Not all: {'; '.join(doubts)}. {_made(comparison)}"
    elif not solid.not_made:
        said = f"Yes. {_made(comparison)}"
    else:
        said = f"Yes, as far as they could be made. {_made(comparison)}"
    alone = [test for test in comparison.tests if _alone(comparison, test)] if solid.made else []
    said = " ".join([said, *(capital(_unconfirmed(test)) for test in alone)])
    lacking = [f"{name} ({why})" for name, why in solid.not_made]
    return f"{said} Not possible here: {'; '.join(lacking)}." if lacking else said


def _unconfirmed(test: TermTest) -> str:
    hint = ", so it is only a hint" if test.den_df < ENOUGH_DF - 1e-6 else ""
    return f"no second test could confirm the result for {_subject(test.term)}{hint}."


def _alone(comparison: Comparison, test: TermTest) -> bool:
    return test.p <= comparison.alpha and not _confirmable(comparison, test.term)


def _made(comparison: Comparison) -> str:
    solid = comparison.solid
    asked = len(solid.made) + len(solid.not_made)
    if len(solid.made) == asked:
        return f"{count(asked, 'check')} made."
    return f"{len(solid.made)} of {count(asked, 'check')} made."


def _doubts(comparison: Comparison) -> list[str]:
    solid = comparison.solid
    doubts = []
    if solid.normality is not None and not solid.normality.sound:
        doubts.append("residuals are not normal")
    if solid.equal_spread is not None and not solid.equal_spread.sound:
        doubts.append("some levels vary more than others")
    if solid.outliers:
        doubts.append(f"outliers: {listed([item.plot for item in solid.outliers])}")
    doubts += [
        f"{opinion.method} disagrees. {opinion.note}".strip().rstrip(".")
        for opinion in solid.opinions
        if not opinion.agrees
    ]
    if solid.fragile:
        turning: dict[str, list[str]] = {}
        for item in solid.fragile:
            turning.setdefault(item.term, []).append(item.plot)
        doubts += [
            f"the verdict on {_subject(term)} depends on {_any_of(plots)}"
            for term, plots in turning.items()
        ]
    return doubts
