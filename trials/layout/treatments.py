"""The treatments of a plan: combinations of levels, by the piece of ground they are given to."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import product
from math import prod

from trials.layout.plan import TrialPlan
from trials.model.trial import AppliedTo, Factor
from trials.stats.what_was_tested import Levels


def factors_on(plan: TrialPlan, unit: AppliedTo) -> tuple[Factor, ...]:
    """The plan's factors that are given to one kind of ground."""
    return tuple(factor for factor in plan.factors if factor.applied_to is unit)


def treatments_on(plan: TrialPlan, unit: AppliedTo) -> tuple[Levels, ...]:
    """Every combination of the levels given to one kind of ground; one empty one without any."""
    named = [[(f.name, level) for level in f.levels] for f in factors_on(plan, unit)]
    return tuple(product(*named))


def treatment_count(plan: TrialPlan, unit: AppliedTo) -> int:
    """How many combinations of levels are given to one kind of ground."""
    return prod(len(factor.levels) for factor in factors_on(plan, unit))


def joined(plan: TrialPlan, parts: Iterable[Levels]) -> Levels:
    """A plot's levels from those of the pieces of ground it lies in, in the plan's order."""
    level = dict(pair for part in parts for pair in part)
    return tuple((factor.name, level[factor.name]) for factor in plan.factors)


def entry_factor(plan: TrialPlan) -> Factor:
    """The factor that names the varieties.

    It is the one with the checks among its levels; without checks, the plots' own with the most
    levels.
    """
    if plan.checks:
        return next(f for f in plan.factors if set(plan.checks) <= set(f.levels))
    finest = factors_on(plan, AppliedTo.PLOT) or plan.factors
    return max(finest, key=lambda factor: len(factor.levels))


def lettered(number: int) -> str:
    """a, b, ..., z, aa, ab, ... for 0, 1, ...: the names of pieces within a block."""
    letters = ""
    number += 1
    while number:
        number, place = divmod(number - 1, 26)
        letters = chr(ord("a") + place) + letters
    return letters
