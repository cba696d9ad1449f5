"""The four families against published examples, scipy, and their promises by simulation."""

from __future__ import annotations

from collections.abc import Callable
from random import Random
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from trials.model.trial import Better
from trials.stats.design.table import Codes, Floats
from trials.stats.families import (
    Tail,
    all_pairs,
    conservative,
    tukey_kramer,
    verdicts,
    with_best,
    with_check,
)
from trials.stats.results import Verdict

if TYPE_CHECKING:
    from tests.stats.conftest import Published


def steady(df: float) -> Callable[..., Any]:
    """The same degrees of freedom for every contrast."""
    return lambda contrasts: np.full(len(contrasts), float(df))


def grouped(trial: Published, column: str) -> tuple[Any, ...]:
    """Means, covariance and degrees of freedom of a completely randomised trial."""
    labels = trial.labels(column)
    groups = [trial.y[labels.codes == i] for i in range(len(labels.levels))]
    df = len(trial.y) - len(groups)
    error = sum(((g - g.mean()) ** 2).sum() for g in groups) / df
    means = np.array([g.mean() for g in groups])
    return labels.levels, means, np.diag([error / len(g) for g in groups]), df


def blocked(entry: Codes, block: Codes, y: Floats) -> tuple[Floats, Floats, int]:
    """Adjusted means, covariance and degrees of freedom with complete blocks, by lstsq."""
    k, b = entry.max() + 1, block.max() + 1
    design = np.hstack([np.eye(k)[entry], np.eye(b)[block][:, 1:]])
    found, _, rank, _ = np.linalg.lstsq(design, y, rcond=None)
    df = len(y) - int(rank)
    error = ((y - design @ found) ** 2).sum() / df
    average = np.hstack([np.eye(k), np.full((k, b - 1), 1.0 / b)])
    return average @ found, error * average @ np.linalg.inv(design.T @ design) @ average.T, df


def cultivars(published: Callable[[str], Published]) -> tuple[Any, ...]:
    trial = published("cultivars_rcbd")
    return trial, *blocked(trial.labels("cultivar").codes, trial.labels("block").codes, trial.y)


def test_all_pairs_of_the_handbook_example(published: Callable[[str], Published]) -> None:
    trial = published("four_groups_crd")
    levels, means, cov, df = grouped(trial, "group")
    pairs = all_pairs(means, cov, steady(df), 0.05)
    assert pairs.critical * np.sqrt(2) == pytest.approx(trial.expect["q"], abs=1e-6)
    assert (pairs.high - pairs.low) / 2 == pytest.approx(trial.expect["HSD"], abs=1e-6)
    for name, (low, high) in trial.expect["ci"].items():
        a, b = (levels.index(part) for part in name.split("-"))
        turned = a > b
        at = np.flatnonzero((pairs.first == min(a, b)) & (pairs.second == max(a, b)))[0]
        found = (pairs.low[at], pairs.high[at])
        expected = (-high, -low) if turned else (low, high)
        assert found == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize(("file", "factor"), [("melon_crd", "variety"), ("cultivars_rcbd", "")])
def test_adjusted_p_values_of_published_pairs(
    published: Callable[[str], Published], file: str, factor: str
) -> None:
    trial = published(file)
    if factor:
        levels, means, cov, df = grouped(trial, factor)
    else:
        trial, means, cov, df = cultivars(published)
        levels = trial.labels("cultivar").levels
    pairs = all_pairs(means, cov, steady(df), 0.05)
    expected = trial.expect["tukey_p"]
    assert len(expected) == len(pairs.p)
    for name, p in expected.items():
        i, j = sorted(levels.index(part) for part in name.split("-"))
        at = np.flatnonzero((pairs.first == i) & (pairs.second == j))[0]
        assert pairs.p_adjusted[at] == pytest.approx(p, abs=6e-9 if p < 1e-4 else 1e-7)


def test_unequal_replication_is_tukey_kramer_as_scipy_has_it() -> None:
    rng = np.random.default_rng(11)
    groups = [rng.normal(20 + i, 2.0, n) for i, n in enumerate((4, 3, 6, 5))]
    expected = stats.tukey_hsd(*groups)
    limits = expected.confidence_interval(0.9)
    df = 18 - 4
    error = sum(((g - g.mean()) ** 2).sum() for g in groups) / df
    cov = np.diag([error / len(g) for g in groups])
    pairs = tukey_kramer(np.array([g.mean() for g in groups]), cov, steady(df), 0.1)
    at = pairs.first, pairs.second
    assert pairs.p_adjusted == pytest.approx(expected.pvalue[at], abs=1e-7)
    assert pairs.low == pytest.approx(limits.low[at], abs=1e-6)
    assert pairs.high == pytest.approx(limits.high[at], abs=1e-6)


