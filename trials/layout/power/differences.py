"""The standard error and degrees of freedom of every kind of difference that a plan can answer."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import chain, combinations
from math import ceil, prod

from trials.layout.plan import TrialPlan
from trials.layout.power.variation import Spread
from trials.model.trial import AppliedTo, Factor
from trials.stats.results import LayoutKind


class Between(StrEnum):
    """Which two of a factor's levels are compared, where that makes a difference."""

    ANY = "any two levels"
    CHECKS = "two checks"
    ENTRY_AND_CHECK = "a new entry and a check"
    SAME_BLOCK = "two new entries of one block"
    DIFFERENT_BLOCKS = "two new entries of different blocks"


@dataclass(frozen=True, slots=True)
class Difference:
    """A kind of difference: what is compared, its standard error and its degrees of freedom.

    ``comparing`` is the factor, ``within`` the factors held at one level each; the others are
    averaged over. ``levels`` counts what is compared with one another. ``sed_percent`` is in per
    cent of the mean. ``df`` is 0 where the plan leaves nothing to judge by. ``errors`` names the
    units whose variation enters. ``check_share`` is the correlation of two differences from the
    check.
    """

    comparing: str
    within: tuple[str, ...]
    between: Between
    levels: int
    sed_percent: float
    df: float
    errors: tuple[AppliedTo, ...]
    check_share: float = 0.5


@dataclass(frozen=True, slots=True)
class _Unit:
    """A piece of ground within each block: the factors that tell its pieces apart."""

    applied_to: AppliedTo
    factors: frozenset[str]


def differences(
    plan: TrialPlan, spread: Spread, efficiency: float | None = None
) -> tuple[Difference, ...]:
    """Every kind of difference that ``plan`` answers, main effects first.

    ``efficiency`` is the average efficiency factor of incomplete blocks (or of rows and columns)
    once they are laid out; None takes the most that blocks of that size can have. Layouts with
    larger units are in complete blocks. Incomplete and augmented blocks are judged within blocks:
    what is recovered from between them comes on top.

    Refuses (ValueError) a Latin square whose replicates are not a multiple of its treatments.
    """
    return _KINDS[plan.kind](plan, spread, efficiency)


# --- orthogonal layouts -----------------------------------------------------------------------


def _in_units(plan: TrialPlan, spread: Spread, efficiency: float | None) -> tuple[Difference, ...]:
    """Split plots and strips in complete blocks."""
    return _orthogonal(plan, _units(plan.factors), spread)


def _units(factors: Sequence[Factor]) -> tuple[_Unit, ...]:
    """The units of the layout, coarse before fine; the plots last."""
    named: dict[AppliedTo, list[str]] = {unit: [] for unit in AppliedTo}
    for factor in factors:
        named[factor.applied_to].append(factor.name)
    units = [_Unit(AppliedTo.STRIP, frozenset([name])) for name in named[AppliedTo.STRIP]]
    if len(units) > 1 and len(units) < len(factors):
        units.append(_Unit(AppliedTo.STRIP, frozenset(named[AppliedTo.STRIP])))
    held = frozenset(named[AppliedTo.STRIP])
    for larger in (AppliedTo.WHOLE_PLOT, AppliedTo.SPLIT_PLOT):
        if named[larger]:
            held |= frozenset(named[larger])
            units.append(_Unit(larger, held))
    everything = frozenset(factor.name for factor in factors)
    # A whole-plot factor alone leaves nothing inside: its whole plots are the plots.
    units = [unit for unit in units if unit.factors != everything]
    return (*units, _Unit(AppliedTo.PLOT, everything))


