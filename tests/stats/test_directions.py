"""The largest of all pairs against nested quadrature, simulation, and the studentised range."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from trials.stats.design.table import Floats
from trials.stats.distributions.largest_pair import LargestPair


def three_by_quadrature(t: float, cov: Floats, df: float) -> float:
    """P(largest > t) of three means: Gauss-Legendre over two differences and the chi scale.

    The first difference d = m1 - m2 is normal; given it, so is e = m1 - m3, which must lie within
    its own limits and within those of d - e.
    """
    rows = np.array([[1.0, -1, 0], [1, 0, -1], [0, 1, -1]])
    joint = rows @ cov @ rows.T
    se = np.sqrt(np.diag(joint))
    x, weight = np.polynomial.legendre.leggauss(300)
    s = 2.5 * (x + 1.0)
    scale = 2.5 * weight * stats.chi.pdf(s * np.sqrt(df), df) * np.sqrt(df)
    half = t * s * se[:, None]  # the three limits at each scale
    d = half[0] * x[:, None]
    mean, sd = joint[0, 1] / joint[0, 0] * d, np.sqrt(joint[1, 1] - joint[0, 1] ** 2 / joint[0, 0])
    low = np.maximum(-half[1], d - half[2])
    high = np.minimum(half[1], d + half[2])
    between = np.maximum(stats.norm.cdf((high - mean) / sd) - stats.norm.cdf((low - mean) / sd), 0)
    inside = (weight[:, None] * half[0] * stats.norm.pdf(d / se[0]) / se[0] * between).sum(axis=0)
    return float(1.0 - inside @ scale)


@pytest.mark.slow
@pytest.mark.parametrize("df", [5.0, 14.5])
@pytest.mark.parametrize(
    "cov",
    [
        np.diag([1.0, 0.25, 0.1]),
        np.diag([0.3, 0.35, 0.4]),
        np.array([[1.0, 0.6, 0.1], [0.6, 0.9, 0.2], [0.1, 0.2, 0.5]]),
    ],
    ids=["unequal", "nearly equal", "correlated"],
)
def test_three_means_agree_with_quadrature(cov: Floats, df: float) -> None:
    found = LargestPair.of(cov, 0.05, df)
    t = np.array([0.8, 1.7, 2.6, 3.6])
    expected = [three_by_quadrature(one, cov, df) for one in t]
    assert found.sf(t, np.full(4, df)) == pytest.approx(expected, abs=1e-4)
    critical = found.quantile(0.05, np.array([df]))
    assert three_by_quadrature(float(critical[0]), cov, df) == pytest.approx(0.05, abs=5e-5)


def test_equal_errors_are_the_studentised_range() -> None:
    found = LargestPair.of(0.7 * np.eye(7), 0.05, 21.0)
    t = np.array([1.5, 2.4, 3.3])
    expected = stats.studentized_range.sf(t * np.sqrt(2), 7, 21)
    assert found.sf(t, np.full(3, 21.0)) == pytest.approx(expected, abs=1e-6)


@pytest.mark.slow
def test_augmented_blocks_agree_with_a_simulation_of_the_definition() -> None:
    # Three means known from six plots each among twelve known from one, blocks of two sharing luck.
    block = np.repeat(np.arange(6), 2)
    cov = np.zeros((15, 15))
    cov[:3, :3] = np.eye(3) / 6
    cov[3:, 3:] = np.eye(12) + (block[:, None] == block) / 3
    first, second = np.triu_indices(15, 1)
    se = np.sqrt(np.diag(cov)[first] + np.diag(cov)[second] - 2 * cov[first, second])
    lot = np.random.default_rng(12)
    root = np.linalg.cholesky(cov)
    largest = np.concatenate(
        [
            np.abs((z[:, first] - z[:, second]) / se).max(axis=1)
            / np.sqrt(lot.chisquare(10, len(z)) / 10)
            for z in (lot.normal(size=(50_000, 15)) @ root.T for _ in range(6))
        ]
    )
    found = LargestPair.of(cov, 0.05, 10.0)
    for t in (3.0, 4.3):
        simulated = float((largest > t).mean())
        error = np.sqrt(simulated * (1 - simulated) / len(largest))
        assert found.sf(np.array([t]), np.array([10.0]))[0] == pytest.approx(
            simulated, abs=3.5 * error
        )


def test_each_pair_is_held_at_its_own_degrees_of_freedom() -> None:
    found = LargestPair.of(np.diag([1.0, 0.25, 0.1]), 0.05, 9.0)
    df = np.array([4.5, 9.0, 30.0])
    together = found.quantile(0.05, df)
    alone = [float(found.quantile(0.05, np.array([one]))[0]) for one in df]
    assert together == pytest.approx(alone, abs=1e-5)
    assert found.sf(together, df) == pytest.approx(0.05, abs=1e-6)
