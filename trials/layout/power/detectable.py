"""What a planned trial will be able to tell, and how many replicates a wanted difference needs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from trials.errors import UnknownName
from trials.layout.plan import TrialPlan
from trials.layout.power.differences import Between, Difference, differences
from trials.layout.power.power import (
    Family,
    chance_of_finding,
    critical_t,
    difference_found,
    difference_found_jointly,
)
from trials.layout.power.variation import Spread
from trials.stats.results import LayoutKind

USUAL_CHANCE = 0.80  # the chance of finding a difference that texts plan for (Cohen 1988)
MOST_REPLICATES = 60  # more plots of an entry than that no grower sets out


@dataclass(frozen=True, slots=True)
class Found:
    """What one family of comparisons can find; all differences in per cent of the mean.

    ``least_percent`` is the observed difference that counts as real (the least significant
    difference for ONE_PAIR). ``found_percent`` is the true difference that is found with the row's
    chance.
    """

    family: Family
    critical: float
    least_percent: float
    found_percent: float


@dataclass(frozen=True, slots=True)
class Detectable:
    """What the plan can tell of one kind of difference.

    ``found`` has one entry for each family that applies, and none where the plan leaves nothing
    to judge by (``difference.df`` is 0). ``joint_percent`` is the difference of two levels, the
    others midway, that the joint test finds with ``chance``; None where it does not exist or the
    levels do not share one standard error.
    """

    difference: Difference
    alpha: float
    chance: float
    found: tuple[Found, ...]
    joint_percent: float | None

    def of(self, family: Family) -> Found | None:
        """The figures of one family; None where it does not apply."""
        return next((each for each in self.found if each.family is family), None)


def detectable(
    plan: TrialPlan,
    spread: Spread,
    chance: float = USUAL_CHANCE,
    efficiency: float | None = None,
) -> tuple[Detectable, ...]:
    """What ``plan`` can tell with plots that differ as ``spread`` says: one row a kind.

    ``efficiency`` is the average efficiency factor of incomplete blocks once they are laid out.
    The comparison with the check is there for the factor that has a check among its levels.
    """
    return tuple(
        _row(difference, plan, chance) for difference in differences(plan, spread, efficiency)
    )


def _row(difference: Difference, plan: TrialPlan, chance: float) -> Detectable:
    if difference.df <= 0:
        return Detectable(difference, plan.alpha, chance, (), None)
    found = tuple(
        found_in(family, difference, plan.alpha, chance) for family in _families(difference, plan)
    )
    # With a standard error for each pair the joint test depends on more than a difference.
    joint = (
        difference_found_jointly(
            chance, difference.levels, difference.sed_percent, difference.df, plan.alpha
        )
        if difference.between is Between.ANY and not difference.within
        else None
    )
    return Detectable(difference, plan.alpha, chance, found, joint)


def found_in(family: Family, difference: Difference, alpha: float, chance: float) -> Found:
    """What a family can find of a difference with a standard error and degrees of freedom."""
    sed, df = difference.sed_percent, difference.df
    critical = critical_t(family, alpha, difference.levels, df, difference.check_share)
    return Found(
        family,
        critical,
        critical * sed,
        difference_found(chance, sed, df, critical),
    )


def _families(difference: Difference, plan: TrialPlan) -> Iterator[Family]:
    yield Family.ONE_PAIR
    if difference.levels < 2:
        return
    if difference.between is not Between.ENTRY_AND_CHECK:
        yield Family.ALL_PAIRS
    if difference.between is Between.ENTRY_AND_CHECK or (
        difference.between is Between.ANY and _has_check(difference.comparing, plan)
    ):
        yield Family.WITH_CHECK


def _has_check(name: str, plan: TrialPlan) -> bool:
    levels = next(factor.levels for factor in plan.factors if factor.name == name)
    return any(check in levels for check in plan.checks)


# --- replicates for a wanted difference -------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Wanted:
    """A true difference that is to be found: its size, its chance, and between what.

    ``comparing`` None takes the plan's first kind of difference; for an augmented layout
    ``between`` chooses among its four.
    """

    difference_percent: float
    chance: float = USUAL_CHANCE
    family: Family = Family.ONE_PAIR
    comparing: str | None = None
    within: tuple[str, ...] = ()
    between: Between | None = None

    def __post_init__(self) -> None:
        if not self.difference_percent > 0:
            raise ValueError("a wanted difference is a positive number of per cent")
        if not 0 < self.chance < 1:
            raise ValueError(f"a chance lies between 0 and 1, not {self.chance!r}")


@dataclass(frozen=True, slots=True)
class ReplicatesNeeded:
    """What it takes to find the wanted difference, beside what the plan as it is can find.

    ``found_percent`` and ``chance`` are those of the plan as it is; None where it can judge
    nothing. ``needed`` is the smallest number of replicates that finds the wanted difference with
    the wanted chance, and ``needed_finds_percent`` what they find; None where even ``most`` are
    too few.
    """

    wanted: Wanted
    replicates: int
    found_percent: float | None
    chance: float | None
    needed: int | None
    needed_finds_percent: float | None
    most: int


def replicates_needed(
    plan: TrialPlan,
    spread: Spread,
    wanted: Wanted,
    efficiency: float | None = None,
    most: int = MOST_REPLICATES,
) -> ReplicatesNeeded:
    """The fewest replicates of ``plan`` that find ``wanted``, and what the plan itself finds.

    Nothing impossible is refused: where the plan's replicates are too few, the answer holds both
    what they can find and how many it would take. Replicates are blocks in augmented layouts; a
    Latin square grows by whole squares, and treatments side by side become complete blocks.

    Raises
    ------
    UnknownName
        The plan has no such kind of difference, or the family does not apply to it.
    """
    as_planned = _figures(plan, spread, wanted, efficiency)
    for replicates in _choices(plan, most):
        tried = _figures(_grown(plan, replicates), spread, wanted, efficiency)
        if tried is not None and tried[1] >= wanted.chance:
            break
    else:
        replicates, tried = 0, None
    return ReplicatesNeeded(
        wanted,
        plan.replicates,
        None if as_planned is None else as_planned[0],
        None if as_planned is None else as_planned[1],
        replicates or None,
        None if tried is None else tried[0],
        most,
    )


def _choices(plan: TrialPlan, most: int) -> range:
    step = 1
    if plan.kind is LayoutKind.LATIN_SQUARE:
        for factor in plan.factors:
            step *= len(factor.levels)
    return range(max(2, step), most + 1, step)


def _grown(plan: TrialPlan, replicates: int) -> TrialPlan:
    alone = plan.kind is LayoutKind.SIDE_BY_SIDE
    kind = LayoutKind.COMPLETE_BLOCKS if alone else plan.kind
    return replace(plan, kind=kind, replicates=replicates)


def _figures(
    plan: TrialPlan, spread: Spread, wanted: Wanted, efficiency: float | None
) -> tuple[float, float] | None:
    """The difference found with the wanted chance, and the chance of the wanted difference."""
    difference = _chosen(differences(plan, spread, efficiency), wanted)
    families = tuple(_families(difference, plan))
    if wanted.family not in families:
        raise UnknownName("family of comparisons", wanted.family, families)
    if difference.df <= 0:
        return None
    found = found_in(wanted.family, difference, plan.alpha, wanted.chance)
    return found.found_percent, chance_of_finding(
        wanted.difference_percent, difference.sed_percent, difference.df, found.critical
    )


def _chosen(kinds: Sequence[Difference], wanted: Wanted) -> Difference:
    comparing = wanted.comparing
    if comparing is None and kinds:
        comparing = kinds[0].comparing
    for kind in kinds:
        if (
            kind.comparing == comparing
            and set(kind.within) == set(wanted.within)
            and wanted.between in (None, kind.between)
        ):
            return kind
    between = wanted.between or Between.ANY
    raise UnknownName(
        "kind of difference",
        _named(comparing or "", wanted.within, between),
        [_named(kind.comparing, kind.within, kind.between) for kind in kinds],
    )


def _named(comparing: str, within: Sequence[str], between: Between) -> str:
    held = f" within {' and '.join(within)}" if within else ""
    return f"{comparing}{held}: {between}"