def test_pairs_with_their_own_degrees_of_freedom() -> None:
    cov = np.diag([0.3, 0.5, 0.4])
    own = np.array([4.5, 9.0, 21.2])
    pairs = tukey_kramer(np.array([5.0, 6.5, 8.0]), cov, lambda _: own, 0.05)
    q = np.sqrt(2) * np.abs(pairs.t)
    assert pairs.p_adjusted == pytest.approx(stats.studentized_range.sf(q, 3, own), abs=1e-8)
    expected = [stats.studentized_range.isf(0.05, 3, df) / np.sqrt(2) for df in own]
    assert pairs.critical == pytest.approx(expected, abs=1e-6)


def test_all_pairs_are_the_studentised_range_where_that_is_exact(
    published: Callable[[str], Published],
) -> None:
    _, means, cov, df = cultivars(published)
    exact, plain = (f(means, cov, steady(df), 0.05) for f in (all_pairs, tukey_kramer))
    assert exact.p_adjusted.tolist() == plain.p_adjusted.tolist()
    assert exact.critical.tolist() == plain.critical.tolist()


def test_the_single_step_meets_a_simulation_of_its_definition() -> None:
    # max |t| over all pairs of three means, variances 1, 1/4, 1/9, 8 degrees of freedom.
    cov = np.diag([1.0, 0.25, 1 / 9])
    rng = np.random.default_rng(20)
    z = rng.normal(size=(400_000, 3)) * np.sqrt(np.diag(cov))
    s = np.sqrt(rng.chisquare(8, len(z)) / 8)
    first, second = np.triu_indices(3, 1)
    spread = np.sqrt(np.diag(cov)[first] + np.diag(cov)[second])
    largest = (np.abs(z[:, first] - z[:, second]) / spread).max(axis=1) / s
    exact = all_pairs(np.array([0.0, 2.4, 1.0]), cov, steady(8), 0.05)
    plain = tukey_kramer(np.array([0.0, 2.4, 1.0]), cov, steady(8), 0.05)
    simulated = [(largest > abs(t)).mean() for t in exact.t]
    assert exact.p_adjusted == pytest.approx(simulated, abs=0.003)
    assert (exact.p_adjusted < plain.p_adjusted).all()
    assert (largest > exact.critical[0]).mean() == pytest.approx(0.05, abs=0.0015)


@pytest.mark.parametrize(("tail", "key"), [(Tail.TWO_SIDED, "p_two"), (Tail.GREATER, "p_greater")])
def test_the_blood_counts_against_their_control(
    published: Callable[[str], Published], tail: Tail, key: str
) -> None:
    trial = published("blood_counts_crd")
    _, means, cov, df = grouped(trial, "group")
    found = with_check(means, cov, steady(df), 0, 0.05, tail)
    assert found.t == pytest.approx(trial.expect["t"], abs=1e-5)
    assert found.p_adjusted == pytest.approx(trial.expect[key], abs=1e-4)


@pytest.mark.parametrize("tail", list(Tail))
def test_the_check_family_is_scipy_s_where_there_are_no_blocks(tail: Tail) -> None:
    rng = np.random.default_rng(2)
    groups = [rng.normal(10 + 0.8 * i, 1.5, n) for i, n in enumerate((8, 4, 5, 4, 4))]
    name = "two-sided" if tail is Tail.TWO_SIDED else str(tail)
    expected = stats.dunnett(
        *groups[1:], control=groups[0], alternative=name, rng=np.random.default_rng(0)
    )
    df = 25 - 5
    error = sum(((g - g.mean()) ** 2).sum() for g in groups) / df
    cov = np.diag([error / len(g) for g in groups])
    found = with_check(np.array([g.mean() for g in groups]), cov, steady(df), 0, 0.05, tail)
    limits = expected.confidence_interval(0.95)
    assert found.p_adjusted == pytest.approx(expected.pvalue, abs=2e-4)
    assert found.low == pytest.approx(limits.low, abs=5e-3)
    assert found.high == pytest.approx(limits.high, abs=5e-3)


