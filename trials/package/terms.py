"""What MIAPPE calls the columns that it has a name for.

MIAPPE 1.1, checklist and data model: Papoutsoglou et al. 2020, New Phytologist 227:260
(doi:10.1111/nph.16544). Only terms that mean what the column holds are given.
"""

from __future__ import annotations

from collections.abc import Mapping

from trials.model.rows import Sheet

STANDARD = "MIAPPE"
VERSION = "1.1"

FACTOR_TERM = "Observation Unit factor value"

TERMS: Mapping[tuple[Sheet, str], str] = {
    (Sheet.SITES, "site"): "Experimental site name",
    (Sheet.VARIETIES, "variety"): "Infraspecific name",
    (Sheet.SEED_LOTS, "lot"): "Biological material ID",
    (Sheet.TRIALS, "trial"): "Study unique ID",
    (Sheet.TRIALS, "question"): "Study description",
    (Sheet.TRIALS, "site"): "Experimental site name",
    (Sheet.TRIALS, "factors"): "Experimental Factor type",
    (Sheet.PLOTS, "trial"): "Study unique ID",
    (Sheet.PLOTS, "plot"): "Observation unit ID",
    (Sheet.PLOTS, "lot"): "Biological material ID",
    (Sheet.PLOTS, "block"): "Spatial distribution",
    (Sheet.PLOTS, "row"): "Spatial distribution",
    (Sheet.PLOTS, "column"): "Spatial distribution",
    (Sheet.STAND_COUNTS, "plot"): "Observation unit ID",
    (Sheet.CUTS, "plot"): "Observation unit ID",
    (Sheet.STEM_SAMPLES, "plot"): "Observation unit ID",
    (Sheet.SCORES, "plot"): "Observation unit ID",
    (Sheet.SCORES, "trait"): "Trait",
    (Sheet.EVENTS, "trial"): "Study unique ID",
    (Sheet.EVENTS, "plot"): "Observation unit ID",
    (Sheet.EVENTS, "kind"): "Event type",
    (Sheet.EVENTS, "reason"): "Event description",
    (Sheet.EVENTS, "happened_on"): "Event date",
}