def _orthogonal(
    plan: TrialPlan, units: tuple[_Unit, ...], spread: Spread
) -> tuple[Difference, ...]:
    """Differences in complete blocks, from the expected mean squares of the error strata.

    A difference of two levels of A at fixed levels of W is a sum of parts, one for each term
    A x X with X among W. Its variance gives each part's share to the mean square of the stratum
    that tests the term; degrees of freedom are Satterthwaite's (1946, Biometrics Bulletin 2:110).
    For split plots this gives Cochran & Cox 1957, Experimental Designs, chapter 7.
    """
    counts = {factor.name: len(factor.levels) for factor in plan.factors}
    names = tuple(counts)

    def stratum(term: frozenset[str]) -> int:
        return next(i for i, unit in enumerate(units) if term <= unit.factors)

    degrees = [0.0] * len(units)
    for term in _subsets(names):
        if term:
            contrasts = prod(counts[name] - 1 for name in term)
            degrees[stratum(frozenset(term))] += (plan.replicates - 1) * contrasts
    squares = [_mean_square(unit, units, counts, spread) for unit in units]

    found = []
    for factor, within in _kinds_of_difference(plan.factors):
        plots = plan.replicates * prod(
            counts[name] for name in names if name != factor.name and name not in within
        )
        parts = [0.0] * len(units)
        for held in _subsets(within):
            share = prod(
                1 - 1 / counts[name] if name in held else 1 / counts[name] for name in within
            )
            place = stratum(frozenset((factor.name, *held)))
            parts[place] += 2 / plots * share * squares[place]
        drawn = [i for i, part in enumerate(parts) if part > 0]
        found.append(
            Difference(
                factor.name,
                within,
                Between.ANY,
                len(factor.levels),
                sum(parts) ** 0.5,
                _satterthwaite([(parts[i], degrees[i]) for i in drawn]),
                tuple(dict.fromkeys(units[i].applied_to for i in drawn)),
            )
        )
    return tuple(found)


def _mean_square(
    unit: _Unit, units: tuple[_Unit, ...], counts: Mapping[str, int], spread: Spread
) -> float:
    """The expected mean square of a stratum: each finer unit's variance times its plots."""
    plots = units[-1]
    total = spread.cv_percent**2
    for other in units[:-1]:
        if unit.factors <= other.factors:
            inside = prod(counts[name] for name in plots.factors - other.factors)
            total += inside * spread.larger_units_cv_percent**2
    return total


def _satterthwaite(parts: Sequence[tuple[float, float]]) -> float:
    if any(df <= 0 for _, df in parts):
        return 0.0
    if len(parts) == 1:
        return parts[0][1]
    return float(sum(part for part, _ in parts) ** 2 / sum(part**2 / df for part, df in parts))


def _kinds_of_difference(factors: Sequence[Factor]) -> Iterator[tuple[Factor, tuple[str, ...]]]:
    """Each factor by itself, then within every choice of the others."""
    several = [factor for factor in factors if len(factor.levels) > 1]
    for size in range(len(several)):
        for factor in several:
            others = [other.name for other in several if other is not factor]
            for within in combinations(others, size):
                yield factor, within


