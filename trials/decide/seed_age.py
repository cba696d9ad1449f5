"""What age takes from seed: germination lost in storage, as the grower says or as tests show.

A farm's own tests show the loss where lots were tested at ages that differ. A lot that was tested
more than once is compared with itself; where no lots were, lots of different ages are compared,
and differences between the lots are then part of the uncertainty.

Formula: probit of the share that germinates = a - b × age in years, with an a of its own for each
    lot that was tested again; binomial, its variance times the index of dispersion where that is
    above 1; limits by Student's t. From a rate known, probit(then) = probit(now) - b × years. A
    figure of the grower takes so many percentage points per year, down to 0.
Limits: Holds for seed stored as the tested lots were. The limits do not count what is uncertain
    about the rate that the lot began with.
Source: Ellis & Roberts 1980, Annals of Botany 45:13, from memory; McCullagh & Nelder 1989,
    Generalized Linear Models, chapter 4.
"""

from __future__ import annotations

import warnings
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm, t

LEAST_YEARS = 1.0  # tests that are nearer in age than this say little of a year's loss: judgement
LEAST_DF = 2  # fewer leave limits so wide that they say nothing: judgement
_MOST_RATE = 0.995  # the probit of 1 is infinite; a packet that says 100% rounds

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class AgedTest:
    """One germination test of a lot at an age in years, all its replicates together."""

    lot: str
    age: float
    seeds: int
    germinated: int


@dataclass(frozen=True, slots=True)
class Aged:
    """A rate of 0 to 1 after storage; limits None where nothing says how uncertain it is."""

    rate: float
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class FigureLoss:
    """The grower's own figure: ``share`` of all seeds that no longer germinate after each year."""

    share: float

    def after(self, rate: float, years: float) -> Aged:
        """What a lot germinates at after so many years, if it germinated at ``rate`` before."""
        return Aged(max(rate - self.share * years, 0.0))


@dataclass(frozen=True, slots=True)
class MeasuredLoss:
    """What the farm's own tests show: a fall of ``probits`` per year, with 95% limits.

    ``again`` says that lots are compared with themselves, tested at more than one age.
    """

    probits: float
    low: float
    high: float
    lots: int
    tests: int
    again: bool

    @property
    def shown(self) -> bool:
        """Whether the limits leave no room for seed that keeps or gains."""
        return self.low > 0

    def after(self, rate: float, years: float) -> Aged:
        """What a lot germinates at after so many years, if it germinated at ``rate`` before."""
        if rate <= 0:
            return Aged(0.0)
        now = norm.ppf(min(rate, _MOST_RATE))
        then = norm.cdf(now - np.array([self.probits, self.high, self.low]) * years)
        return Aged(*(min(float(share), rate) for share in then))


Loss = FigureLoss | MeasuredLoss


def measured_loss(tests: Sequence[AgedTest]) -> MeasuredLoss | None:
    """The loss per year that the tests of one crop's lots show; None where they are too few.

    It takes ages a year or more apart and two tests more than the model has figures: three lots
    tested twice, one lot tested four times, or four lots of different ages.
    """
    for chosen, again in ((_tested_again(tests), True), (_newest_of_each(tests), False)):
        found = _fitted(chosen, again=again)
        if found is not None:
            return found
    return None


def _tested_again(tests: Sequence[AgedTest]) -> list[AgedTest]:
    """The tests of lots that were tested at ages a year or more apart."""
    of: defaultdict[str, list[AgedTest]] = defaultdict(list)
    for test in tests:
        of[test.lot].append(test)
    return [test for own in of.values() if _span(own) >= LEAST_YEARS for test in own]


def _newest_of_each(tests: Sequence[AgedTest]) -> list[AgedTest]:
    newest: dict[str, AgedTest] = {}
    for test in sorted(tests, key=lambda test: test.age):
        newest[test.lot] = test
    return list(newest.values())


def _span(tests: Sequence[AgedTest]) -> float:
    return max(test.age for test in tests) - min(test.age for test in tests)


def _fitted(tests: Sequence[AgedTest], *, again: bool) -> MeasuredLoss | None:
    lots = sorted({test.lot for test in tests})
    df = len(tests) - 1 - (len(lots) if again else 1)
    if df < LEAST_DF or _span(tests) < LEAST_YEARS:
        return None
    germinated = np.array([test.germinated for test in tests], dtype=np.float64)
    seeds = np.array([test.seeds for test in tests], dtype=np.float64)
    starts = (
        np.array([[float(test.lot == lot) for lot in lots] for test in tests])
        if again
        else np.ones((len(tests), 1))
    )
    # A lot of which all or none germinated has an endless probit, so it says nothing of the loss.
    told = [0 < germinated[own].sum() < seeds[own].sum() for own in starts.T.astype(bool)]
    if not all(told):
        if not again or not any(told):
            return None
        left = {lot for lot, tells in zip(lots, told, strict=True) if tells}
        return _fitted([test for test in tests if test.lot in left], again=True)
    ages = np.array([test.age for test in tests])
    slope = _slope(np.column_stack([ages, starts]), germinated, seeds)
    if slope is None:
        return None
    fall, error = slope
    half = float(t.ppf(0.975, df)) * error
    return MeasuredLoss(fall, fall - half, fall + half, len(lots), len(tests), again)


def _slope(design: Floats, germinated: Floats, seeds: Floats) -> tuple[float, float] | None:
    """The fall in probits per year and its standard error; None where no line fits."""
    from statsmodels.genmod.families import Binomial
    from statsmodels.genmod.families.links import Probit
    from statsmodels.genmod.generalized_linear_model import GLM
    from statsmodels.tools.sm_exceptions import (
        ConvergenceWarning,
        DomainWarning,
        PerfectSeparationError,
        PerfectSeparationWarning,
    )

    with warnings.catch_warnings():
        for kind in (ConvergenceWarning, DomainWarning, PerfectSeparationWarning):
            warnings.simplefilter("error", kind)
        counts = np.column_stack([germinated, seeds - germinated])
        try:
            fit = GLM(counts, design, family=Binomial(Probit())).fit()
        except (
            ConvergenceWarning,
            DomainWarning,
            PerfectSeparationError,
            PerfectSeparationWarning,
            np.linalg.LinAlgError,
        ):
            return None
    scale = max(float(fit.pearson_chi2) / float(fit.df_resid), 1.0)
    found = -float(fit.params[0]), float(fit.bse[0]) * scale**0.5
    return found if np.isfinite(found).all() else None
