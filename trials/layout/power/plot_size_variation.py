"""How the spread of plots changes with the plants in them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import sqrt

from trials.layout.power.plot_size import PlotSizeLaw, plot_size_law
from trials.layout.power.variation import ASSUMED_PLANTS, Spread, SpreadSource

# Trade judgement: plants of one plot differ by 30 to 45 per cent in stems.
PLANT_CV_PERCENT = 40.0


@dataclass(frozen=True, slots=True)
class TrialSpread:
    """The spread one closed trial showed: its CV, its degrees of freedom, its plants a plot."""

    trial: str
    cv_percent: float
    df: float
    plants: float


@dataclass(frozen=True, slots=True)
class SizedSpread:
    """The spread of plots of ``plants`` plants, and what it is for plots of any other number.

    With own trials of several sizes Smith's ``law`` is followed, its exponent kept between 0 and
    1. Otherwise plots and plants each have their part: variance = plot^2 + plant^2 / n, with
    ``plant_cv_percent`` for the plants, or less where the plots' own spread leaves no room for it.
    """

    spread: Spread
    plants: float
    plant_cv_percent: float = PLANT_CV_PERCENT
    law: PlotSizeLaw | None = None
    trials: tuple[TrialSpread, ...] = ()

    @property
    def within_cv_percent(self) -> float:
        """The plants' spread within a plot that the plots' own spread leaves room for."""
        return min(self.plant_cv_percent, self.spread.cv_percent * sqrt(self.plants))

    @property
    def between_cv_percent(self) -> float:
        """What plots differ beyond what their plants make of it."""
        within = self.within_cv_percent**2 / self.plants
        return sqrt(max(self.spread.cv_percent**2 - within, 0.0))

    def at(self, plants: int) -> Spread:
        """The spread of plots of so many plants; the whole plots' own part stays."""
        if self.law is not None:
            cv = self.law.cv_percent(plants)
        else:
            cv = sqrt(self.between_cv_percent**2 + self.within_cv_percent**2 / plants)
        larger = self.spread.larger_units_cv_percent
        if plants == self.plants and self.law is None:
            return self.spread
        return replace(self.spread, cv_percent=cv, whole_plot_cv_percent=larger)


def sized_spread(
    spread: Spread,
    plants: int,
    trials: Sequence[TrialSpread] = (),
    plant_cv_percent: float = PLANT_CV_PERCENT,
) -> SizedSpread:
    """The spread by size: from own ``trials`` where there are any, else as stated or assumed.

    A stated spread is that of plots of ``plants``; an assumed one that of ``ASSUMED_PLANTS``.
    """
    if spread.source is SpreadSource.ASSUMED:
        return SizedSpread(spread, ASSUMED_PLANTS, plant_cv_percent)
    if spread.source is not SpreadSource.OWN_TRIALS or not trials:
        return SizedSpread(spread, plants, plant_cv_percent)
    weights = [trial.df for trial in trials]
    mean = sum(t.plants * w for t, w in zip(trials, weights, strict=True)) / sum(weights)
    law = plot_size_law([t.plants for t in trials], [t.cv_percent for t in trials], weights)
    if law is not None and not 0 <= law.b <= 1:
        law = None  # too few trials to say: the two parts are the safer guide
    return SizedSpread(spread, mean, plant_cv_percent, law, tuple(trials))
