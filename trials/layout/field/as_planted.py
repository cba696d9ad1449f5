"""A layout as it stands in the field, where plots were swapped since it was drawn."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from trials.layout.plan import PlannedLayout
from trials.model.trial import AppliedTo


def as_planted(layout: PlannedLayout, plants_of: Mapping[str, str]) -> PlannedLayout:
    """The layout with the plants that stand in it.

    ``plants_of`` names, for each plot that got another plot's plants, that plot. What was given
    to single plots goes with the plants; what was given to larger ground stays there.
    """
    on_plots = {
        factor.name for factor in layout.plan.factors if factor.applied_to is AppliedTo.PLOT
    }
    drawn = {plot.code: dict(plot.levels) for plot in layout.plots}

    def level(code: str, factor: str) -> str:
        return drawn[plants_of.get(code, code) if factor in on_plots else code][factor]

    plots = (
        replace(plot, levels=tuple((name, level(plot.code, name)) for name, _ in plot.levels))
        for plot in layout.plots
    )
    return replace(layout, plots=tuple(plots))


def as_labelled(layout: PlannedLayout, stake_in: Mapping[str, str]) -> PlannedLayout:
    """The layout with the codes of the stakes that stand in its plots now.

    ``stake_in`` names, for each plot with another plot's stake in it, that plot.
    """
    plots = (replace(plot, code=stake_in.get(plot.code, plot.code)) for plot in layout.plots)
    return replace(layout, plots=tuple(plots))