def _subsets(names: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
    return chain.from_iterable(combinations(names, size) for size in range(len(names) + 1))


# --- layouts of plots only --------------------------------------------------------------------


def _of_plots(plan: TrialPlan, spread: Spread, df: float, efficiency: float) -> list[Difference]:
    """Differences where the plot is the only unit: 2 s^2 / (plots a level x efficiency)."""
    if not 0 < efficiency <= 1:
        raise ValueError(f"an efficiency factor lies between 0 and 1, not {efficiency!r}")
    found = []
    for factor, within in _kinds_of_difference(plan.factors):
        plots = plan.replicates * prod(
            len(other.levels)
            for other in plan.factors
            if other is not factor and other.name not in within
        )
        sed = spread.cv_percent * (2 / (plots * efficiency)) ** 0.5
        found.append(
            Difference(
                factor.name,
                within,
                Between.ANY,
                len(factor.levels),
                sed,
                max(df, 0.0),
                (AppliedTo.PLOT,),
            )
        )
    return found


def _treatments(plan: TrialPlan) -> int:
    return prod(len(factor.levels) for factor in plan.factors)


def _completely_randomised(
    plan: TrialPlan, spread: Spread, efficiency: float | None
) -> tuple[Difference, ...]:
    return tuple(_of_plots(plan, spread, _treatments(plan) * (plan.replicates - 1), 1.0))


def _complete_blocks(
    plan: TrialPlan, spread: Spread, efficiency: float | None
) -> tuple[Difference, ...]:
    df = (_treatments(plan) - 1) * (plan.replicates - 1)
    return tuple(_of_plots(plan, spread, df, 1.0))


def _latin_square(
    plan: TrialPlan, spread: Spread, efficiency: float | None
) -> tuple[Difference, ...]:
    """One square or several, each with its own rows and columns (Cochran & Cox 1957, chapter 4)."""
    size = _treatments(plan)
    squares, rest = divmod(plan.replicates, size)
    if rest or not squares:
        raise ValueError(
            f"a Latin square of {size} treatments has {size} replicates, or a multiple of them, "
            f"not {plan.replicates}"
        )
    return tuple(_of_plots(plan, spread, (size - 1) * (squares * (size - 1) - 1), 1.0))


def _row_column(
    plan: TrialPlan, spread: Spread, efficiency: float | None
) -> tuple[Difference, ...]:
    """Each row holds every treatment once; the columns are incomplete blocks of one plot a row."""
    size, rows = _treatments(plan), plan.replicates
    df = size * rows - 1 - (rows - 1) - 2 * (size - 1)
    bound = most_efficiency(size, rows) if rows > 1 else 1.0
    return tuple(_of_plots(plan, spread, df, bound if efficiency is None else efficiency))


def _incomplete_blocks(
    plan: TrialPlan, spread: Spread, efficiency: float | None
) -> tuple[Difference, ...]:
    size = _treatments(plan)
    block = size if plan.block_size is None else plan.block_size
    plots = size * plan.replicates
    blocks = plots // block if plots % block == 0 else plan.replicates * ceil(size / block)
    bound = most_efficiency(size, block) if efficiency is None else efficiency
    return tuple(_of_plots(plan, spread, plots - size - blocks + 1, bound))


def most_efficiency(entries: int, block_size: int) -> float:
    """The most that the average efficiency factor of blocks of that size can be.

    v (k - 1) / (k (v - 1)), which balanced incomplete blocks reach (Yates 1936; John & Williams
    1995, Cyclic and Computer Generated Designs, chapter 2); 1 for complete blocks.
    """
    if block_size < 2 or entries < 2:
        raise ValueError("a block that compares anything holds at least two plots")
    if block_size >= entries:
        return 1.0
    return entries * (block_size - 1) / (block_size * (entries - 1))


def _augmented_blocks(
    plan: TrialPlan, spread: Spread, efficiency: float | None
) -> tuple[Difference, ...]:
    """Checks in every block, new entries once: four standard errors of a difference.

    Federer & Raghavarao 1975, Biometrics 31:29; Petersen 1994, Agricultural Field Experiments.
    Of the correlations of differences from a check the smaller is used, that of new
    entries of different blocks: the critical value can only be too large.
    """
    factor = next(
        (each for each in plan.factors if set(plan.checks) <= set(each.levels)), plan.factors[0]
    )
    checks, blocks = len(plan.checks), plan.replicates
    new = len(factor.levels) - checks
    df = float((checks - 1) * (blocks - 1)) if checks else 0.0
    c, b = max(checks, 1), blocks
    from_check = 1 + 1 / b + 1 / c - 1 / (b * c)
    share = (1 / b - 1 / (b * c)) / from_check
    kinds = [
        (Between.CHECKS, checks, 2 / b, 0.5, checks > 1),
        (Between.ENTRY_AND_CHECK, new + 1, from_check, share, new > 0 and checks > 0),
        (Between.SAME_BLOCK, new, 2.0, 0.5, new > blocks),
        (Between.DIFFERENT_BLOCKS, new, 2 * (1 + 1 / c), 0.5, new > 1 and blocks > 1),
    ]
    return tuple(
        Difference(
            factor.name,
            (),
            between,
            levels,
            spread.cv_percent * variance**0.5,
            df,
            (AppliedTo.PLOT,),
            check_share,
        )
        for between, levels, variance, check_share, there in kinds
        if there
    )


def _side_by_side(
    plan: TrialPlan, spread: Spread, efficiency: float | None
) -> tuple[Difference, ...]:
    return tuple(_of_plots(plan, spread, 0.0, 1.0))


_KINDS: Mapping[LayoutKind, Callable[[TrialPlan, Spread, float | None], tuple[Difference, ...]]] = {
    LayoutKind.COMPLETELY_RANDOMISED: _completely_randomised,
    LayoutKind.COMPLETE_BLOCKS: _complete_blocks,
    LayoutKind.LATIN_SQUARE: _latin_square,
    LayoutKind.ROW_COLUMN: _row_column,
    LayoutKind.INCOMPLETE_BLOCKS: _incomplete_blocks,
    LayoutKind.AUGMENTED_BLOCKS: _augmented_blocks,
    LayoutKind.SPLIT_PLOT: _in_units,
    LayoutKind.SPLIT_SPLIT_PLOT: _in_units,
    LayoutKind.STRIPS: _in_units,
    LayoutKind.SIDE_BY_SIDE: _side_by_side,
}
