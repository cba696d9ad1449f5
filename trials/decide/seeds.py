"""From stems wanted or beds to fill to the seeds to sow, rounded up at every step.

A step that comes out whole but for the stray last digits of binary fractions counts as whole.

Formula: plants set = stems / stems per plant / survival; seeds = plants set / (germination ×
    usable) × (1 + overage), each step rounded up.
Limits: The shares are means: a poor lot or a late frost can still leave a gap, which the overage is
    for.
Source: Arithmetic of expected values; with several seeds per cell 1 - (1 - p)^n (Feller 1968, An
    Introduction to Probability Theory, chapter VI).
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Raising:
    """What becomes of seed between the packet and the bed, as shares of 0 to 1.

    ``germination`` of the seeds sown; ``usable``, the seedlings fit to plant out, of those
    germinated; ``survival``, the plants living at the first cut, of those set; ``overage``, the
    extra share sown to be safe. With several ``seeds_per_cell`` a cell gives one plant where at
    least one of its seeds does, and the others are thinned.
    """

    survival: float
    germination: float
    usable: float = 1.0
    overage: float = 0.0
    seeds_per_cell: int = 1

    def __post_init__(self) -> None:
        for name in ("survival", "germination", "usable"):
            share = getattr(self, name)
            if not 0 < share <= 1:
                raise ValueError(f"{name} lies above 0 and at most 1, not {share!r}")
        if not self.overage >= 0:
            raise ValueError(f"overage is not negative: {self.overage!r}")
        if self.seeds_per_cell < 1:
            raise ValueError(f"a cell gets at least one seed, not {self.seeds_per_cell!r}")


@dataclass(frozen=True, slots=True)
class SeedsWanted:
    """The steps from plants at the first cut to seeds; ``plants`` is None where beds are filled."""

    plants: int | None
    plants_set: int
    seeds: int


def seeds_for_stems(stems: float, stems_per_plant: float, raising: Raising) -> SeedsWanted:
    """Seeds for ``stems`` wanted, at ``stems_per_plant`` marketable stems a living plant.

    Plan with a lower bound of the stems per plant rather than its mean, or every other season
    falls short.
    """
    if not stems_per_plant > 0:
        raise ValueError(f"stems per plant must be above 0, not {stems_per_plant!r}")
    plants = _whole_up(stems / stems_per_plant)
    plants_set = _whole_up(plants / raising.survival)
    return SeedsWanted(plants, plants_set, seeds_for_plants(plants_set, raising))


def seeds_for_beds(
    bed_m: float, plants_per_m: float, successions: int, raising: Raising
) -> SeedsWanted:
    """Seeds to set out ``successions`` sowings of ``bed_m`` metres each, every place filled."""
    plants_set = successions * _whole_up(bed_m * plants_per_m)
    return SeedsWanted(None, plants_set, seeds_for_plants(plants_set, raising))


def seeds_to_buy(
    seeds: int, on_hand: int, germination_on_hand: float, germination_of_new: float
) -> int:
    """Seeds still to buy when older seed on hand, worth its own germination, is sown first."""
    worth = on_hand * germination_on_hand / germination_of_new
    return max(_whole_up(seeds - worth), 0)


def seeds_for_plants(plants_set: int, raising: Raising) -> int:
    """Seeds to sow for so many plants to set out."""
    one = raising.germination * raising.usable
    filled = 1 - (1 - one) ** raising.seeds_per_cell
    cells = _whole_up(plants_set / filled * (1 + raising.overage))
    return cells * raising.seeds_per_cell


def _whole_up(number: float) -> int:
    return math.ceil(round(number, 9))
