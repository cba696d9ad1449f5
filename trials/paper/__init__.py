"""What a season puts on paper, and the workbook that goes with it: values in, files out."""

from __future__ import annotations

from trials.model.units import PaperSize
from trials.paper.bed_map import Ground, Slope, write_bed_map
from trials.paper.order_sheet import write_order_sheet
from trials.paper.picking_sheets import write_picking_sheets
from trials.paper.stakes import LabelStock, write_stakes
from trials.paper.treatment import Showing
from trials.paper.trial_page import write_trial_page
from trials.paper.workbook import write_workbook

__all__ = [
    "Ground",
    "LabelStock",
    "PaperSize",
    "Showing",
    "Slope",
    "write_bed_map",
    "write_order_sheet",
    "write_picking_sheets",
    "write_stakes",
    "write_trial_page",
    "write_workbook",
]
