"""From the beds to be sown to each variety's plants and seeds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trials.decide.seeds import Raising, seeds_for_beds

ASSUMED_GERMINATION = 0.75  # common practice: packets germinate at 70 to 95 %


@dataclass(frozen=True, slots=True)
class Sowing:
    """What is to be sown next season: bed for each succession, shared evenly by the varieties.

    ``plants_per_metre`` of bed is None where the newest trial's spacing holds. ``most`` limits
    how many of the reordered varieties share the bed; ``varieties`` names them instead.
    """

    bed_metres: float
    successions: int = 1
    varieties: tuple[str, ...] = ()
    most: int | None = None
    plants_per_metre: float | None = None
    usable: float = 0.90
    overage: float = 0.10


@dataclass(frozen=True, slots=True)
class VarietyNeed:
    """The way from bed to seed for one variety; ``germination`` is assumed where no lot says."""

    variety: str
    bed_metres: float
    plants_set: int
    seeds: int
    germination: float
    germination_assumed: bool


def bed_needs(
    sowing: Sowing,
    varieties: Sequence[str],
    plants_per_metre: float,
    germination: Mapping[str, float],
) -> tuple[VarietyNeed, ...]:
    """Each variety's share of the bed, its plants and its seeds.

    ``germination`` gives the newest lot's rate by variety. Every place of the bed is set, so
    plants that die later cost stems, not seed: survival does not enter.
    """
    share = sowing.bed_metres / len(varieties)
    return tuple(
        _need(variety, sowing, share, plants_per_metre, germination.get(variety))
        for variety in varieties
    )


def _need(
    variety: str, sowing: Sowing, bed_metres: float, plants_per_metre: float, rate: float | None
) -> VarietyNeed:
    germination = ASSUMED_GERMINATION if rate is None else rate
    wanted = seeds_for_beds(
        bed_metres,
        plants_per_metre,
        sowing.successions,
        Raising(
            survival=1.0, germination=germination, usable=sowing.usable, overage=sowing.overage
        ),
    )
    return VarietyNeed(
        variety=variety,
        bed_metres=bed_metres,
        plants_set=wanted.plants_set,
        seeds=wanted.seeds,
        germination=germination,
        germination_assumed=rate is None,
    )
