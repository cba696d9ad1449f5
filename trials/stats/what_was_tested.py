"""What a comparison tested and how its verdicts were checked, as values.

Every claim about all or none of the differences, and about all or none of the checks, is made from
these. ``Levels`` names treatment levels as ``((factor, level), ...)`` in the order of the treatment
columns.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

Levels = tuple[tuple[str, str], ...]


class Why(StrEnum):
    """Why some pairs of a factor's levels were not compared over all levels of the others."""

    CONSTANT = "no variation"
    NOT_REPLICATED = "not replicated"
    TOGETHER = "always together"
    EMPTY = "empty combinations"
    NEVER_MET = "never met"


@dataclass(frozen=True, slots=True)
class FactorTested:
    """How many of a factor's pairs were compared, and why not the others.

    ``compared`` of the ``possible`` pairs of levels with a figure were compared over all levels of
    the other factors. ``within`` counts the pairs of ``within_term`` that were compared inside
    single levels of its other factors; that term reaches the most levels that are left out.
    ``left_out`` are levels in none of the ``compared`` pairs, ``no_figure`` those whose plots have
    no figure at all. ``why`` is None where every possible pair was compared.
    """

    factor: str
    possible: int
    compared: int
    within: int
    within_term: str | None
    left_out: tuple[str, ...]
    no_figure: tuple[str, ...]
    why: Why | None


@dataclass(frozen=True, slots=True)
class WhatWasTested:
    """What a comparison tested: every claim about all or none of the differences rests on it.

    ``empty`` are the combinations of levels without a figure, and ``untested`` the terms without
    a joint test. ``always_together`` are the treatments that cannot be separated because each
    level of the one met a single level of the other, and the other way round.
    """

    factors: tuple[FactorTested, ...] = ()
    empty: tuple[Levels, ...] = ()
    untested: tuple[str, ...] = ()
    always_together: tuple[tuple[str, str], ...] = ()

    @property
    def complete(self) -> bool:
        """Whether every pair of every factor's levels was compared."""
        return all(each.why is None and not each.no_figure for each in self.factors)


class Diagnostic(StrEnum):
    """The checks of a fit and the other tests of its verdicts."""

    NORMALITY = "normality"
    EQUAL_VARIANCES = "equal variances"
    OUTLYING_PLOTS = "outlying plots"
    LEAVE_ONE_OUT = "leaving out one plot"
    RANDOMISATION = "randomisation test"
    COUNTS = "count model"
    UNEQUAL_VARIANCES = "test with unequal variances"


@dataclass(frozen=True, slots=True)
class Check:
    """One check of the assumptions: its p-value or statistic and whether it raises no doubt."""

    statistic: float
    p: float
    sound: bool


@dataclass(frozen=True, slots=True)
class OutlyingPlot:
    """A plot whose externally studentised residual is too large for luck (Bonferroni)."""

    plot: str
    residual: float
    studentised: float
    p: float


@dataclass(frozen=True, slots=True)
class TermTest:
    """The joint test of a term's contrasts among equally weighted adjusted means."""

    term: str
    num_df: float
    den_df: float
    F: float
    p: float


@dataclass(frozen=True, slots=True)
class SecondOpinion:
    """Another method's p-value for each term, and whether it agrees with the main analysis.

    ``at_best`` is the smallest p-value that the layout lets the method reach, for each term of
    which there is one. A term that cannot reach alpha says nothing for or against the main test.
    ``turned_pairs`` are the pairs (a, b) of single factors' levels whose verdict it changes, where
    it looks at pairs. ``tests`` are the F tests behind the p-values, where the method makes any.
    """

    method: str
    p: tuple[tuple[str, float], ...]  # (term, p)
    agrees: bool
    note: str = ""
    at_best: tuple[tuple[str, float], ...] = ()  # (term, p)
    turned_pairs: tuple[tuple[Levels, Levels], ...] = ()
    tests: tuple[TermTest, ...] = ()

    def able(self, alpha: float) -> tuple[tuple[str, float], ...]:
        """The terms, with their p-values, of which the method could come out below ``alpha``."""
        best = dict(self.at_best)
        return tuple((term, p) for term, p in self.p if best.get(term, 0.0) <= alpha)


@dataclass(frozen=True, slots=True)
class FragileVerdict:
    """A term's verdict that turns when a single plot is left out."""

    term: str
    plot: str
    p_without: float


@dataclass(frozen=True, slots=True)
class Solid:
    """Whether the verdicts stand up; a part is None where it was not asked for or means nothing.

    ``not_dealt``: (term, sentence) for tested terms that have no randomisation test, and why.
    ``made`` are the checks that were made; ``not_made`` those that this trial does not allow,
    each with what it lacks.
    """

    normality: Check | None = None
    equal_spread: Check | None = None
    outliers: tuple[OutlyingPlot, ...] = ()
    randomisation: SecondOpinion | None = None
    count_model: SecondOpinion | None = None
    unequal_variances: SecondOpinion | None = None
    fragile: tuple[FragileVerdict, ...] = ()
    not_dealt: tuple[tuple[str, str], ...] = ()
    made: tuple[Diagnostic, ...] = ()
    not_made: tuple[tuple[Diagnostic, str], ...] = ()

    @property
    def opinions(self) -> tuple[SecondOpinion, ...]:
        """The other tests of the verdicts that were made."""
        every = (self.randomisation, self.count_model, self.unequal_variances)
        return tuple(each for each in every if each is not None)


@dataclass(frozen=True, slots=True)
class Trend:
    """How a measure goes with a factor's numbers.

    ``slope`` is the change for one more ``unit`` of the factor, with its limits; ``rest`` is what
    neither line nor bend explains, None with three levels. ``best`` is where the bent line is
    highest (lowest, where less is better): None where it does not bend so beyond doubt, or where
    that lies outside the levels that were grown. Its limits are None where they are not both
    finite.
    """

    factor: str
    unit: str
    lowest: float
    highest: float
    slope: float
    slope_low: float
    slope_high: float
    straight: TermTest
    bend: TermTest
    rest: TermTest | None
    best: float | None = None
    best_low: float | None = None
    best_high: float | None = None
