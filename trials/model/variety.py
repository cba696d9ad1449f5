"""A variety as the records tell of it: its description, its trials, and what they measured."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Measured:
    """What one trial measured of a variety; None = not recorded.

    ``height_cm`` is the mean of the plots' mean stem lengths, ``vase_life_days`` that of their
    scores. Lost plots are left out.
    """

    trial: str
    season: int
    height_cm: float | None
    vase_life_days: float | None


@dataclass(frozen=True, slots=True)
class VarietyInList:
    """A variety among the others.

    ``trials`` are its trials' codes, the newest first; ``height_cm`` and ``vase_life_days`` are the
    means of the trials that measured them, None where none did.
    """

    variety: str
    crop: str
    colour: str | None
    habit: str | None
    trials: tuple[str, ...]
    newest_season: int | None
    height_cm: float | None
    vase_life_days: float | None
    photos: int
