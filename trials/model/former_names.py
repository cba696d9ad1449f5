"""Names that columns, measures and plan keys had in earlier versions, and what they are now.

Files, packages and plans written with them are still read; nothing is written with them, except the
digest of a trial, which must stay what it was.
"""

from __future__ import annotations

from collections.abc import Mapping

from trials.model.rows import Sheet

# By sheet: the former heading of a column, and its name today.
COLUMNS: Mapping[Sheet, Mapping[str, str]] = {
    Sheet.SEED_HOUSES: {"carriage": "shipping", "free_carriage_from": "free_shipping_from"},
    Sheet.TRIALS: {"margin": "equivalence_margin", "shortest_length_cm": "minimum_length_cm"},
}
MEASURES: Mapping[str, str] = {"tall_share": "saleable_length_share"}
# By part of a plan ('' is its top): the former key, and its name today.
PLAN_KEYS: Mapping[str, Mapping[str, str]] = {
    "": {
        "margin": "equivalence_margin",
        "seed": "randomisation_number",
        "shortest_length_cm": "minimum_length_cm",
        "shortest_length_in": "minimum_length_in",
    },
    "assume": {
        "minutes_a_plot": "minutes_per_plot",
        "picks_a_week": "harvests_per_week",
        "stems_an_hour": "stems_per_hour",
    },
}


def column_today(sheet: Sheet, heading: str) -> str:
    """The name today of a column of a sheet; a heading that never changed is returned as it is."""
    return COLUMNS.get(sheet, {}).get(heading, heading)


def column_then(sheet: Sheet, name: str) -> str:
    """The name that a column of a sheet had at first, which the digests of trials have."""
    return next((then for then, now in COLUMNS.get(sheet, {}).items() if now == name), name)


def measure_then(key: str) -> str:
    """The key that a measure had at first, which the digests of trials have."""
    return next((then for then, now in MEASURES.items() if now == key), key)
