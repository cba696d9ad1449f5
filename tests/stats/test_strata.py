# ruff: noqa: SIM300 - F is the name of a statistic, not a constant
from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy.special import stdtrit

from trials.errors import ComparisonRefused
from trials.stats.design.linear_model import Grouping, LinearModel
from trials.stats.design.table import Floats
from trials.stats.fit.least_squares import least_squares
from trials.stats.fit.strata import is_orthogonal, strata
from trials.stats.results import Method

if TYPE_CHECKING:
    from tests.stats.conftest import Published


def averaged(a: int, b: int) -> tuple[np.ndarray, np.ndarray]:
    """Main-effect means of two crossed factors as rows over their a x b cells."""
    return np.kron(np.eye(a), np.full((1, b), 1 / b)), np.kron(np.full((1, a), 1 / a), np.eye(b))


@pytest.fixture
def rice(published: Callable[[str], Published]) -> LinearModel:
    trial = published("rice_nitrogen_split_plot")
    return LinearModel(
        trial.y,
        trial.grouping("nitrogen", "variety"),
        (trial.grouping("block"),),
        (replace(trial.grouping("block", "nitrogen"), source="whole plot"),),
    )


def test_split_plot_of_rice(
    published: Callable[[str], Published], rice: LinearModel, contrasts: Callable[[int], Floats]
) -> None:
    expect = published("rice_nitrogen_split_plot").expect
    assert is_orthogonal(rice)
    fit = strata(rice)
    assert fit.method is Method.STRATA
    nitrogen, variety = averaged(6, 4)
    tests = {
        "N": fit.df.joint(contrasts(6) @ nitrogen),
        "V": fit.df.joint(contrasts(4) @ variety),
        "NV": fit.df.joint(np.kron(contrasts(6), contrasts(4)).astype(float)),
    }
    for term, error in (("N", "error_a"), ("V", "error_b"), ("NV", "error_b")):
        assert tests[term].F == pytest.approx(expect["F"][term], abs=5e-4)
        assert tests[term].num_df == expect["df"][term]
        assert tests[term].den_df == expect["df"][error]
    whole, residual = fit.components
    assert (whole.source, residual.source) == ("whole plot", "residual")
    assert whole.mean_square == pytest.approx(expect["MS"]["error_a"], abs=0.5)
    assert residual.mean_square == pytest.approx(expect["MS"]["error_b"], abs=0.5)
    assert (whole.df, residual.df) == (10, 36)
    # Below zero, and kept so: (141968 - 349580) / 4.
    assert whole.variance == pytest.approx(-51903.0, abs=0.5)


def test_split_plot_errors_of_differences_and_least_differences(
    published: Callable[[str], Published], rice: LinearModel, contrasts: Callable[[int], Floats]
) -> None:
    expect = published("rice_nitrogen_split_plot").expect
    fit = strata(rice)
    nitrogen, variety = averaged(6, 4)
    rows = {
        "N": contrasts(6)[:1] @ nitrogen,
        "V": contrasts(4)[:1] @ variety,
        "V_same_N": np.kron(np.eye(6)[:1], contrasts(4)[:1]),
        "N_same_V": np.kron(contrasts(6)[:1], np.eye(4)[:1]),
    }
    for name, row in rows.items():
        _, se, df = fit.estimates(row)
        assert se[0] == pytest.approx(expect["SED"][name], abs=1e-4)
        if name != "N_same_V":
            assert se[0] * stdtrit(df[0], 0.975) == pytest.approx(expect["LSD05"][name], abs=5e-3)
    # The book's least difference across strata takes a weighted t (Cochran & Cox 1957, p. 299)
    # from the strata's mean squares and df; the program takes Satterthwaite's df instead.
    whole, residual = fit.components
    assert residual.mean_square is not None
    weights = np.array([3 * residual.mean_square, whole.mean_square])
    t = stdtrit(np.array([residual.df, whole.df]), 0.975)
    book = expect["SED"]["N_same_V"] * float(weights @ t) / weights.sum()
    assert book == pytest.approx(expect["LSD05"]["N_same_V"], abs=5e-3)
    parts = weights**2 / np.array([36, 10])
    satterthwaite = weights.sum() ** 2 / parts.sum()
    assert fit.estimates(rows["N_same_V"])[2][0] == pytest.approx(satterthwaite, rel=1e-10)


