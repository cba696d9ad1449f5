"""The randomisation test: how often the draw of the layout alone would look like this.

Had no treatment any effect, each unit would have borne what it bore whatever it was given. The
treatments are therefore dealt out again as the layout dealt them (within blocks, whole plots
among whole plots, within whole plots, by rows and columns), every way where there are few, many
times with a fixed seed elsewhere, and each time the term is tested as before. No normal
distribution comes in.

With several factors on the same units, what the other terms explain is removed before the
units are dealt again (Freedman & Lane 1983). Over
several seasons or sites each one's treatments are dealt again among its own units, and a term is
held against its swings between them, as in the main analysis.

Formula: p = arrangements with an F as large / all arrangements; (1 + as large) / (1 + drawn) where
    a sample is drawn.
Limits: p is never below 1 / arrangements, so that a layout with few of them cannot reach a small
    alpha.
Source: Edgington & Onghena 2007, Randomization Tests, chapters 3 to 6; Freedman & Lane 1983, J.
    Business & Economic Statistics 1:292.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trials.stats.checks.arrangements import DRAWS, arrangements
from trials.stats.checks.randomised_units import (
    Lottery,
    Undealt,
    lottery_of,
    orthonormal,
    sum_to_zero,
)
from trials.stats.design.structure import Structure
from trials.stats.design.table import Codes, Floats
from trials.stats.design.terms import Term
from trials.stats.what_was_tested import SecondOpinion, TermTest

_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Redrawn:
    """What dealing again says of one term.

    ``p``: the share of arrangements in which the term's F is as large as it was. ``chances``
    (k, k), for a single factor: the share in which *any* two of its levels come to differ by as
    many standard errors as these two did. ``arrangements`` counts the ways that were tried, all
    there are where ``exact``; ``alike`` of them are the drawn one with its treatments renamed, and
    have its F whatever the plots yield. ``adjusted`` where units were cleared of what they lost
    with missing plots, so that the test holds nearly rather than exactly.
    """

    term: str
    p: float
    chances: Floats | None
    arrangements: int
    exact: bool
    alike: int = 1
    adjusted: bool = False

    @property
    def different(self) -> int:
        """How many of the arrangements differ by more than the names of the treatments."""
        return self.arrangements // self.alike

    @property
    def smallest_p(self) -> float:
        """No smaller p-value than this can come out."""
        if self.exact:
            return self.alike / self.arrangements
        return 1.0 / (self.arrangements + 1)


def redrawn(
    structure: Structure, y: Floats, tests: Sequence[TermTest], draws: int = DRAWS
) -> tuple[Redrawn, ...]:
    """Deal the layout again for each tested term that it can be done for.

    ``y`` (n,) is the measure of the recorded plots. ``not_dealt`` says why the others are left
    out.
    """
    named = {term.name: term for term in structure.terms}
    found = []
    for test in tests:
        lottery = lottery_of(structure, y, named[test.term])
        if isinstance(lottery, Lottery):
            levels = _levels(structure, named[test.term])
            found.append(deal_again(test.term, lottery, levels, draws))
    return tuple(each for each in found if each is not None)


def not_dealt(
    structure: Structure, y: Floats, tests: Sequence[TermTest], found: Sequence[Redrawn]
) -> tuple[Undealt, ...]:
    """Why the tested terms that are missing from ``found`` could not be dealt again."""
    named = {term.name: term for term in structure.terms}
    done = {each.term for each in found}
    reasons = []
    for test in tests:
        if test.term in done:
            continue
        lottery = lottery_of(structure, y, named[test.term])
        reasons.append(
            lottery
            if isinstance(lottery, Undealt)
            else Undealt(test.term, "nothing is left to randomise it against.")
        )
    return tuple(reasons)


def second_opinion(
    found: Sequence[Redrawn], tests: Sequence[TermTest], alpha: float
) -> SecondOpinion | None:
    """The randomisation test beside the main one; None where no term could be dealt again.

    A term whose layout has too few arrangements to reach ``alpha`` is not held against the main
    analysis, and is named in the note.
    """
    if not found:
        return None
    main = {test.term: test.p for test in tests}
    able = [each for each in found if each.smallest_p <= alpha]
    turned = [each.term for each in able if (each.p <= alpha) != (main[each.term] <= alpha)]
    unable = [each for each in found if each.smallest_p > alpha]
    notes = [
        f"{each.term} has only {each.different} possible randomisations, too few to reach "
        f"{alpha:g}: the p-value cannot fall below {each.smallest_p:.3g}."
        for each in unable
    ]
    adjusted = [each.term for each in found if each.adjusted]
    if adjusted:
        notes.append(
            f"For {', '.join(adjusted)} the larger units were adjusted for missing plots, so the "
            "test is nearly exact."
        )
    if turned:
        notes.append(
            f"The two tests fall on different sides of {alpha:g} for {', '.join(turned)}: "
            "treat it as undecided."
        )
    return SecondOpinion(
        method="randomisation test",
        p=tuple((each.term, each.p) for each in found),
        agrees=not turned,
        note=" ".join(notes),
        at_best=tuple((each.term, each.smallest_p) for each in found),
    )


def deal_again(
    term: str, lottery: Lottery, levels: Floats | None, draws: int = DRAWS
) -> Redrawn | None:
    """Deal the treatments of a lottery again and test the term each time.

    ``levels`` (k, q) says what each level of a single factor is in terms of ``effect``; without it
    no pair is looked at. None where the units alone leave nothing to test the term with or by.
    """
    known = orthonormal(lottery.rest)
    own = lottery.effect - known @ (known.T @ lottery.effect)
    basis = orthonormal(own)
    q, error_df = basis.shape[1], len(lottery.values) - known.shape[1] - basis.shape[1]
    against = None
    if lottery.error is not None:
        both = np.hstack([known, basis])
        against = orthonormal(lottery.error - both @ (both.T @ lottery.error))
        error_df = against.shape[1]
    if q == 0 or error_df < 1:
        return None
    index, exact = arrangements(lottery, draws)
    left = lottery.values - known @ (known.T @ lottery.values)
    dealt = np.empty((len(index) + 1, len(left)))
    dealt[0] = left  # first as it was
    np.take(left, index, out=dealt[1:], mode="clip")  # the other modes copy it once more
    term_squares, error = _squares(dealt, known, basis, against)
    ratios = term_squares / error
    as_large = ratios >= (1.0 - _ROUNDING) * ratios[0]

    chances = None
    if levels is not None:
        solve = np.linalg.pinv(own)
        effects = dealt @ solve.T @ levels.T
        spread = levels @ (solve @ solve.T) @ levels.T
        chances = _pair_chances(effects, spread, np.sqrt(error / error_df), exact)
    alike = _alike(index, known, basis, against) if exact else 1
    share = _share(as_large[1:], exact)
    return Redrawn(term, share, chances, len(index), exact, alike, lottery.adjusted)


def _squares(
    dealt: Floats, known: Floats, basis: Floats, against: Floats | None
) -> tuple[Floats, Floats]:
    """The sums of squares (a,) of the term and of its error in each row of ``dealt`` (a, u)."""
    term = ((dealt @ basis) ** 2).sum(axis=1)
    whole = float(dealt[0] @ dealt[0])
    if against is None:
        error = whole - ((dealt @ known) ** 2).sum(axis=1) - term
    else:
        error = ((dealt @ against) ** 2).sum(axis=1)
    return term, np.maximum(error, 1e-14 * whole)


def _alike(index: Codes, known: Floats, basis: Floats, against: Floats | None) -> int:
    """How many arrangements (a, u) give the drawn one's F whatever the units bear.

    Found with numbers of no pattern in place of what was measured.
    """
    values = np.random.default_rng(1).normal(size=index.shape[1])
    left = values - known @ (known.T @ values)
    term, error = _squares(np.vstack([left, left[index]]), known, basis, against)
    ratios = term / error
    same = np.abs(ratios[1:] - ratios[0]) <= _ROUNDING * ratios[0]
    return max(int(np.count_nonzero(same)), 1)


def _share(as_large: np.ndarray[tuple[int], np.dtype[np.bool_]], exact: bool) -> float:
    """All arrangements include the one that was drawn; a sample of them has it added."""
    count = int(np.count_nonzero(as_large))
    return count / len(as_large) if exact else (count + 1) / (len(as_large) + 1)


def _pair_chances(effects: Floats, spread: Floats, error: Floats, exact: bool) -> Floats:
    """Single-step adjusted chances of all pairs (Westfall & Young 1993, section 2.3.1)."""
    k = effects.shape[1]
    variance = np.diag(spread)
    size = np.sqrt(np.maximum(variance[:, None] + variance - 2.0 * spread, 0.0))
    np.fill_diagonal(size, 1.0)
    first, second = np.triu_indices(k, 1)
    if np.ptp(size[first, second]) <= 1e-9 * size[0, 1]:
        largest = np.ptp(effects, axis=1) / size[0, 1]
    else:
        largest = np.zeros(len(effects))
        for i in range(k - 1):
            apart = np.abs(effects[:, i + 1 :] - effects[:, [i]]) / size[i, i + 1 :]
            np.maximum(largest, apart.max(axis=1), out=largest)
    largest = np.sort(largest[1:] / error[1:])
    seen = np.abs(effects[0][:, None] - effects[0]) / size / error[0]
    count = len(largest) - np.searchsorted(largest, (1.0 - _ROUNDING) * seen)
    chances = count / len(largest) if exact else (count + 1) / (len(largest) + 1)
    np.fill_diagonal(chances, 1.0)
    return np.asarray(chances)


def _levels(structure: Structure, term: Term) -> Floats | None:
    """A single factor's levels in terms of its own columns (k, k - 1), else None."""
    if len(term.factors) > 1:
        return None
    return sum_to_zero(len(structure.cells.levels[term.factors[0]]))