def test_blocks_are_in_the_error_of_the_check_family(published: Callable[[str], Published]) -> None:
    trial, means, cov, df = cultivars(published)
    found = with_check(means, cov, steady(df), 0, 0.05)
    # The printed values come from an integration by random points, good to three places.
    expected = list(trial.expect["dunnett_vs_C1_p"].values())
    assert found.p_adjusted == pytest.approx(expected, abs=3e-4)
    # scipy.integrate.dblquad over the common factor and the chi scale, to 1e-9.
    expected = [0.17204874585, 0.99439896479, 0.03129433723]
    assert found.p_adjusted == pytest.approx(expected, abs=1e-8)


def test_a_lost_plot_changes_the_correlations_of_the_check_family(
    published: Callable[[str], Published],
) -> None:
    trial = published("cultivars_rcbd")
    entry, block = trial.labels("cultivar").codes, trial.labels("block").codes
    kept = ~((entry == 0) & (block == 1))
    means, cov, df = blocked(entry[kept], block[kept], trial.y[kept])
    found = with_check(means, cov, steady(df), 0, 0.05)
    rows = np.hstack([-np.ones((3, 1)), np.eye(3)])
    joint = rows @ cov @ rows.T
    scale = np.sqrt(np.diag(joint))
    for t, p in zip(found.t, found.p_adjusted, strict=True):
        expected = 1 - stats.multivariate_t.cdf(
            np.full(3, abs(t)),
            shape=joint / np.outer(scale, scale),
            df=df,
            lower_limit=np.full(3, -abs(t)),
            random_state=1,
            maxpts=400_000,
        )
        assert p == pytest.approx(expected, abs=5e-5)


# --- with the best ----------------------------------------------------------------------------


def one_sided_point(alpha: float, load: Floats, df: int) -> float:
    """P(max T_i > t) = alpha under correlations load_i load_j, by Gauss-Legendre and bisection."""
    x, weight = np.polynomial.legendre.leggauss(120)
    z, s = 7.0 * x, 2.5 * (x + 1.0)

    def exceeded(t: float) -> float:
        inside = stats.norm.cdf((t * s[:, None] - load * z[:, None, None]) / np.sqrt(1 - load**2))
        given_scale = (7.0 * weight * stats.norm.pdf(z)) @ inside.prod(axis=2)
        density = 2.5 * weight * stats.chi.pdf(s * np.sqrt(df), df) * np.sqrt(df)
        return float(1.0 - given_scale @ density - alpha)

    return float(optimize.brentq(exceeded, 1.0, 6.0, xtol=1e-9))


def best_by_definition(
    means: Floats, n: Codes, variance: float, df: int, alpha: float
) -> tuple[Floats, ...]:
    """Hsu's limits written out with loops."""
    k = len(means)
    critical = [
        one_sided_point(alpha, np.sqrt([n[j] / (n[j] + n[i]) for j in range(k) if j != i]), df)
        for i in range(k)
    ]
    reach, fall = [], []
    for i in range(k):
        se = [np.sqrt(variance * (1 / n[i] + 1 / n[j])) for j in range(k)]
        others = [j for j in range(k) if j != i]
        reach.append(max(0.0, min(means[i] - means[j] + critical[i] * se[j] for j in others)))
    for i in range(k):
        se = [np.sqrt(variance * (1 / n[i] + 1 / n[j])) for j in range(k)]
        rivals = [j for j in range(k) if j != i and reach[j] > 0]
        fall.append(
            min(0.0, *[means[i] - means[j] - critical[j] * se[j] for j in rivals])
            if rivals
            else 0.0
        )
    return np.array(fall), np.array(reach)


def test_limits_against_the_best_follow_hsu_s_definition() -> None:
    means, n = np.array([10.1, 12.0, 9.2, 12.6]), np.array([4, 3, 6, 5])
    low, high = best_by_definition(means, n, 1.7, 14, 0.05)
    found = with_best(means, np.diag(1.7 / n), steady(14), Better.HIGHER, 0.05)
    assert found.low == pytest.approx(low, abs=1e-6)
    assert found.high == pytest.approx(high, abs=1e-6)
    assert found.could_be_best.tolist() == (high > 0).tolist()


