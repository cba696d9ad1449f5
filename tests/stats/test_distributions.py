"""Studentised range, Student's t and the chi scale against tables and scipy.stats."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from trials.stats.distributions.quadrature import (
    chi_scale,
    studentised_range_quantile,
    studentised_range_sf,
    t_quantile,
    t_two_sided,
    t_upper,
)

# Upper 5 % points as printed in the tables of statistics texts (Pearson & Hartley 1966, table
# 29: from memory; the last by NIST/SEMATECH, section 7.4.7.1).
PRINTED = [
    (2, 6, 3.46, 2),
    (3, 10, 3.88, 2),
    (4, 20, 3.96, 2),
    (5, 10, 4.65, 2),
    (10, 60, 4.65, 2),
    (2, np.inf, 2.77, 2),
    (10, np.inf, 4.47, 2),
    (4, 16, 4.046093, 6),
]


@pytest.mark.parametrize(("entries", "df", "q", "decimals"), PRINTED)
def test_printed_points_of_the_range_are_met(
    entries: int, df: float, q: float, decimals: int
) -> None:
    found = float(studentised_range_quantile(0.05, entries, df))
    assert found == pytest.approx(q, abs=0.51 * 10.0**-decimals)


@pytest.mark.slow
@pytest.mark.parametrize("entries", [2, 3, 6, 12, 40, 200])
@pytest.mark.parametrize("df", [1.0, 1.7, 2.5, 6.0, 33.0, 120.5])
def test_the_range_agrees_with_scipy_to_eight_places(entries: int, df: float) -> None:
    q = np.array([0.4, 1.5, 3.3, 5.0, 9.0, 40.0])
    expected = stats.studentized_range.sf(q, entries, df)
    assert studentised_range_sf(q, entries, df) == pytest.approx(expected, abs=1e-8)


@pytest.mark.parametrize("entries", [3, 12])
def test_a_known_deviation_is_the_limit_of_many_degrees_of_freedom(entries: int) -> None:
    expected = stats.studentized_range.sf(4.2, entries, np.inf)
    assert float(studentised_range_sf(4.2, entries, np.inf)) == pytest.approx(expected, abs=1e-9)
    assert float(studentised_range_sf(4.2, entries, 1e9)) == pytest.approx(expected, abs=1e-6)


def test_many_degrees_of_freedom_at_once_give_what_each_gives_alone() -> None:
    df = np.array([2.2, 5.0, 5.0, 17.3, np.inf])
    q = np.array([3.0, 4.0, 1.0, 3.5, 2.2])
    alone = [float(studentised_range_sf(a, 7, b)) for a, b in zip(q, df, strict=True)]
    assert studentised_range_sf(q, 7, df) == pytest.approx(alone, abs=1e-9)
    points = studentised_range_quantile(0.1, 7, df)
    assert studentised_range_sf(points, 7, df) == pytest.approx(0.1, abs=1e-10)


def test_two_entries_are_student_s_t() -> None:
    t, df = np.array([0.3, 1.1, 2.0, 4.4]), 7.5
    expected = 2 * stats.t.sf(t, df)
    assert studentised_range_sf(np.sqrt(2) * t, 2, df) == pytest.approx(expected, abs=1e-9)


def test_student_s_t_takes_fractions_and_infinity() -> None:
    df = np.array([1.3, 6.0, np.inf])
    assert t_two_sided(-2.1, df) == pytest.approx(2 * stats.t.sf(2.1, df), rel=1e-12)
    assert t_upper(2.1, df) == pytest.approx(stats.t.sf(2.1, df), rel=1e-12)
    assert t_quantile(0.975, df) == pytest.approx(stats.t.ppf(0.975, df), rel=1e-9)


@pytest.mark.parametrize("df", [0.7, 1.0, 3.4, 33.0, 5000.0, np.inf])
def test_the_chi_scale_has_the_moments_of_chi(df: float) -> None:
    nodes, weights = chi_scale(df, 60.0)
    variance = np.sum(weights * nodes**2)
    assert variance == pytest.approx(1.0, abs=1e-9)
    if np.isfinite(df):
        mean = stats.chi.mean(df) / np.sqrt(df)
        assert np.sum(weights * nodes) == pytest.approx(mean, abs=1e-9)


def test_impossible_questions_are_refused() -> None:
    with pytest.raises(ValueError, match="positive"):
        chi_scale(0.0, 60.0)
    with pytest.raises(ValueError, match="two entries"):
        studentised_range_sf(3.0, 1, 10.0)
