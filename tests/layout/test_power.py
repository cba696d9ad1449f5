"""Power against scipy.stats, independent integration, statsmodels and printed tables."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from trials.layout.power.power import (
    Family,
    chance_of_finding,
    critical_t,
    difference_found,
    difference_found_jointly,
    joint_power,
    noncentral_f_upper,
)


@pytest.mark.parametrize("df", [1.0, 2.5, 6.0, 15.0, 120.0])
@pytest.mark.parametrize("shift", [-2.0, 0.0, 1.0, 3.0, 8.0])
def test_a_finding_is_scipy_s_noncentral_t_beyond_either_point(df: float, shift: float) -> None:
    for t in (0.5, 2.13, 3.0, 6.0):
        expected = stats.nct.sf(t, df, shift) + stats.nct.sf(t, df, -shift)
        assert chance_of_finding(shift, 1.0, df, t) == pytest.approx(expected, abs=1e-8)


@pytest.mark.parametrize("num_df", [1.0, 3.0, 11.0])
@pytest.mark.parametrize("den_df", [2.0, 7.5, 33.0, 400.0])
@pytest.mark.parametrize("noncentrality", [0.5, 6.0, 40.0, 700.0])
def test_noncentral_f_is_scipy_s(num_df: float, den_df: float, noncentrality: float) -> None:
    for f in (0.3, 1.7, 4.2, 30.0):
        expected = stats.ncf.sf(f, num_df, den_df, noncentrality)
        found = noncentral_f_upper(f, num_df, den_df, noncentrality)
        assert found == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(("df", "shift", "critical"), [(3.0, 4.0, 3.18), (15.0, 3.0, 2.1314)])
def test_it_agrees_with_integrating_over_the_estimated_deviation(
    df: float, shift: float, critical: float
) -> None:
    def above(s: float) -> float:
        density = stats.chi.pdf(s * np.sqrt(df), df) * np.sqrt(df)
        return float(density * stats.norm.sf(critical * s - shift))

    def below(s: float) -> float:
        density = stats.chi.pdf(s * np.sqrt(df), df) * np.sqrt(df)
        return float(density * stats.norm.cdf(-critical * s - shift))

    upper = integrate.quad(above, 0, 10, epsabs=1e-12, limit=200)[0]
    lower = integrate.quad(below, 0, 10, epsabs=1e-12, limit=200)[0]
    found = chance_of_finding(shift, 1.0, df, critical)
    assert found == pytest.approx(upper + lower, abs=1e-9)


def test_a_known_deviation_is_the_limit() -> None:
    either = stats.norm.sf(1.96 - 2.8) + stats.norm.cdf(-1.96 - 2.8)
    assert chance_of_finding(2.8, 1.0, np.inf, 1.96) == pytest.approx(either)
    expected = stats.ncx2.sf(3 * 2.6, 3, 7.0)
    assert noncentral_f_upper(2.6, 3, np.inf, 7.0) == pytest.approx(expected, abs=1e-9)


def test_no_true_difference_is_found_as_often_as_alpha() -> None:
    for family, entries in [(Family.ONE_PAIR, 6), (Family.WITH_CHECK, 2), (Family.ALL_PAIRS, 2)]:
        critical = critical_t(family, 0.05, entries, 11.5)
        assert chance_of_finding(0.0, 2.0, 11.5, critical) == pytest.approx(0.05, abs=1e-8)
    assert joint_power([3.0, 3.0, 3.0], 1.0, 12.0, 0.1) == pytest.approx(0.1, abs=1e-9)


# Two-sided 5 % points as printed in the tables of texts, from memory: Student's t, the
# studentised range (Pearson & Hartley 1966, table 29) and Dunnett (1964, Biometrics 20:482, table
# II).
@pytest.mark.parametrize(
    ("family", "entries", "df", "printed", "unit"),
    [
        (Family.ONE_PAIR, 6, 15, 2.131, 1.0),
        (Family.ALL_PAIRS, 6, 20, 4.45, np.sqrt(2)),
        (Family.ALL_PAIRS, 4, 20, 3.96, np.sqrt(2)),
        (Family.WITH_CHECK, 3, 20, 2.38, 1.0),
        (Family.WITH_CHECK, 6, 15, 2.82, 1.0),
    ],
)
def test_critical_values_are_the_printed_ones(
    family: Family, entries: int, df: float, printed: float, unit: float
) -> None:
    digits = 0.51e-3 if family is Family.ONE_PAIR else 0.51e-2
    assert critical_t(family, 0.05, entries, df) * unit == pytest.approx(printed, abs=digits)


def test_a_check_with_more_plots_has_its_own_critical_value() -> None:
    # Four entries of 3 plots and a check of 9: correlation (1/9) / (1/9 + 1/3) = 1/4.
    critical = critical_t(Family.WITH_CHECK, 0.05, 5, 16.0, check_share=0.25)
    correlation = np.full((4, 4), 0.25) + 0.75 * np.eye(4)
    spread = stats.multivariate_t(shape=correlation, df=16, seed=1)
    inside = spread.cdf(np.full(4, critical), lower_limit=np.full(4, -critical), maxpts=200_000)
    assert inside == pytest.approx(0.95, abs=3e-4)
    assert critical > critical_t(Family.WITH_CHECK, 0.05, 5, 16.0)


def test_power_of_the_joint_test_is_statsmodels_s() -> None:
    from statsmodels.stats.power import FTestAnovaPower

    pattern, sd, plots = [10.0, 12.0, 9.0, 11.0], 2.0, 5
    size = float(np.std(pattern)) / sd
    expected = FTestAnovaPower().power(size, nobs=plots * 4, alpha=0.05, k_groups=4)
    found = joint_power(pattern, sd * np.sqrt(2 / plots), 4 * (plots - 1), 0.05)
    assert found == pytest.approx(float(expected), abs=1e-8)


# Cohen 1988, Statistical Power Analysis for the Behavioral Sciences, tables 2.4.1 and 8.4.4, from
# memory: plots of each treatment for a chance of 80 % at 5 % two-sided.
@pytest.mark.parametrize(("difference", "plots"), [(0.5, 64), (0.8, 26)])
def test_cohen_s_numbers_for_two_treatments(difference: float, plots: int) -> None:
    def chance(n: int) -> float:
        df = 2.0 * (n - 1)
        return chance_of_finding(
            difference, np.sqrt(2 / n), df, critical_t(Family.ONE_PAIR, 0.05, 2, df)
        )

    assert chance(plots) >= 0.80 > chance(plots - 1)


@pytest.mark.parametrize(("size", "plots"), [(0.25, 45), (0.40, 18)])
def test_cohen_s_numbers_for_four_treatments(size: float, plots: int) -> None:
    pattern = np.array([-1.0, -1.0, 1.0, 1.0]) * size

    def chance(n: int) -> float:
        return joint_power(list(pattern), np.sqrt(2 / n), 4.0 * (n - 1), 0.05)

    assert chance(plots) >= 0.795
    assert chance(plots - 1) < 0.80


@pytest.mark.parametrize("chance", [0.3, 0.8, 0.95])
def test_the_difference_found_has_the_wanted_chance(chance: float) -> None:
    critical = critical_t(Family.ALL_PAIRS, 0.05, 7, 18.0)
    found = difference_found(chance, 1.7, 18.0, critical)
    both = stats.nct.sf(critical, 18, found / 1.7) + stats.nct.cdf(-critical, 18, found / 1.7)
    assert both == pytest.approx(chance, abs=1e-7)
    least = difference_found_jointly(chance, 5, 1.7, 18.0, 0.05)
    pattern = [-least / 2, 0.0, 0.0, 0.0, least / 2]
    assert joint_power(pattern, 1.7, 18.0, 0.05) == pytest.approx(chance, abs=1e-8)


def test_a_chance_below_alpha_needs_no_difference() -> None:
    assert difference_found(0.04, 1.0, 10.0, critical_t(Family.ONE_PAIR, 0.05, 2, 10.0)) == 0.0


def test_what_makes_no_sense_is_refused() -> None:
    with pytest.raises(ValueError, match="at least two entries"):
        critical_t(Family.ALL_PAIRS, 0.05, 1, 10.0)
    with pytest.raises(ValueError, match="degrees of freedom"):
        chance_of_finding(1.0, 1.0, 0.0, 1.0)
    with pytest.raises(ValueError, match="chance"):
        difference_found(1.0, 1.0, 5.0, 2.0)
