"""What deciding after each layout of a plan is expected to earn, and what the layout costs."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from trials import decide
from trials.layout.plan import TrialPlan
from trials.layout.power.plot_size_variation import SizedSpread
from trials.layout.proposals import Proposal
from trials.layout.treatments import entry_factor
from trials.model.money import CostKind, TrialGain
from trials.season import net
from trials.store import Store


def trial_gains(
    kept: Store | None, plan: TrialPlan, offers: Sequence[Proposal], spread: SizedSpread
) -> tuple[TrialGain, ...]:
    """For each layout, over the beds that `decide.Rules` supposes are grown after it.

    Its plots' stems are sold like any, so it costs what tallying it takes and a packet of each
    entry's seed.
    """
    rules = decide.Rules()
    metre = None if kept is None else _a_metre(kept, plan.crop)
    held = {} if kept is None else {cost.kind: cost.amount for cost in kept.costs(plan.crop)}
    packets = {} if kept is None else kept.packet_prices()
    tallying = held.get(CostKind.TALLYING)
    new = [name for name in entry_factor(plan).levels if name not in plan.checks]
    seed = 0.0 if CostKind.PLUG in held else sum(packets.get(name, 0.0) for name in new)
    found = []
    for offer in offers:
        plots = median([entry.plots for entry in offer.entries if entry.entry in new] or [1])
        cv = spread.at(offer.plan.plants_per_plot).cv_percent
        gain = decide.gain_of_trial(max(len(new), 1), plots, cv)
        earns = None if metre is None else gain.share * metre * rules.bed_metres
        found.append(
            TrialGain(
                gain.share,
                gain.best_kept,
                None if earns is None else earns * rules.seasons_ahead,
                None if tallying is None else tallying * offer.plots + seed,
            )
        )
    return tuple(found)


def _a_metre(kept: Store, crop: str) -> float | None:
    """What a metre of the crop sells for in its closed trials, less picking; None = not known."""
    picking = {cost.kind: cost.amount for cost in kept.costs(crop)}.get(CostKind.PICKING)
    trials = [trial.code for trial in kept.trials() if trial.crop == crop and trial.closed_on]
    if picking is None or not trials:
        return None
    plots = [kept.plots(code) for code in trials]
    each = [(frame[net.GROSS] - picking * frame["stems_per_metre"]).mean() for frame in plots]
    known = [float(value) for value in each if value == value]  # noqa: PLR0124 - NaN only
    return sum(known) / len(known) if known else None
