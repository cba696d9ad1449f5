"""Correlations taken apart into factors, and the largest statistic against scipy's integration."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from trials.stats.design.table import Floats
from trials.stats.distributions.factor_model import HiddenFactors, own_variances


def in_groups(size: int, groups: int, within: float, between: float) -> Floats:
    group = np.repeat(np.arange(groups), size)
    matrix = np.where(group[:, None] == group, within, between)
    np.fill_diagonal(matrix, 1.0)
    return matrix


def test_one_factor_is_found_again() -> None:
    loadings = np.array([0.3, 0.5, 0.6, 0.7, 0.8])
    matrix = np.outer(loadings, loadings)
    np.fill_diagonal(matrix, 1.0)
    assert own_variances(matrix) == pytest.approx(1 - loadings**2, abs=1e-5)
    assert HiddenFactors.of(matrix).loadings.shape == (5, 1)


def test_statistics_in_groups_keep_what_their_group_does_not_share() -> None:
    # Three factors: what each group shares. 0.4 of the variance is each statistic's own.
    found = HiddenFactors.of(in_groups(4, 3, 0.6, 0.2))
    assert found.loadings.shape == (3, 3)
    assert found.counts.tolist() == [4, 4, 4]
    assert found.own == pytest.approx(np.sqrt(0.4), abs=1e-6)
    assert found.loadings @ found.loadings.T == pytest.approx(
        np.where(np.eye(3) > 0, 0.6, 0.2), abs=1e-6
    )


def test_what_is_taken_out_leaves_a_covariance() -> None:
    root = np.random.default_rng(4).normal(size=(9, 6))
    matrix = root @ root.T + np.eye(9)
    size = np.sqrt(np.diag(matrix))
    matrix /= np.outer(size, size)
    left = matrix - np.diag(own_variances(matrix))
    values = np.linalg.eigvalsh(left)
    assert values[0] > -1e-9  # a covariance
    assert values[0] < 1e-6  # from which nothing more can be taken


def test_independent_statistics_need_no_factor() -> None:
    found = HiddenFactors.of(np.eye(4))
    w = np.array([0.7, 2.0])
    assert found.inside(w, True) == pytest.approx((2 * stats.norm.cdf(w) - 1) ** 4, abs=1e-6)
    assert found.inside(w, False) == pytest.approx(stats.norm.cdf(w) ** 4, abs=1e-6)


@pytest.mark.slow
@pytest.mark.parametrize("two_sided", [True, False])
@pytest.mark.parametrize(
    "matrix",
    [in_groups(3, 2, 0.7, 0.1), in_groups(2, 4, 0.55, 0.3), in_groups(3, 3, 0.5, -0.1)],
    ids=["two groups", "four groups", "against one another"],
)
def test_the_largest_agrees_with_scipy_s_integration(matrix: Floats, two_sided: bool) -> None:
    found = HiddenFactors.of(matrix).inside(np.array([1.0, 2.2]), two_sided)
    k = len(matrix)
    for w, inside in zip((1.0, 2.2), found, strict=True):
        expected = np.mean(
            [
                stats.multivariate_normal.cdf(
                    np.full(k, w),
                    cov=matrix,
                    lower_limit=np.full(k, -w) if two_sided else None,
                    maxpts=100_000,
                    abseps=1e-7,
                    releps=0,
                    rng=seed,
                )
                for seed in range(2)
            ]
        )
        assert inside == pytest.approx(expected, abs=1e-4)


def test_units_of_rounding_do_not_move_the_answer() -> None:
    matrix = in_groups(3, 4, 0.6, 0.2)
    noise = np.random.default_rng(1).normal(scale=1e-13, size=matrix.shape)
    w = np.array([1.5, 2.5])
    plain = HiddenFactors.of(matrix).inside(w, True)
    assert HiddenFactors.of(matrix + noise + noise.T).inside(w, True) == pytest.approx(
        plain, abs=1e-8
    )
