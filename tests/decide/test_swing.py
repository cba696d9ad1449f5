from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, optimize, stats

from trials.decide.two_stage import SeasonMeans, StackedSeasons

ENTRIES = ("a", "b", "c", "d", "e")


def balanced(table: np.ndarray, error_variance: float) -> StackedSeasons:
    """Seasons (rows) by entries (columns), errors independent and alike."""
    k = table.shape[1]
    return StackedSeasons(
        [
            SeasonMeans(2020 + i, f"t{i}", ENTRIES[:k], row, error_variance * np.eye(k), np.inf)
            for i, row in enumerate(table)
        ]
    )


@pytest.fixture
def table() -> np.ndarray:
    rng = np.random.default_rng(11)
    return 10 + rng.normal(0, 2, 5) + rng.normal(0, 1, (3, 1)) + rng.normal(0, 1.5, (3, 5))


def interaction_mean_square(table: np.ndarray) -> float:
    s, k = table.shape
    centred = table - table.mean(0) - table.mean(1, keepdims=True) + table.mean()
    return float((centred**2).sum() / ((s - 1) * (k - 1)))


def test_balanced_estimate_is_that_of_the_analysis_of_variance(table: np.ndarray) -> None:
    likelihood = balanced(table, 0.3).likelihood()
    assert likelihood is not None
    assert likelihood.contrasts == 8
    expected = np.sqrt(interaction_mean_square(table) - 0.3)
    assert likelihood.estimate == pytest.approx(expected, rel=1e-6)


def test_estimate_is_zero_where_the_errors_explain_all(table: np.ndarray) -> None:
    likelihood = balanced(table, 2 * interaction_mean_square(table)).likelihood()
    assert likelihood is not None
    assert likelihood.estimate == 0
    assert likelihood.low == 0
    assert likelihood.high > 0


def test_interval_drops_the_likelihood_by_half_of_chi_square(table: np.ndarray) -> None:
    # Without error the restricted log likelihood is -q log(s) - SS / (2 s^2).
    likelihood = balanced(table, 1e-12).likelihood()
    assert likelihood is not None
    q, squares = 8, 8 * interaction_mean_square(table)
    top = np.sqrt(squares / q)

    def height(s: float) -> float:
        return float(-q * np.log(s) - squares / (2 * s**2))

    floor = height(top) - stats.chi2.ppf(0.95, 1) / 2
    low = optimize.brentq(lambda s: height(s) - floor, top / 10, top)
    high = optimize.brentq(lambda s: height(s) - floor, top, top * 10)
    assert likelihood.low == pytest.approx(low, rel=1e-5)
    assert likelihood.high == pytest.approx(high, rel=1e-5)

    within = integrate.quad(lambda s: np.exp(height(s) - height(top)), low, high)[0]
    for value, chance in zip(likelihood.spread(4), (0.125, 0.375, 0.625, 0.875), strict=True):
        reached = integrate.quad(lambda s: np.exp(height(s) - height(top)), low, value)[0]
        assert reached / within == pytest.approx(chance, abs=1e-3)


def unbalanced() -> list[SeasonMeans]:
    rng = np.random.default_rng(5)
    seasons = []
    for year, entries in ((2021, "abcd"), (2022, "abcef"), (2023, "bdefg")):
        k = len(entries)
        half = rng.normal(0, 0.6, (k, k))
        cov = half @ half.T / k + 0.2 * np.eye(k)
        seasons.append(
            SeasonMeans(year, f"t{year}", tuple(entries), rng.normal(10, 2, k), cov, 12.0)
        )
    return seasons


def dense_parts(seasons: list[SeasonMeans]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """y, covariance and a treatment-coded design, written out row by row."""
    names = sorted({e for s in seasons for e in s.entries})
    y = np.concatenate([s.means for s in seasons])
    cov = np.zeros((y.size, y.size))
    rows, start = [], 0
    for i, season in enumerate(seasons):
        k = len(season.entries)
        cov[start : start + k, start : start + k] = season.cov
        start += k
        for entry in season.entries:
            row = np.zeros(len(names) + len(seasons) - 1)
            row[names.index(entry)] = 1
            if i:
                row[len(names) + i - 1] = 1
            rows.append(row)
    return y, cov, np.array(rows)


def test_unbalanced_estimate_maximises_the_restricted_likelihood_written_out() -> None:
    seasons = unbalanced()
    y, cov, design = dense_parts(seasons)

    def minus_twice(swing: float) -> float:
        total = cov + swing**2 * np.eye(y.size)
        inverse = np.linalg.inv(total)
        information = design.T @ inverse @ design
        effects = np.linalg.solve(information, design.T @ inverse @ y)
        rest = y - design @ effects
        return float(
            np.linalg.slogdet(total)[1] + np.linalg.slogdet(information)[1] + rest @ inverse @ rest
        )

    best = optimize.minimize_scalar(
        minus_twice, bounds=(0, 10), method="bounded", options={"xatol": 1e-10}
    )
    likelihood = StackedSeasons(seasons).likelihood()
    assert likelihood is not None
    assert likelihood.estimate == pytest.approx(best.x, rel=1e-5)
    floor = best.fun + stats.chi2.ppf(0.95, 1)
    assert minus_twice(likelihood.high) == pytest.approx(floor, rel=1e-6)


def test_combined_means_are_the_generalised_least_squares_of_statsmodels() -> None:
    import statsmodels.api as sm

    seasons = unbalanced()
    y, cov, design = dense_parts(seasons)
    fit = sm.GLS(y, design, sigma=cov + 0.8**2 * np.eye(y.size)).fit(cov_type="fixed scale")
    k = design.shape[1] - 2
    # Treatment coding takes the first season as its base; ours averages the seasons.
    over_seasons = np.hstack([np.eye(k), np.full((k, 2), 1 / 3)])
    combined = StackedSeasons(seasons).combine(0.8)
    assert combined.means == pytest.approx(over_seasons @ fit.params, rel=1e-9)
    spread = cov + 0.8**2 * np.eye(y.size)
    ours = combined.weights @ spread @ combined.weights.T
    unscaled = fit.normalized_cov_params
    assert ours == pytest.approx(over_seasons @ unscaled @ over_seasons.T, rel=1e-8)


def test_season_variance_is_the_balanced_moment_estimate(table: np.ndarray) -> None:
    stacked = balanced(table, 0.3)
    swing = 0.7
    expected = np.var(table.mean(1), ddof=1) - (0.3 + swing**2) / table.shape[1]
    assert stacked.season_variance(swing) == pytest.approx(max(expected, 0.0), rel=1e-9)
    assert balanced(table[:1], 0.3).season_variance(swing) is None


@pytest.mark.parametrize(("second", "told"), [("abc", True), ("abx", False), ("axy", False)])
def test_the_swing_is_told_only_where_two_seasons_share_three_entries(
    second: str, told: bool
) -> None:
    seasons = [
        SeasonMeans(2021, "t1", ("a", "b", "c"), np.arange(3.0), np.eye(3), 9.0),
        SeasonMeans(2022, "t2", tuple(second), np.array([1.0, 0, 4]), np.eye(3), 9.0),
    ]
    assert (StackedSeasons(seasons).likelihood() is not None) is told
