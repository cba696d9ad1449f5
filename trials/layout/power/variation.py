"""How much plots treated alike differ on this farm: from its own closed trials, or assumed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from trials.stats.results import Comparison

# Trade judgement: plots of cut flowers differ by 10 to 20 per cent in stems, where a plot has about
# as many plants as trials of cut flowers give it. Other sizes are worked out from this one.
ASSUMED_CV_PERCENT = 15.0
ASSUMED_PLANTS = 18
# Trade judgement: blocks differ by 5 to 10 per cent; beds within a block hardly by more than half
# of what plots do.
ASSUMED_WHOLE_PLOT_SHARE = 0.5

_LARGER_UNITS = ("whole plot", "strip of ")


class SpreadSource(StrEnum):
    """Where a figure for the spread comes from."""

    OWN_TRIALS = "the farm's own closed trials"
    ASSUMED = "assumed: a usual figure"
    STATED = "stated by the grower"


@dataclass(frozen=True, slots=True)
class Spread:
    """The spread of plots treated alike, in per cent of the mean.

    ``cv_percent`` is the standard deviation of plots within blocks (within whole plots where there
    are any). ``whole_plot_cv_percent`` is that of the whole plots' own level, beyond what their
    plots would make of it; None where it is not known. ``df`` counts the degrees of freedom behind
    ``cv_percent``, and ``trials`` the trials; None and 0 where it is not from own trials.
    """

    cv_percent: float
    source: SpreadSource
    whole_plot_cv_percent: float | None = None
    whole_plot_source: SpreadSource = SpreadSource.ASSUMED
    df: float | None = None
    trials: int = 0

    def __post_init__(self) -> None:
        if not self.cv_percent > 0:
            raise ValueError(f"a CV is a positive number of per cent, not {self.cv_percent!r}")
        if self.whole_plot_cv_percent is not None and self.whole_plot_cv_percent < 0:
            raise ValueError("the CV of whole plots is not negative")

    @property
    def larger_units_cv_percent(self) -> float:
        """The whole plots' own CV, or half the plots' where it is not known."""
        if self.whole_plot_cv_percent is None:
            return ASSUMED_WHOLE_PLOT_SHARE * self.cv_percent
        return self.whole_plot_cv_percent


def assumed_spread() -> Spread:
    """The spread of plots of ``ASSUMED_PLANTS``, before the farm has closed a trial."""
    return Spread(ASSUMED_CV_PERCENT, SpreadSource.ASSUMED)


def pooled_spread(comparisons: Sequence[Comparison]) -> Spread:
    """The farm's own spread in one measure, from its closed trials; assumed where none has any.

    Squared coefficients of variation are averaged with their degrees of freedom as weights, as
    mean squares are pooled (Snedecor & Cochran 1989, Statistical Methods). The whole
    plots' component is averaged likewise, negative estimates as they are, and cut at 0 at the end.
    """
    plots = [
        (comparison.cv_percent**2, comparison.residual_df)
        for comparison in comparisons
        if comparison.cv_percent is not None and comparison.residual_df
    ]
    if not plots:
        return assumed_spread()
    larger = [
        (1e4 * part.variance / comparison.grand_mean**2, part.df)
        for comparison in comparisons
        if comparison.cv_percent is not None
        for part in comparison.components
        if part.df and part.source.startswith(_LARGER_UNITS)
    ]
    cv = _pooled(plots) ** 0.5
    df = sum(weight for _, weight in plots)
    if not larger:
        return Spread(cv, SpreadSource.OWN_TRIALS, df=df, trials=len(plots))
    whole_plots = max(_pooled(larger), 0.0) ** 0.5
    return Spread(cv, SpreadSource.OWN_TRIALS, whole_plots, SpreadSource.OWN_TRIALS, df, len(plots))


def _pooled(weighted: Sequence[tuple[float, float]]) -> float:
    return sum(value * weight for value, weight in weighted) / sum(df for _, df in weighted)
