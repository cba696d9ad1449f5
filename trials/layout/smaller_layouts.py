"""What would fit beds that are too short: fewer replicates, smaller plots, both, fewer entries."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from trials.layout.plan import TrialPlan
from trials.layout.treatments import entry_factor
from trials.stats.results import LayoutKind

Fits = Callable[[TrialPlan], bool]

FEWEST_REPLICATES = 2
# The fewest replicates that are advised on farms; trade judgement.
ADVISED_REPLICATES = 3


def what_would_fit(plan: TrialPlan, fits: Fits) -> str:
    """The nearest changes that fit, in words; ``fits`` tries a plan on its beds."""
    single = [words(each) for each, words in _single_changes(plan, fits)]
    if single:
        return f"What would fit: {', or '.join(single)}."
    both = [_both_words(each) for each in fewer_and_smaller(plan, fits)]
    said = [f"Both together would fit: {', or '.join(both)}."] if both else []
    entries = [_entries_words(each) for each in _fewer_entries(plan, fits)]
    if entries:
        said.append(f"The beds have room for at most {', or '.join(entries)}.")
    if not said:
        return "Not even the smallest plots of two entries fit these beds. Add bed."
    return f"Fewer replicates or smaller plots alone do not fit. {' '.join(said)}"


def nearest_that_fit(plan: TrialPlan, fits: Fits) -> tuple[TrialPlan, ...]:
    """The layouts that ``what_would_fit`` names: one change to the plan, else two together."""
    single = tuple(each for each, _ in _single_changes(plan, fits))
    return single or fewer_and_smaller(plan, fits)


def _single_changes(
    plan: TrialPlan, fits: Fits
) -> Iterator[tuple[TrialPlan, Callable[[TrialPlan], str]]]:
    for tried, words in (
        (_in_blocks(plan), _blocks_words),
        (_fewer_replicates(plan), _replicates_words),
        (_smaller_plots(plan), _plants_words),
    ):
        found = next((each for each in tried if fits(each)), None)
        if found is not None:
            yield found, words


def fewer_and_smaller(plan: TrialPlan, fits: Fits) -> tuple[TrialPlan, ...]:
    """Plans with fewer replicates of smaller plots: for each number the largest plots that fit.

    A number of replicates is left out where a higher one has plots as large.
    """
    found: list[TrialPlan] = []
    for fewer in _fewer_replicates(plan):
        best = next((each for each in _smaller_plots(fewer) if fits(each)), None)
        if best is not None and (not found or best.plants_per_plot > found[-1].plants_per_plot):
            found.append(best)
    return tuple(found)


def _fewer_entries(plan: TrialPlan, fits: Fits) -> Iterator[TrialPlan]:
    """The most entries that fit as written, with advised replicates, and in plots half as large."""
    fewer = replace(plan, replicates=min(plan.replicates, ADVISED_REPLICATES))
    rows = plan.planting.rows
    half = replace(fewer, plants_per_plot=max(plan.plants_per_plot // 2 // rows, 1) * rows)
    most = 0
    for each in dict.fromkeys((plan, fewer, half)):
        found = _most_entries(each, fits)
        if found is not None and len(entry_factor(found).levels) > most:
            most = len(entry_factor(found).levels)
            yield found


def _most_entries(plan: TrialPlan, fits: Fits) -> TrialPlan | None:
    """The plan with as many of its entries as fit, the checks among them."""
    entries = entry_factor(plan)
    checks = [level for level in entries.levels if level in plan.checks]
    others = [level for level in entries.levels if level not in plan.checks]
    for count in range(len(entries.levels) - 1, max(len(checks), 1), -1):
        kept = {*checks, *others[: count - len(checks)]}
        levels = tuple(level for level in entries.levels if level in kept)
        factors = tuple(
            replace(factor, levels=levels) if factor is entries else factor
            for factor in plan.factors
        )
        tried = replace(plan, factors=factors)
        if fits(tried):
            return tried
    return None


def _fewer_replicates(plan: TrialPlan) -> Iterator[TrialPlan]:
    for replicates in range(plan.replicates - 1, FEWEST_REPLICATES - 1, -1):
        yield replace(plan, replicates=replicates)


def _smaller_plots(plan: TrialPlan) -> Iterator[TrialPlan]:
    rows = plan.planting.rows
    for ranks in range((plan.plants_per_plot - 1) // rows, 0, -1):
        yield replace(plan, plants_per_plot=ranks * rows)


def _in_blocks(plan: TrialPlan) -> Iterator[TrialPlan]:
    if plan.kind in (LayoutKind.LATIN_SQUARE, LayoutKind.ROW_COLUMN):
        yield replace(plan, kind=LayoutKind.COMPLETE_BLOCKS)


def _blocks_words(plan: TrialPlan) -> str:
    return f"complete blocks with {plan.replicates} replicates"


def _replicates_words(plan: TrialPlan) -> str:
    return f"{plan.replicates} replicates"


def _plants_words(plan: TrialPlan) -> str:
    return f"{plan.plants_per_plot} plants per plot"


def _both_words(plan: TrialPlan) -> str:
    return f"{plan.replicates} replicates of {plan.plants_per_plot} plants per plot"


def _entries_words(plan: TrialPlan) -> str:
    return f"{len(entry_factor(plan).levels)} entries with {_both_words(plan)}"
