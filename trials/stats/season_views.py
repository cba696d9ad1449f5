"""What a trial's pictures show besides its comparison: plots in beds, weeks, other seasons."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class PlotSeen:
    """A plot where it lies, with its figure of a measure.

    ``position`` is its place along the bed. ``treatment`` holds its levels in the order of
    the factors. ``value`` is None where it was lost or not recorded. ``apart`` is the value less
    the plain mean of all plots of the same treatment; None where the plot is the only one.
    """

    plot: str
    bed: str
    position: int
    block: str | None
    treatment: tuple[str, ...]
    value: float | None
    apart: float | None


@dataclass(frozen=True, slots=True)
class WeekStems:
    """Saleable stems per plant of a level in the week that begins on a Monday.

    The mean over the level's plots, each weighing alike: over all weeks they add up to the plain
    mean of its stems per plant.
    """

    level: str
    monday: date
    stems_per_plant: float


@dataclass(frozen=True, slots=True)
class SeasonMean:
    """The mean of a level in one trial of a season, in the measure's unit, with its interval."""

    season: int
    trial: str
    level: str
    mean: float
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class PlotRecord:
    """A plot's records of a season; None = not recorded, and a lost plot says why."""

    plot: str
    bed: str
    position: int
    block: str | None
    treatment: tuple[str, ...]
    plants_set: int | None
    living: int | None
    saleable_stems: int | None
    short_stems: int | None
    culled_stems: int | None
    stems_per_plant: float | None
    stem_length_cm: float | None
    first_cut: date | None
    missed_harvests: int
    lost: str | None
