"""The figures of a crop that its calendar needs, and where each of them comes from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from trials.model.crop_facts import Fact, FactSource


@dataclass(frozen=True, slots=True)
class CropFigure:
    """One figure, from ``low`` to ``high``; the calendar takes ``low``."""

    low: float
    high: float
    source: FactSource


CropFigures = Mapping[Fact, CropFigure]


def _usual(low: float, high: float | None = None) -> CropFigure:
    return CropFigure(low, low if high is None else high, FactSource.COMMON_PRACTICE)


def _assumed(low: float, high: float | None = None) -> CropFigure:
    return CropFigure(low, low if high is None else high, FactSource.ASSUMED)


# Common practice of the trade, and our own judgement where it says ``_assumed``.
SHIPPED: Mapping[str, CropFigures] = MappingProxyType(
    {
        "zinnia": {
            Fact.DAYS_TO_BLOOM: _usual(60),
            Fact.DAYS_IN_TRAYS: _usual(28),
            Fact.GERMINATION_C: _usual(21),  # near 70 °F
            Fact.DAYS_TO_PINCH: _assumed(14),
            Fact.PINCH_HEIGHT_CM: _usual(20, 25),  # 8 to 10 in
            Fact.DAYS_PINCHING_DELAYS: _assumed(7),
            Fact.DAYS_TO_NET: _assumed(14),
            Fact.NET_HEIGHT_CM: _usual(45),  # about 18 in
            Fact.DAYS_BETWEEN_FLUSHES: _usual(14),
            Fact.FLUSHES: _usual(3, 4),
            Fact.DAYS_BETWEEN_SOWINGS: _usual(21, 28),
        },
        "branching sunflower": {Fact.DAYS_TO_BLOOM: _usual(60, 75)},
        "celosia": {Fact.DAYS_TO_BLOOM: _usual(90)},
        "snapdragon": {
            Fact.DAYS_TO_BLOOM: _usual(120),
            Fact.DAYS_IN_TRAYS: _assumed(42, 56),
            Fact.GERMINATION_C: _assumed(15, 18),
            Fact.PINCH_LEAF_PAIRS: _assumed(3, 4),
        },
        "lisianthus": {
            Fact.DAYS_TO_BLOOM: _usual(140, 150),
            Fact.DIRECT_SOWN: _assumed(0),
            Fact.DAYS_IN_TRAYS: _assumed(70, 84),
            Fact.GERMINATION_C: _assumed(20, 24),
        },
    }
)


def figures_of(crop: str, own: Mapping[str, CropFigures] = MappingProxyType({})) -> CropFigures:
    """What is known of a crop: the farm's ``own`` figures by crop, over those shipped.

    Figures of the crop itself come before those of the crop that its name ends in, as plume
    celosia is a celosia. Capitals make no difference.
    """
    found: dict[Fact, CropFigure] = {}
    for table in (SHIPPED, own):
        for name in sorted(table, key=len):
            if f" {crop}".casefold().endswith(f" {name}".casefold()):
                found |= table[name]
    return found
