"""What a plan takes for granted until the farm's own figures say better."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TypeVar

from trials.layout.power.plot_size_variation import PLANT_CV_PERCENT

Figure = TypeVar("Figure")

# Judgement: about the middle of what universities' trials of these crops reported; no one table.
STEMS_PER_PLANT: Mapping[str, float] = MappingProxyType(
    {
        "zinnia": 15.0,
        "snapdragon": 5.0,
        "marigold": 12.0,
        "lisianthus": 4.0,
        "celosia": 8.0,
        "aster": 5.0,
    }
)
OTHER_STEMS_PER_PLANT = 8.0  # trade judgement


@dataclass(frozen=True, slots=True)
class Assumptions:
    """Figures for spread, seed and picking; all but the named tables are trade judgement.

    ``cv_percent`` None takes the farm's own closed trials, or a usual figure without any.
    ``stems_per_plant`` None takes the crop's. ``germination`` serves varieties without a tested
    lot. Picking is cutting and tallying, ``stems_per_hour``, and ``minutes_per_plot`` to find the
    plot and write its line, ``harvests_per_week`` times.
    """

    cv_percent: float | None = None
    plant_cv_percent: float = PLANT_CV_PERCENT
    stems_per_plant: float | None = None
    stems_per_hour: float = 150.0
    minutes_per_plot: float = 1.0
    harvests_per_week: float = 2.0
    weeks_of_cutting: float = 8.0
    germination: float = 0.75
    usable: float = 0.90
    overage: float = 0.10

    def stems_of(self, crop: str) -> float:
        """Stems a plant over the season."""
        if self.stems_per_plant is not None:
            return self.stems_per_plant
        return of_crop(STEMS_PER_PLANT, crop) or OTHER_STEMS_PER_PLANT

    def hours_per_week(self, crop: str, plots: int, plants: int) -> float:
        """Hours of picking and tallying in an average week of cutting."""
        cutting = plants * self.stems_of(crop) / self.weeks_of_cutting / self.stems_per_hour
        return cutting + plots * self.harvests_per_week * self.minutes_per_plot / 60


def of_crop(figures: Mapping[str, Figure], crop: str) -> Figure | None:
    """The figure of a crop, or of the crop that its name ends in: plume celosia is a celosia."""
    if crop in figures:
        return figures[crop]
    return next((figure for name, figure in figures.items() if crop.endswith(f" {name}")), None)
