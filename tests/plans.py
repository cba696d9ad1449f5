"""A small plan as text, which tests of many folders lay out, print or spoil."""

from __future__ import annotations

from datetime import date
from typing import Any

from trials.layout.plan import TrialPlan
from trials.records.plan.file import written_plan
from trials.records.plan.text import plan_text_of

SMALL: dict[str, Any] = {
    "trial": "six-2026",
    "question": "Which of six?",
    "season": 2026,
    "site": "Home",
    "crop": "zinnia",
    "layout": "complete blocks",
    "replicates": 3,
    "primary_measure": "stems_per_plant",
    "plants_per_plot": 12,
    "guards": 1,
    "minimum_length_cm": 40,
    "grades_cm": [30, 40, 50],
    "randomisation_number": 1,
    "transplant_on": date(2026, 5, 15),
    "factors": [{"name": "variety", "levels": ["A", "B", "C", "D"]}],
    "beds": [{"name": "Bed 1", "length_m": 30, "width_m": 1.2}],
    "planting": {"rows": 3, "spacing_cm": 20},
    "assume": {"cv_percent": 15},
    "calendar": {
        "last_spring_frost": date(2026, 5, 1),
        "first_autumn_frost": date(2026, 10, 5),
        "season_starts_on": date(2026, 3, 1),
        "season_ends_on": date(2026, 10, 31),
    },
}


def small_plan(**values: Any) -> str:
    """The text of a plan's file with other ``values`` by its keys; None leaves a key out."""
    return plan_text_of({**SMALL, **values})


def plan_of(text: str, file: str) -> TrialPlan:
    """The plan in a text; ``file`` is what faults call it."""
    return written_plan(text, file).plan
