"""What a plan must be before any ground is looked for: its parts agree with its kind of layout."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trials.errors import PlanRefused
from trials.layout.plan import SPACING_UNIT_CM, TrialPlan
from trials.layout.treatments import factors_on, treatment_count
from trials.model.trial import AppliedTo
from trials.stats.results import LayoutKind

PLOT, WHOLE, SPLIT, STRIP = (
    AppliedTo.PLOT,
    AppliedTo.WHOLE_PLOT,
    AppliedTo.SPLIT_PLOT,
    AppliedTo.STRIP,
)


@dataclass(frozen=True, slots=True)
class Ground:
    """The pieces of ground that a kind of layout has: those that need a factor, those that may."""

    needs: tuple[AppliedTo, ...]
    allows: tuple[AppliedTo, ...] = ()


_PLOTS_ONLY = Ground((PLOT,))
GROUND: Mapping[LayoutKind, Ground] = {
    LayoutKind.COMPLETELY_RANDOMISED: _PLOTS_ONLY,
    LayoutKind.COMPLETE_BLOCKS: _PLOTS_ONLY,
    LayoutKind.LATIN_SQUARE: _PLOTS_ONLY,
    LayoutKind.ROW_COLUMN: _PLOTS_ONLY,
    LayoutKind.INCOMPLETE_BLOCKS: _PLOTS_ONLY,
    LayoutKind.AUGMENTED_BLOCKS: _PLOTS_ONLY,
    LayoutKind.SPLIT_PLOT: Ground((WHOLE, PLOT)),
    LayoutKind.SPLIT_SPLIT_PLOT: Ground((WHOLE, SPLIT, PLOT)),
    LayoutKind.STRIPS: Ground((STRIP,), (PLOT,)),
}

CALLED: Mapping[LayoutKind, str] = {
    LayoutKind.COMPLETELY_RANDOMISED: "a completely randomised layout",
    LayoutKind.COMPLETE_BLOCKS: "complete blocks",
    LayoutKind.LATIN_SQUARE: "a Latin square",
    LayoutKind.ROW_COLUMN: "rows and columns",
    LayoutKind.INCOMPLETE_BLOCKS: "incomplete blocks",
    LayoutKind.AUGMENTED_BLOCKS: "augmented blocks",
    LayoutKind.SPLIT_PLOT: "a split-plot",
    LayoutKind.SPLIT_SPLIT_PLOT: "a split-split-plot",
    LayoutKind.STRIPS: "crossing strips",
}


def require_sound(plan: TrialPlan) -> None:
    """Refuse (PlanRefused) a plan whose parts do not agree, saying what would."""
    _require_figures(plan)
    _require_beds(plan)
    _require_levels(plan)
    _require_checks(plan)
    _require_ground(plan)
    _require_kept_apart(plan)


def _require_figures(plan: TrialPlan) -> None:
    wrong = [
        (plan.plants_per_plot < 1, f"{plan.plants_per_plot} plants per plot: use at least 1."),
        (plan.guard_plants < 0, f"{plan.guard_plants} guard plants: use 0 or more."),
        (plan.planting.rows < 1, f"{plan.planting.rows} rows on the bed: use 1 or more."),
        (
            not plan.planting.spacing_cm > 0,
            f"A spacing of {plan.planting.spacing_cm:g} cm: use one above 0.",
        ),
        (plan.first_number < 1, f"Plot numbers begin at 1, not {plan.first_number}."),
    ]
    for is_wrong, text in wrong:
        if is_wrong:
            raise PlanRefused(text)
    if plan.replicates < 2 and plan.kind is not LayoutKind.SIDE_BY_SIDE:
        raise PlanRefused(
            f"{plan.replicates} replicate: with one plot per treatment there is nothing to "
            "estimate error from. Use at least 2, better 3 or 4."
        )


def _require_beds(plan: TrialPlan) -> None:
    if not plan.beds:
        raise PlanRefused(
            "The plan names no bed. Name the beds the trial may use, in walking order."
        )
    for bed in plan.beds:
        if not (bed.length_m > 0 and bed.width_m > 0):
            raise PlanRefused(
                f"Bed {bed.name} is {bed.length_m:g} m by {bed.width_m:g} m. Give both its length "
                "and its width in metres."
            )
    twice = _first_repeated([bed.name for bed in plan.beds])
    if twice is not None:
        raise PlanRefused(f"Bed {twice} is named twice. Name each bed once.")


def _require_levels(plan: TrialPlan) -> None:
    twice = _first_repeated([factor.name for factor in plan.factors])
    if twice is not None:
        raise PlanRefused(f"The factor {twice} is named twice. Name each factor once.")
    for factor in plan.factors:
        twice = _first_repeated(factor.levels)
        if twice is not None:
            raise PlanRefused(
                f"{twice} is named twice among the levels of {factor.name}. Name each level once."
            )
        if len(factor.levels) < 2:
            number = "one level" if factor.levels else "no levels"
            raise PlanRefused(
                f"{factor.name} has {number}, so there is nothing to compare. "
                "Give it two levels or more, or leave it out."
            )
        if factor.name in SPACING_UNIT_CM:
            for level in factor.levels:
                if not _is_length(level):
                    raise PlanRefused(
                        f"{level!r} is not a spacing. Write the levels of {factor.name} as numbers."
                    )


def _is_length(text: str) -> bool:
    try:
        return 0 < float(text) < 1000
    except ValueError:
        return False


def _require_checks(plan: TrialPlan) -> None:
    twice = _first_repeated(plan.checks)
    if twice is not None:
        raise PlanRefused(f"The check {twice} is named twice. Name each check once.")
    if plan.checks and not any(set(plan.checks) <= set(f.levels) for f in plan.factors):
        named = " and ".join(plan.checks)
        raise PlanRefused(
            f"No factor has {named} among its levels. A check is grown like any other entry: add "
            "it to the varieties."
        )


def _require_ground(plan: TrialPlan) -> None:
    if plan.kind is LayoutKind.SIDE_BY_SIDE:
        raise PlanRefused(
            "Without replication, the effect of a treatment cannot be separated from that of its "
            "place. Use complete blocks with 3 replicates, the cheapest layout that can do so."
        )
    ground = GROUND[plan.kind]
    for unit in ground.needs:
        if not factors_on(plan, unit):
            raise PlanRefused(
                f"{CALLED[plan.kind]} needs a factor on {unit}s, and the plan has "
                f"{_factors_named(plan)}."
            )
    for factor in plan.factors:
        if factor.applied_to not in (*ground.needs, *ground.allows):
            units = " or ".join(f"{unit}s" for unit in (*ground.needs, *ground.allows))
            raise PlanRefused(
                f"{factor.name} is on {factor.applied_to}s, but {CALLED[plan.kind]} has none. "
                f"Give it to {units}, or use {_kind_with(factor.applied_to)}."
            )


def _kind_with(unit: AppliedTo) -> str:
    """The simplest kind that has such ground."""
    return next(CALLED[k] for k, g in GROUND.items() if unit in (*g.needs, *g.allows))


def _factors_named(plan: TrialPlan) -> str:
    named = [f"{factor.name} on {factor.applied_to}s" for factor in plan.factors]
    return "; ".join(named) or "no factors"


def _require_kept_apart(plan: TrialPlan) -> None:
    """What reaches over to the plot beside it: on the larger units only, and with guard plants."""
    spilling = [factor for factor in plan.factors if factor.name in plan.spilling]
    for factor in spilling:
        if factor.applied_to is PLOT and len(plan.factors) > 1:
            raise PlanRefused(
                f"{factor.name} also affects the plots next to it, so it cannot change from plot "
                f"to plot. Give {factor.name} to whole plots and use a split-plot."
            )
        if plan.guard_plants < 1:
            raise PlanRefused(
                f"{factor.name} also affects the plot next to it. Use 1 guard plant or more at "
                "each end of a plot; guard plants are not counted."
            )


def _first_repeated(names: Sequence[str]) -> str | None:
    seen: set[str] = set()
    for name in names:
        if name in seen:
            return name
        seen.add(name)
    return None


def plot_treatments(plan: TrialPlan) -> int:
    """How many treatments the single plots carry."""
    return treatment_count(plan, PLOT)
