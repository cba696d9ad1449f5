"""From a plan to its layout: plots fitted to the beds, treatments drawn by lot, codes given."""

from __future__ import annotations

from hashlib import sha256
from itertools import product
from json import dumps

from trials.layout.designs.random_numbers import Lot
from trials.layout.field.beds import plot_ground
from trials.layout.field.codes import plot_code
from trials.layout.field.neighbours import freshest
from trials.layout.field.plot_order import walking_order
from trials.layout.fit_to_beds import KINDS, Fitted, fitted
from trials.layout.plan import PlannedLayout, PlannedPlot, TrialPlan

FORM = "tallybed layout 2"
DRAWS = 8  # whole layouts drawn, of which the one with the freshest neighbours is kept
# Fewer treatments have too few orders: to choose between them would leave little to the lot.
FEWEST_CHOSEN_FROM = 4


def lay_out(plan: TrialPlan) -> PlannedLayout:
    """The plots of a plan in walking order, each with its ground, its treatment and its code.

    Several layouts are drawn by lot and the one with the freshest neighbours, along the beds and
    across the paths, is kept: names are never looked at, so any treatment may fall anywhere. The
    same plan and seed give the same layout on any machine; ``digest`` proves it.

    Raises
    ------
    PlanRefused
        Something in the plan does not fit; the text says what, and what would.
    """
    fit = fitted(plan)
    lot = Lot.of(plan.seed, f"layout of {plan.kind}")
    treatments = len(set(product(*(factor.levels for factor in plan.factors))))
    draws = DRAWS if treatments >= FEWEST_CHOSEN_FROM else 1
    return freshest(_drawn(plan, fit, lot) for _ in range(draws))


def _drawn(plan: TrialPlan, fit: Fitted, lot: Lot) -> PlannedLayout:
    drawn = KINDS[plan.kind].draw(plan, fit.spots, lot)
    plots = []
    for position, index in enumerate(walking_order(fit.places), start=1):
        spot, place, levels = fit.spots[index], fit.places[index], drawn.levels[index]
        bed, ground = plan.beds[place.bed], plot_ground(plan, levels)
        plots.append(
            PlannedPlot(
                code=plot_code(plan.season, plan.first_number + position - 1),
                bed=bed.name,
                position=position,
                start_m=round(place.from_head * ground.length_m, 6),
                length_m=round(ground.length_m, 6),
                net_length_m=ground.net_length_m,
                net_area_m2=round(ground.net_length_m * bed.width_m, 6),
                plants_set=ground.plants_set,
                levels=levels,
                block=spot.block,
                whole_plot=spot.whole_plot,
                incomplete_block=spot.incomplete_block,
                row=spot.row,
                column=spot.column,
                split_plot=spot.split_plot,
                guards_set=ground.guards_set,
            )
        )
    return PlannedLayout(plan, tuple(plots), drawn.efficiency, drawn.bound)


def digest(layout: PlannedLayout) -> str:
    """SHA-256, in 64 figures, of the layout written out in one canonical way.

    Lengths enter as whole tenths of a millimetre. Two layouts have one digest exactly if every
    plot has the same code, ground, units, treatment and plants, from the same seed.
    """
    plan = layout.plan
    lines: list[object] = [[FORM, plan.code, plan.season, plan.site, str(plan.kind), plan.seed]]
    lines += [
        [
            plot.code,
            plot.bed,
            plot.position,
            *(round(length * 10_000) for length in (plot.start_m, plot.length_m)),
            *(round(figure * 10_000) for figure in (plot.net_length_m, plot.net_area_m2)),
            plot.plants_set,
            plot.guards_set,
            plot.levels,
            plot.block,
            plot.whole_plot,
            plot.split_plot,
            plot.incomplete_block,
            plot.row,
            plot.column,
        ]
        for plot in layout.plots
    ]
    text = "\n".join(dumps(line, ensure_ascii=True, separators=(",", ":")) for line in lines)
    return sha256(text.encode("ascii")).hexdigest()