def test_two_entries_against_the_best_are_one_student_s_t() -> None:
    cov = np.diag([0.4, 0.4])
    found = with_best(np.array([5.0, 9.0]), cov, steady(6), Better.HIGHER, 0.05)
    reach = stats.t.ppf(0.95, 6) * np.sqrt(0.8)
    assert found.critical == pytest.approx(stats.t.ppf(0.95, 6), abs=1e-9)
    assert found.low == pytest.approx([-4 - reach, 0.0], abs=1e-8)
    assert found.high == pytest.approx([0.0, 4 + reach], abs=1e-8)
    assert found.could_be_best.tolist() == [False, True]


def test_the_critical_value_is_the_one_sided_one_of_the_check_family() -> None:
    # Dunnett 1955, table 1a (from memory): 3 comparisons, 20 degrees of freedom, 5 %: 2.19.
    found = with_best(np.arange(4.0), np.eye(4), steady(20), Better.HIGHER, 0.05)
    assert found.critical == pytest.approx(2.19, abs=0.0051)


def test_limits_against_the_best_are_those_of_a_published_example() -> None:
    # Hardness of four paint blends, 6 samples each: means, pooled deviation and two intervals as
    # printed in the help of a general statistics program for comparisons with the best.
    means = np.array([14.733, 8.567, 12.983, 18.067])
    cov = np.eye(4) * 3.95012**2 / 6
    found = with_best(means, cov, steady(20), Better.HIGHER, 0.05)
    assert found.low[1:3] == pytest.approx([-14.5000, -10.0833], abs=0.001)
    assert found.high[1:3].tolist() == [0.0, 0.0]
    assert found.could_be_best.tolist() == [True, False, False, True]


def test_where_small_is_good_the_picture_is_mirrored() -> None:
    means, cov = np.array([61.0, 58.0, 57.5, 66.0]), np.diag([0.5, 0.7, 0.5, 0.6])
    small = with_best(means, cov, steady(9), Better.LOWER, 0.05)
    large = with_best(-means, cov, steady(9), Better.HIGHER, 0.05)
    assert small.low.tolist() == (-large.high).tolist()
    assert small.high.tolist() == (-large.low).tolist()
    assert small.could_be_best.tolist() == [False, True, True, False]
    assert (small.high >= 0).all()
    assert (small.low <= 0).all()


def test_exact_ties_for_best_stay_ties_whatever_the_rounding() -> None:
    tied = np.array([0.1 + 0.2, 0.3, 0.05])
    found = with_best(tied, np.zeros((3, 3)), steady(6), Better.HIGHER, 0.05)
    assert found.could_be_best.tolist() == [True, True, False]
    pairs = all_pairs(tied, np.zeros((3, 3)), steady(6), 0.05)
    assert pairs.p_adjusted.tolist() == [1.0, 0.0, 0.0]


def test_limits_against_the_best_hold_together_as_often_as_promised() -> None:
    # Five entries of which two are best, unequal replication, 12 degrees of freedom.
    rng = np.random.default_rng(8)
    truth, n, df, trials = np.array([10.0, 10.0, 9.6, 9.0, 8.0]), np.array([3, 4, 4, 4, 6]), 12, 400
    shortfall = truth - np.array([np.delete(truth, i).max() for i in range(5)])
    held = 0
    for _ in range(trials):
        means = rng.normal(truth, 1 / np.sqrt(n))
        variance = rng.chisquare(df) / df
        found = with_best(means, np.diag(variance / n), steady(df), Better.HIGHER, 0.1)
        held += bool(np.all((found.low <= shortfall) & (shortfall <= found.high)))
    assert held / trials > 0.9 - 2 * np.sqrt(0.9 * 0.1 / trials)


def test_all_pairs_err_as_often_as_promised_in_blocks_with_lost_plots() -> None:
    rng = np.random.default_rng(4)
    entry, block = np.divmod(np.arange(20), 4)
    kept = ~np.isin(np.arange(20), [2, 9])
    wrong, trials = 0, 500
    for _ in range(trials):
        y = rng.normal(size=20) + block
        means, cov, df = blocked(entry[kept], block[kept], y[kept])
        wrong += all_pairs(means, cov, steady(df), 0.1).p_adjusted.min() <= 0.1
    assert wrong / trials == pytest.approx(0.1, abs=3 * np.sqrt(0.09 / trials))


# --- practically the same ---------------------------------------------------------------------


