"""What counting says beside the main analysis: stems as counts, or as shares of all stems."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from enum import StrEnum

import numpy as np

from trials.stats.checks.counts import CountTest, Fit, count_test, fit_counts, remembering
from trials.stats.checks.randomised_units import Undealt, lottery_of, season_totals
from trials.stats.checks.share_model import fit_shares, share_test
from trials.stats.design.structure import Structure
from trials.stats.design.table import Codes, Floats
from trials.stats.design.terms import Term
from trials.stats.what_was_tested import SecondOpinion, TermTest


class Counted(StrEnum):
    """What the counts are: stems on plants, or so many of so many."""

    STEMS = "counts"
    SHARES = "shares"


_TESTS: dict[Counted, tuple[Callable[..., CountTest | None], Fit]] = {
    Counted.STEMS: (count_test, fit_counts),
    Counted.SHARES: (share_test, fit_shares),
}
_NAMES = {Counted.STEMS: "count model ({})", Counted.SHARES: "share model ({})"}


def count_opinion(
    structure: Structure,
    counts: Floats,
    plants: Floats,
    tests: Sequence[TermTest],
    alpha: float,
    counted: Counted = Counted.STEMS,
) -> SecondOpinion | None:
    """The count (or share) model's p-value of each tested term, beside the main one.

    ``counts`` and ``plants`` (n,), what they were counted on or of, are of the recorded plots.
    Terms are left out where the randomisation test leaves them out, and where larger units have
    missing plots, so that their totals are not of the same treatments. Over seasons the totals of
    each level in each season are judged against their swings. None where no term is left.
    """
    named = {term.name: term for term in structure.terms}
    found: list[tuple[TermTest, CountTest]] = []
    test_of, fit = _TESTS[counted]
    fit = remembering(fit)
    for test in tests:
        totals = _totals(structure, counts, named[test.term])
        if totals is None:
            continue
        units, effect, rest = totals
        tested = test_of(
            np.asarray(np.bincount(units, counts), dtype=float),
            np.asarray(np.bincount(units, plants), dtype=float),
            effect,
            rest,
            fit,
        )
        if tested is not None:
            found.append((test, tested))
    if not found:
        return None
    turned = [main.term for main, count in found if (main.p <= alpha) != (count.p <= alpha)]
    finest = max((count for _, count in found), key=lambda count: count.den_df)
    notes = []
    if turned:
        notes.append(
            f"Tested as {counted}, {', '.join(turned)} would fall on the other side of {alpha:g}."
        )
    return SecondOpinion(
        method=_NAMES[counted].format(_growth(finest, counted)),
        p=tuple((main.term, count.p) for main, count in found),
        agrees=not turned,
        note=" ".join(notes),
        tests=tuple(
            TermTest(main.term, count.num_df, count.den_df, count.F, count.p)
            for main, count in found
        ),
    )


def _totals(
    structure: Structure, counts: Floats, term: Term
) -> tuple[Codes, Floats, Floats] | None:
    """The units whose totals a term is judged by, its columns and those of all else."""
    if structure.ground.trial is not None:
        return season_totals(structure, term) if term.whole else None
    lottery = lottery_of(structure, counts, term)
    if isinstance(lottery, Undealt) or lottery.adjusted:
        return None
    return lottery.units, lottery.effect, lottery.rest


def _growth(test: CountTest, counted: Counted) -> str:
    if counted is Counted.SHARES:
        return f"variance: {test.dispersion:.2g} times that of chance"
    if test.square > 0.0:
        return f"variance: the mean, and {test.square:.2g} times its square"
    return f"variance: {test.dispersion:.2g} times the mean"