def test_split_plot_of_oats(
    published: Callable[[str], Published], contrasts: Callable[[int], Floats]
) -> None:
    trial = published("oats_split_plot")
    model = LinearModel(
        trial.y,
        trial.grouping("variety", "manure"),
        (trial.grouping("block"),),
        (trial.grouping("block", "variety"),),
    )
    fit = strata(model)
    variety, manure = averaged(3, 4)
    terms = {
        "variety": contrasts(3) @ variety,
        "manure": contrasts(4) @ manure,
        "interaction": np.kron(contrasts(3), contrasts(4)),
    }
    for term, rows in terms.items():
        num_df, den_df, F = trial.expect["F"][term]
        test = fit.df.joint(rows)
        assert (test.num_df, test.den_df) == (num_df, den_df)
        assert test.F == pytest.approx(F, abs=5e-4 if F > 10 else 5e-5)


@pytest.fixture
def strips() -> LinearModel:
    """4 x 3 in crossing strips, 3 blocks, with the errors of all three sizes."""
    rng = np.random.default_rng(8)
    a, b, block = (v.ravel() for v in np.meshgrid(range(4), range(3), range(3), indexing="ij"))
    rows, columns = a * 3 + block, b * 3 + block
    y = a + b + 2 * block + rng.normal(size=12)[rows] + rng.normal(size=9)[columns]
    y = y + 0.5 * rng.normal(size=36)
    return LinearModel(
        y,
        Grouping("cell", a * 3 + b, 12),
        (Grouping("block", block, 3),),
        (Grouping("strip of a", rows, 12), Grouping("strip of b", columns, 9)),
    )


def test_strips_are_tested_by_their_interactions_with_blocks(
    strips: LinearModel, contrasts: Callable[[int], Floats]
) -> None:
    """Against sums of squares of means of the table (Gomez & Gomez 1984, chapter 3)."""
    table = strips.y.reshape(4, 3, 3)  # a, b, block
    grand = table.mean()
    a, b, r = table.mean((1, 2)) - grand, table.mean((0, 2)) - grand, table.mean((0, 1)) - grand
    ar = table.mean(1) - grand - a[:, None] - r
    br = table.mean(0) - grand - b[:, None] - r
    ab = table.mean(2) - grand - a[:, None] - b
    left = table - grand - a[:, None, None] - b[:, None] - r
    left = left - ar[:, None] - br - ab[:, :, None]
    ms_a, ms_b, ms_ab = 9 * (a @ a) / 3, 12 * (b @ b) / 2, 3 * (ab**2).sum() / 6
    error_a, error_b, error_ab = 3 * (ar**2).sum() / 6, 4 * (br**2).sum() / 4, (left**2).sum() / 12
    assert is_orthogonal(strips)
    fit = strata(strips)
    in_a, in_b = averaged(4, 3)
    for rows, F, den_df in (
        (contrasts(4) @ in_a, ms_a / error_a, 6),
        (contrasts(3) @ in_b, ms_b / error_b, 4),
        (np.kron(contrasts(4), contrasts(3)), ms_ab / error_ab, 12),
    ):
        test = fit.df.joint(rows.astype(float))
        assert test.den_df == den_df
        assert test.F == pytest.approx(F, rel=1e-10)
    found = {each.source: each.variance for each in fit.components}
    assert found["strip of a"] == pytest.approx((error_a - error_ab) / 3)
    assert found["strip of b"] == pytest.approx((error_b - error_ab) / 4)
    assert found["residual"] == pytest.approx(error_ab)
    # One cell mean: the average over blocks, whose strips are a sample though blocks are not.
    assert fit.cov[0, 0] == pytest.approx(sum(found.values()) / 3)


def test_the_order_in_which_units_are_named_does_not_matter(rice: LinearModel) -> None:
    halves = Grouping("half", rice.random[0].codes * 2 + rice.cells.codes % 2, 36)
    nested = replace(rice, random=(rice.random[0], halves))
    turned = replace(rice, random=(halves, rice.random[0]))
    assert strata(turned).cov == pytest.approx(strata(nested).cov)


def test_without_units_it_is_least_squares(rice: LinearModel) -> None:
    plain = replace(rice, random=())
    assert strata(plain).cov == pytest.approx(least_squares(plain).cov, abs=1e-8)
    assert strata(plain).means == pytest.approx(least_squares(plain).means)