def test_each_interval_has_its_verdict() -> None:
    low = np.array([0.5, -4.0, -1.0, -4.0, 0.2, 2.0])
    high = np.array([5.0, -0.5, 1.0, 4.0, 1.9, 4.0])
    expected = (
        Verdict.MORE,
        Verdict.LESS,
        Verdict.SAME,
        Verdict.UNKNOWN,
        Verdict.SAME,  # leaves out 0, but by less than what matters
        Verdict.MORE,
    )
    assert verdicts(low, high, 2.0) == expected
    assert Verdict.SAME not in verdicts(low, high, None)


# --- properties -------------------------------------------------------------------------------

means_and_cov = st.integers(2, 6).flatmap(
    lambda k: st.tuples(
        st.lists(st.floats(-50, 50), min_size=k, max_size=k).map(np.array),
        st.lists(st.floats(0.05, 2.0), min_size=k, max_size=k).map(np.diag),
    )
)


@settings(max_examples=25, deadline=None)
@given(means_and_cov, st.floats(1.5, 60.0), st.randoms(use_true_random=False))
def test_order_shift_and_scale_change_nothing_that_matters(
    problem: tuple[Floats, ...], df: float, random: Random
) -> None:
    means, cov = problem
    order = list(range(len(means)))
    random.shuffle(order)
    plain = all_pairs(means, cov, steady(df), 0.05)
    moved = all_pairs(3.0 * means[order] + 7.0, 9.0 * cov[np.ix_(order, order)], steady(df), 0.05)
    whole = np.zeros((len(means), len(means)))
    whole[plain.first, plain.second] = whole[plain.second, plain.first] = plain.p_adjusted
    expected = [whole[order[i], order[j]] for i, j in zip(moved.first, moved.second, strict=True)]
    assert moved.p_adjusted == pytest.approx(expected, abs=1e-6)
    best = with_best(means, cov, steady(df), Better.HIGHER, 0.05)
    again = with_best(
        3.0 * means[order] + 7.0, 9.0 * cov[np.ix_(order, order)], steady(df), Better.HIGHER, 0.05
    )
    assert again.low == pytest.approx(3.0 * best.low[order], abs=1e-4)
    assert again.high == pytest.approx(3.0 * best.high[order], abs=1e-4)


@settings(max_examples=25, deadline=None)
@given(means_and_cov, st.floats(1.5, 60.0))
def test_families_keep_their_order_of_strictness(problem: tuple[Floats, ...], df: float) -> None:
    means, cov = problem
    pairs = all_pairs(means, cov, steady(df), 0.05)
    check = with_check(means, cov, steady(df), 0, 0.05)
    assert (pairs.p <= pairs.p_adjusted).all()
    assert (pairs.p_adjusted <= len(pairs.p) * pairs.p + 1e-15).all()
    with_first = pairs.first == 0
    assert (check.p_adjusted <= pairs.p_adjusted[with_first] + 1e-4).all()
    plain = tukey_kramer(means, cov, steady(df), 0.05)
    assert (pairs.p_adjusted <= plain.p_adjusted + 1e-4).all()
    assert (pairs.critical <= plain.critical * 1.001).all()
    outside = (pairs.low > 0) | (pairs.high < 0)
    clear = np.abs(pairs.p_adjusted - 0.05) > 1e-6
    assert np.array_equal(outside[clear], pairs.p_adjusted[clear] < 0.05)
    best = with_best(means, cov, steady(df), Better.HIGHER, 0.05)
    assert best.could_be_best[np.argmax(means)]
    assert (best.low <= 0).all()
    assert (best.high >= 0).all()


def test_fewer_than_two_entries_are_refused() -> None:
    with pytest.raises(ValueError, match="two entries"):
        all_pairs(np.array([1.0]), np.eye(1), steady(5), 0.05)


def test_too_many_uneven_entries_are_judged_on_the_safe_side() -> None:
    even, uneven = np.full(41, 0.3), np.linspace(0.2, 0.4, 41)
    assert conservative(np.diag(uneven))
    assert not conservative(np.diag(even))
    assert not conservative(np.diag(uneven[:40]))
    means = np.linspace(8.0, 12.0, 41)
    found, plain = (f(means, np.diag(uneven), steady(80), 0.05) for f in (all_pairs, tukey_kramer))
    assert found.p_adjusted.tolist() == plain.p_adjusted.tolist()
