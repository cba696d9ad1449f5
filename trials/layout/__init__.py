"""From a plan to plots on the beds: who grows where, by lot, and what that will be able to tell.

The law of this folder: values in, values out. The same plan and seed give the same layout on any
machine, and nothing here reads a file, a clock or a database.
"""

from __future__ import annotations

from trials.layout.designs.orders import neighbour_score
from trials.layout.field.beds import Density, density, plants_in, plot_ground
from trials.layout.field.codes import is_valid, nearest, plot_code
from trials.layout.laying_out import digest, lay_out
from trials.layout.plan import Bed, PlannedLayout, PlannedPlot, Planting, TrialPlan
from trials.layout.proposals import EntryNeeds, Proposal, SeedRates, proposals

__all__ = [
    "Bed",
    "Density",
    "EntryNeeds",
    "PlannedLayout",
    "PlannedPlot",
    "Planting",
    "Proposal",
    "SeedRates",
    "TrialPlan",
    "density",
    "digest",
    "is_valid",
    "lay_out",
    "nearest",
    "neighbour_score",
    "plants_in",
    "plot_code",
    "plot_ground",
    "proposals",
]