def test_residuals_are_those_left_within_the_units(rice: LinearModel) -> None:
    fit = strata(rice)
    units = np.eye(18)[rice.random[0].codes]
    cells = np.eye(24)[rice.cells.codes]
    X = np.hstack([units, cells])
    hat = X @ np.linalg.pinv(X)
    assert fit.residuals == pytest.approx(rice.y - hat @ rice.y, abs=1e-8)
    assert fit.leverage == pytest.approx(np.diagonal(hat))
    assert fit.residual_df == 36
    assert fit.residuals @ fit.residuals == pytest.approx(36 * fit.residual_variance)


def test_a_joint_test_across_strata_lies_between_their_degrees_of_freedom(
    rice: LinearModel, contrasts: Callable[[int], Floats]
) -> None:
    fit = strata(rice)
    nitrogen_in_first_variety = np.kron(contrasts(6), np.eye(4)[:1]).astype(float)
    test = fit.df.joint(nitrogen_in_first_variety)
    assert test.num_df == 5
    # Every difference has the same mixture of errors, so the joint test has their df.
    assert test.den_df == pytest.approx(fit.estimates(nitrogen_in_first_variety)[2][0])


def test_units_and_shifts_do_not_matter(rice: LinearModel) -> None:
    before, after = strata(rice), strata(replace(rice, y=rice.y / 1000 + 1e6))
    assert after.cov == pytest.approx(before.cov / 1e6, rel=1e-6)
    row = np.array([[1.0, *np.zeros(22), -1.0]])
    assert after.estimates(row)[2] == pytest.approx(before.estimates(row)[2], rel=1e-6)


def test_what_is_not_orthogonal(rice: LinearModel, published: Callable[[str], Published]) -> None:
    keep = np.arange(rice.y.size) != 7

    def without(grouping: Grouping) -> Grouping:
        return replace(grouping, codes=grouping.codes[keep])

    missing = LinearModel(
        rice.y[keep],
        without(rice.cells),
        tuple(map(without, rice.fixed)),
        tuple(map(without, rice.random)),
    )
    assert not is_orthogonal(missing)
    with pytest.raises(ValueError, match="not orthogonal"):
        strata(missing)
    covariate = np.random.default_rng(1).normal(size=(72, 1))
    assert not is_orthogonal(replace(rice, covariates=covariate))
    alpha = published("oats_alpha")
    incomplete = LinearModel(
        alpha.y,
        alpha.grouping("variety"),
        (alpha.grouping("replicate"),),
        (alpha.grouping("replicate", "block"),),
    )
    assert not is_orthogonal(incomplete)


def test_a_stratum_without_error_is_refused_and_its_units_may_be_fixed() -> None:
    # One bed of each of two pinches, four varieties twice in each bed.
    bed = np.repeat([0, 1], 8)
    variety = np.tile(np.arange(4), 4)
    cells = Grouping("cell", bed * 4 + variety, 8)
    beds = Grouping("bed", bed, 2)
    y = np.random.default_rng(4).normal(size=16)
    with pytest.raises(ComparisonRefused, match="beds"):
        strata(LinearModel(y, cells, random=(beds,)))
    fit = least_squares(LinearModel(y, cells, (beds,)))
    between = np.kron([[1.0, -1.0]], np.full((1, 4), 0.25))
    within = np.kron(np.eye(2)[:1], np.array([[1.0, -1, 0, 0]]))
    assert not fit.estimable(between).any()
    assert fit.estimable(within).all()


def test_a_mean_keeps_an_error_where_both_strips_vary_less_than_their_crossings(
    strips: LinearModel,
) -> None:
    # Remove nearly all the strips' variation, so that their errors sum to less than the plots'.
    table = strips.y.reshape(4, 3, 3)
    crossed = table - table.mean(0) - table.mean(1)[:, None] + table.mean((0, 1))
    tiny = np.random.default_rng(5).normal(size=36).reshape(4, 3, 3) * 1e-3
    fit = strata(replace(strips, y=(crossed + tiny).ravel()))
    squares = [each.mean_square or 0.0 for each in fit.components]
    smallest = min(squares)
    assert 0 < smallest
    assert sum(squares[:2]) < fit.residual_variance
    everything = np.full((1, 12), 1 / 12)
    assert fit.estimates(everything)[1] ** 2 == pytest.approx([smallest / 36])
    assert np.linalg.eigvalsh(fit.cov)[0] > 0
