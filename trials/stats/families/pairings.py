"""Which levels of a term are compared with one another, and what each family says of them.

Formula: LSD = t(1 - alpha / 2, df) × standard error of a difference.
Limits: The LSD is shown only where the joint test finds the term real, and holds for one pair, not
    for all at once.
Source: Fisher 1935, The Design of Experiments (the protected form).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trials.stats import families
from trials.stats.design.linear_model import Fit
from trials.stats.design.structure import Structure
from trials.stats.design.table import Codes, Floats, Question
from trials.stats.design.terms import Term, levels_of
from trials.stats.distributions.quadrature import t_quantile
from trials.stats.families.letters import letters
from trials.stats.results import AgainstBest, LeastDifference, Pair
from trials.stats.what_was_tested import Levels, TermTest


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """Entries of a term that are compared with one another: one family of comparisons.

    ``entries`` (k,) are rows of the term's weights. ``factor`` is what varies among them, within
    the levels ``within`` of the term's other factors; None where whole combinations are compared.
    """

    term: Term
    factor: int | None
    within: Levels
    entries: Codes
    levels: tuple[Levels, ...]

    @property
    def weights(self) -> Floats:
        return self.term.weights[self.entries]


@dataclass(frozen=True, slots=True, eq=False)
class Compared:
    """A group with its adjusted means and all its pairs."""

    group: Group
    means: Floats
    cov: Floats
    df_of: families.DfOf
    pairs: families.Differences


def groups_of(structure: Structure, fit: Fit, term: Term) -> tuple[Group, ...]:
    """The groups of a term that the layout can compare.

    A main effect is one group. In a term of several factors the levels of each factor are
    compared within every combination of the others. Levels that the layout keeps apart (they
    never meet in a block, or stand on units without replication) fall into groups of their own.
    """
    found: list[Group] = []
    for place, factor in enumerate(term.factors):
        others = [i for i in range(len(term.factors)) if i != place]
        _, where = np.unique(term.codes[:, others], axis=0, return_inverse=True)
        for k in range(int(where.max(initial=-1)) + 1):
            entries = np.flatnonzero(where == k)
            within = levels_of(
                structure.cells,
                tuple(term.factors[i] for i in others),
                term.codes[entries[0], others],
            )
            found += [
                Group(
                    term,
                    factor,
                    within,
                    together,
                    tuple(
                        levels_of(structure.cells, (factor,), term.codes[entry, [place]])
                        for entry in together
                    ),
                )
                for together in _comparable_sets(structure, fit, term, entries)
            ]
    return tuple(found)


def _comparable_sets(
    structure: Structure, fit: Fit, term: Term, entries: Codes
) -> tuple[Codes, ...]:
    """The entries in sets of at least two whose differences the layout carries."""
    if comparable(structure, fit, term.weights[entries]):
        return (entries,)
    sets: list[Codes] = []
    left = entries
    while len(left) > 1:
        steps = term.weights[left] - term.weights[left[0]]
        joined = fit.estimable(steps) & structure.carries(steps)
        joined[0] = True
        if np.count_nonzero(joined) > 1:
            sets.append(left[joined])
        left = left[~joined]
    return tuple(sets)


def whole_group(structure: Structure, fit: Fit, term: Term) -> Group | None:
    """All combinations of a term as one group, where the layout can compare them."""
    levels = tuple(levels_of(structure.cells, term.factors, codes) for codes in term.codes)
    group = Group(term, None, (), np.arange(len(levels)), levels)
    return group if comparable(structure, fit, group.weights) else None


def comparable(structure: Structure, fit: Fit, weights: Floats) -> bool:
    """Whether every difference between the rows of ``weights`` can be estimated and judged."""
    if len(weights) < 2:
        return False
    steps = weights[1:] - weights[:-1]
    return bool(fit.estimable(steps).all() and structure.carries(steps).all())


def compared(group: Group, fit: Fit, alpha: float) -> Compared:
    """The adjusted means of a group and all its pairs."""
    weights = group.weights
    means = weights @ fit.means
    cov = weights @ fit.cov @ weights.T

    def df_of(contrasts: Floats) -> Floats:
        return fit.df.of_contrasts(contrasts @ weights)

    return Compared(group, means, cov, df_of, families.all_pairs(means, cov, df_of, alpha))


def pairs_of(each: Compared, found: families.Differences, margin: float | None) -> tuple[Pair, ...]:
    """A family of differences as pairs with their verdicts."""
    group = each.group
    verdicts = families.verdicts(found.low, found.high, margin)
    columns = (
        found.first,
        found.second,
        found.difference,
        found.se,
        found.df,
        found.t,
        found.p,
        found.p_adjusted,
        found.low,
        found.high,
    )
    rows = zip(*(column.tolist() for column in columns), verdicts, strict=True)
    return tuple(
        Pair(
            term=group.term.name,
            a=group.levels[a],
            b=group.levels[b],
            within=group.within,
            difference=difference,
            se=se,
            df=df,
            t=t,
            p=p,
            p_adjusted=p_adjusted,
            low=low,
            high=high,
            verdict=verdict,
        )
        for a, b, difference, se, df, t, p, p_adjusted, low, high, verdict in rows
    )


def with_check(each: Compared, check: str, alpha: float, margin: float | None) -> tuple[Pair, ...]:
    """Every other level less the check; empty where the check is not in the group."""
    names = [levels[0][1] for levels in each.group.levels]
    if check not in names:
        return ()
    found = families.with_check(each.means, each.cov, each.df_of, names.index(check), alpha)
    return pairs_of(each, found, margin)


def with_best(each: Compared, question: Question) -> tuple[AgainstBest, ...]:
    """Each level less the best of the others, among those in the running."""
    group = each.group
    left_out = [not question.not_in_running.isdisjoint(levels) for levels in group.levels]
    running = np.flatnonzero(~np.array(left_out))
    if len(running) < 2 or not question.not_in_running.isdisjoint(group.within):
        return ()

    def df_of(contrasts: Floats) -> Floats:
        of_all = np.zeros((len(contrasts), len(each.means)))
        of_all[:, running] = contrasts
        return each.df_of(of_all)

    means, cov = each.means[running], each.cov[np.ix_(running, running)]
    found = families.with_best(means, cov, df_of, question.better, question.alpha)
    rows = zip(found.low.tolist(), found.high.tolist(), found.could_be_best.tolist(), strict=True)
    return tuple(
        AgainstBest(group.term.name, group.levels[place], group.within, *row)
        for place, row in zip(running.tolist(), rows, strict=True)
    )


def letters_of(each: Compared, question: Question) -> tuple[str, ...]:
    """Letters of all pairs at the question's alpha; the best level has an 'a'."""
    differ = np.zeros((len(each.means),) * 2, dtype=bool)
    flags = each.pairs.p_adjusted <= question.alpha
    differ[each.pairs.first, each.pairs.second] = flags
    differ[each.pairs.second, each.pairs.first] = flags
    sign = -1.0 if question.better == "higher" else 1.0
    return letters(differ, np.argsort(sign * each.means, kind="stable"))


def least_difference(
    term: str,
    factor: str,
    of_factor: list[Compared],
    test: TermTest | None,
    alpha: float,
) -> LeastDifference:
    """The least significant difference of a factor's levels within a term.

    Student's t times the standard error of a difference, for each pair; ``value`` is the mean
    over pairs. Shown only where the joint test finds the term real (Fisher 1935, The Design of
    Experiments: the protected form).
    """
    if not of_factor:
        return LeastDifference(term, None, None, None, False, "there is nothing to compare", factor)
    df = np.concatenate([each.pairs.df for each in of_factor])
    se = np.concatenate([each.pairs.se for each in of_factor])
    least = t_quantile(1 - alpha / 2, df) * se
    shown = test is not None and test.p <= alpha
    why = (
        "the joint test finds differences"
        if shown
        else "there is no joint test of this term"
        if test is None
        else "the joint test finds no difference, so single pairs must not be picked out"
    )
    return LeastDifference(
        term, float(least.mean()), float(least.min()), float(least.max()), shown, why, factor
    )
