"""From stems wanted or beds to fill to the seeds to sow, rounded up at every step.

Every figure is taken as written (0.92 is 92/100, not the nearest binary fraction), so that a step
which comes out whole is never rounded up by a stray last digit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction


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
    plants = math.ceil(_written(stems) / _written(stems_per_plant))
    plants_set = math.ceil(plants / _written(raising.survival))
    return SeedsWanted(plants, plants_set, _seeds(plants_set, raising))


def seeds_for_beds(
    bed_m: float, plants_per_m: float, successions: int, raising: Raising
) -> SeedsWanted:
    """Seeds to set out ``successions`` sowings of ``bed_m`` metres each, every place filled."""
    plants_set = successions * math.ceil(_written(bed_m) * _written(plants_per_m))
    return SeedsWanted(None, plants_set, _seeds(plants_set, raising))


def seeds_to_buy(
    seeds: int, on_hand: int, germination_on_hand: float, germination_of_new: float
) -> int:
    """Seeds still to buy when older seed on hand, worth its own germination, is sown first."""
    worth = on_hand * _written(germination_on_hand) / _written(germination_of_new)
    return max(seeds - math.floor(worth), 0)


def _seeds(plants_set: int, raising: Raising) -> int:
    one = _written(raising.germination) * _written(raising.usable)
    filled = 1 - (1 - one) ** raising.seeds_per_cell
    cells = math.ceil(plants_set / filled * (1 + _written(raising.overage)))
    return cells * raising.seeds_per_cell


def _written(number: float) -> Fraction:
    return Fraction(repr(float(number)))
