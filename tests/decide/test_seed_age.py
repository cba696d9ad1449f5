"""Seed that loses germination in storage, against probits worked out by other means."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.stats import norm, t

from trials.decide.seed_age import AgedTest, FigureLoss, MeasuredLoss, measured_loss

FOUR_LOTS = (
    AgedTest("a", 0.2, 200, 182),
    AgedTest("b", 1.2, 200, 171),
    AgedTest("c", 2.2, 150, 111),
    AgedTest("d", 3.2, 200, 124),
)
TWICE = (
    AgedTest("a", 0.2, 100, 95),
    AgedTest("a", 2.2, 100, 82),
    AgedTest("b", 0.2, 100, 80),
    AgedTest("b", 2.2, 100, 55),
    AgedTest("c", 1.2, 100, 85),
    AgedTest("c", 3.2, 100, 63),
)


def by_likelihood(tests: Sequence[AgedTest], *, own_start: bool) -> tuple[float, float]:
    """The fall per year and its error: the likelihood's peak, and its expected information."""
    lots = sorted({test.lot for test in tests}) if own_start else [""]
    design = np.array(
        [[-one.age, *(float(one.lot == lot or not own_start) for lot in lots)] for one in tests]
    )
    seeds = np.array([one.seeds for one in tests], dtype=float)
    found = np.array([one.germinated for one in tests], dtype=float)

    def minus_likelihood(figures: np.ndarray) -> float:
        at = design @ figures
        return -float((found * norm.logcdf(at) + (seeds - found) * norm.logcdf(-at)).sum())

    best = minimize(minus_likelihood, np.zeros(design.shape[1]), method="BFGS", tol=1e-10).x
    at = design @ best
    share = norm.cdf(at)
    weight = seeds * norm.pdf(at) ** 2 / (share * (1 - share))
    error = np.linalg.inv(design.T @ (weight[:, None] * design))[0, 0] ** 0.5
    pearson = ((found - seeds * share) ** 2 / (seeds * share * (1 - share))).sum()
    df = len(tests) - design.shape[1]
    return float(best[0]), float(error * max(1.0, pearson / df) ** 0.5 * t.ppf(0.975, df))


@pytest.mark.parametrize(("tests", "again"), [(FOUR_LOTS, False), (TWICE, True)])
def test_the_loss_is_that_of_the_likelihood(tests: tuple[AgedTest, ...], again: bool) -> None:
    found = measured_loss(tests)
    assert found is not None
    fall, half = by_likelihood(tests, own_start=again)
    assert found.probits == pytest.approx(fall, rel=1e-4)
    assert (found.low, found.high) == pytest.approx((fall - half, fall + half), rel=1e-3)
    assert (found.again, found.tests) == (again, len(tests))
    assert found.shown


def test_lots_that_differ_more_than_chance_widen_the_limits() -> None:
    uneven = [*FOUR_LOTS, AgedTest("e", 1.2, 200, 110), AgedTest("f", 2.2, 200, 185)]
    found = measured_loss(uneven)
    assert found is not None
    fall, half = by_likelihood(uneven, own_start=False)
    assert (found.probits, found.high - found.probits) == pytest.approx((fall, half), rel=1e-3)
    assert not found.shown


@pytest.mark.parametrize(
    "tests",
    [
        (),
        FOUR_LOTS[:3],
        TWICE[:4],  # two lots tested twice leave one test more than the model has figures
        tuple(AgedTest(one.lot, one.age / 4, one.seeds, one.germinated) for one in FOUR_LOTS),
        tuple(AgedTest(one.lot, one.age, 50, 50) for one in FOUR_LOTS),
    ],
)
def test_nothing_is_said_of_too_few_tests(tests: tuple[AgedTest, ...]) -> None:
    assert measured_loss(tests) is None


def test_one_lot_tested_over_the_years_shows_its_loss() -> None:
    own = [AgedTest("a", one.age, one.seeds, one.germinated) for one in FOUR_LOTS]
    found, between = measured_loss(own), measured_loss(FOUR_LOTS)
    assert found is not None
    assert between is not None
    assert (found.lots, found.again) == (1, True)
    assert found.probits == pytest.approx(between.probits)


def test_a_lot_of_which_all_germinated_is_left_out() -> None:
    found = measured_loss([*TWICE, AgedTest("z", 0.2, 50, 50), AgedTest("z", 1.5, 50, 50)])
    assert found == measured_loss(TWICE)


def test_a_rate_falls_along_the_probit_line() -> None:
    loss = MeasuredLoss(0.5, 0.2, 0.8, 4, 4, again=False)
    then = loss.after(norm.cdf(1.25), 2.0)
    expected = [norm.cdf(1.25 - 2 * fall) for fall in (0.5, 0.8, 0.2)]
    assert (then.rate, then.low, then.high) == pytest.approx(tuple(expected))
    assert loss.after(0.0, 3.0).rate == 0.0
    assert 0 < loss.after(1.0, 1.0).rate < 1
    assert loss.after(1.0, 0.0).rate <= 1


def test_the_growers_figure_takes_points_down_to_nothing() -> None:
    assert FigureLoss(0.06).after(0.88, 2).rate == pytest.approx(0.76)
    assert FigureLoss(0.06).after(0.88, 2).low is None
    assert FigureLoss(0.5).after(0.88, 2).rate == 0.0
    assert FigureLoss(0.0).after(0.88, 9).rate == 0.88
