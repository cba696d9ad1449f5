"""The largest of several t statistics against other quadratures, scipy and printed tables."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from trials.stats.design.table import Floats
from trials.stats.distributions.chebyshev import through_nodes
from trials.stats.distributions.multivariate_t import (
    FactorCorrelation,
    largest_t_cdf,
    largest_t_quantile,
)


def product_form(loadings: Floats) -> Floats:
    matrix = np.outer(loadings, loadings)
    np.fill_diagonal(matrix, 1.0)
    return matrix


def by_gauss_quadrature(t: float, loadings: Floats, df: float, two_sided: bool) -> float:
    """P(max <= t) by Gauss-Legendre over chi around Gauss-Legendre over the common factor."""
    x, weight = np.polynomial.legendre.leggauss(400)
    z = 8.0 * x
    s = 3.0 * (x + 1.0)  # chi over its root df passes 6 with probability below 1e-20 here
    spread = np.sqrt(1 - loadings**2)
    shift = loadings * z[:, None, None]
    inside = stats.norm.cdf((t * s[:, None] - shift) / spread)
    if two_sided:
        inside = inside - stats.norm.cdf((-t * s[:, None] - shift) / spread)
    given_scale = (8.0 * weight * stats.norm.pdf(z)) @ inside.prod(axis=2)
    density = 3.0 * weight * stats.chi.pdf(s * np.sqrt(df), df) * np.sqrt(df)
    return float(given_scale @ density)


@pytest.mark.slow
@pytest.mark.parametrize("two_sided", [True, False])
@pytest.mark.parametrize(
    ("loadings", "df", "t"),
    [
        (np.full(3, 0.5**0.5), 6.0, 2.2),
        (np.array([0.4, 0.7, 0.8, 0.9]), 8.4, 1.3),
        (np.array([-0.5, 0.6, 0.3]), 3.3, 2.8),
        (np.zeros(2), 12.0, 2.0),
    ],
)
def test_the_product_form_agrees_with_gauss_quadrature(
    loadings: Floats, df: float, t: float, two_sided: bool
) -> None:
    expected = by_gauss_quadrature(t, loadings, df, two_sided)
    correlation = FactorCorrelation.of(product_form(loadings))
    assert correlation.excess is None
    found = largest_t_cdf(t, correlation, df, two_sided)[0]
    assert found == pytest.approx(expected, abs=1e-8)


# 5 % points for equal replication, (comparisons, df, two-sided, point), from scipy's dblquad over
# the common factor and the chi scale with brentq around it. Rounded to two places they are those
# of the tables with Dunnett 1955 and 1964 (Biometrics 20:482), as far as remembered.
@pytest.mark.parametrize(
    ("comparisons", "df", "two_sided", "point"),
    [
        (2, 10, True, 2.568),
        (3, 10, True, 2.759),
        (3, 20, True, 2.540),
        (5, 30, True, 2.657),
        (2, 10, False, 2.151),
        (3, 10, False, 2.338),
        (5, 20, False, 2.389),
    ],
)
def test_points_of_the_check_family_agree_with_adaptive_quadrature(
    comparisons: int, df: int, two_sided: bool, point: float
) -> None:
    correlation = FactorCorrelation.of(product_form(np.full(comparisons, 0.5**0.5)))
    found = largest_t_quantile(0.05, correlation, df, two_sided)[0]
    assert found == pytest.approx(point, abs=0.0006)


def test_a_quantile_turns_back_into_its_probability() -> None:
    loadings = np.array([0.55, 0.6, 0.7, 0.72, 0.8])
    correlation = FactorCorrelation.of(product_form(loadings))
    df = np.array([2.5, 9.0, 14.5, np.inf])
    for two_sided in (True, False):
        t = largest_t_quantile(0.1, correlation, df, two_sided)
        assert largest_t_cdf(t, correlation, df, two_sided) == pytest.approx(0.9, abs=1e-7)


def test_many_unequal_loadings_are_summed_as_exactly_as_few() -> None:
    loadings = np.random.default_rng(5).uniform(0.55, 0.85, 12)
    correlation = FactorCorrelation.of(product_form(loadings))
    expected = by_gauss_quadrature(2.6, loadings, 40.0, True)
    found = largest_t_cdf(2.6, correlation, 40.0, True)[0]
    assert found == pytest.approx(expected, abs=1e-8)


def test_many_degrees_of_freedom_are_answered_as_each_alone() -> None:
    loadings = np.array([0.5, 0.6, 0.7, 0.8])
    correlation = FactorCorrelation.of(product_form(loadings))
    df = np.linspace(4.0, 40.0, 23)
    alone = [largest_t_quantile(0.05, correlation, one, True)[0] for one in df]
    assert largest_t_quantile(0.05, correlation, df, True) == pytest.approx(alone, abs=1e-5)


def unequal_correlation(strength: float) -> Floats:
    """Four statistics whose correlations depart from the product form by ``strength``."""
    matrix = product_form(np.array([0.6, 0.7, 0.7, 0.8]))
    matrix[0, 1] += strength
    matrix[1, 0] += strength
    matrix[2, 3] -= strength
    matrix[3, 2] -= strength
    return matrix


@pytest.mark.slow
@pytest.mark.parametrize("strength", [0.02, 0.06, 0.25])
@pytest.mark.parametrize("two_sided", [True, False])
def test_other_correlations_agree_with_scipy_s_integration(
    strength: float, two_sided: bool
) -> None:
    matrix = unequal_correlation(strength)
    correlation = FactorCorrelation.of(matrix)
    assert correlation.excess is not None
    for t in (1.2, 2.4):
        expected = np.mean(
            [
                stats.multivariate_t.cdf(
                    np.full(4, t),
                    shape=matrix,
                    df=9,
                    lower_limit=np.full(4, -t) if two_sided else None,
                    maxpts=200_000,
                    random_state=seed,
                )
                for seed in range(3)
            ]
        )
        found = largest_t_cdf(t, correlation, 9.0, two_sided)[0]
        assert found == pytest.approx(expected, abs=1e-4)


def test_the_quantile_counts_the_excess_correlations() -> None:
    correlation = FactorCorrelation.of(unequal_correlation(0.06))
    t = largest_t_quantile(0.05, correlation, 9.0, True)
    assert largest_t_cdf(t, correlation, 9.0, True)[0] == pytest.approx(0.95, abs=1e-6)


def augmented_from_check() -> Floats:
    """Correlations of 12 entries planted once and two checks, less the first of three checks.

    Six blocks, each with the three checks and two entries. By least squares, block effects as the
    checks show them, the covariances of the differences are, in units of the plot variance: entry
    1 + 1/3 + (1/6) (2/3); entries of one block 1/3 + (1/6) (2/3); of two blocks (1/6) (2/3); entry
    with another check 1/6; checks 1/3 and 1/6.
    """
    block = np.repeat(np.arange(6), 2)
    joint = np.full((14, 14), 1 / 6)
    joint[:12, :12] = np.eye(12) + (block[:, None] == block) / 3 + 1 / 9
    joint[12:, 12:] += np.eye(2) / 6
    scale = np.sqrt(np.diag(joint))
    return np.asarray(joint / np.outer(scale, scale))


@pytest.mark.slow
@pytest.mark.parametrize(("t", "df"), [(2.0, 10.0), (3.0, 10.0), (2.7, 40.0)])
@pytest.mark.parametrize("two_sided", [True, False])
def test_augmented_blocks_agree_with_scipy_s_integration(
    t: float, df: float, two_sided: bool
) -> None:
    matrix = augmented_from_check()
    expected = np.mean(
        [
            stats.multivariate_t.cdf(
                np.full(14, t),
                shape=matrix,
                df=df,
                lower_limit=np.full(14, -t) if two_sided else None,
                maxpts=200_000,
                random_state=seed,
            )
            for seed in range(4)
        ]
    )
    found = largest_t_cdf(t, FactorCorrelation.of(matrix), df, two_sided)[0]
    assert found == pytest.approx(expected, abs=1e-4)


def test_the_interpolant_gives_back_a_smooth_function() -> None:
    points = np.linspace(-3.0, 5.0, 700)
    found = through_nodes(lambda x: np.stack([np.exp(-(x**2)), x**3]), points, nodes=64)
    assert found[0] == pytest.approx(np.exp(-(points**2)), abs=1e-12)
    assert found[1] == pytest.approx(points**3, abs=1e-9)
