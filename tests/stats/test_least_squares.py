# ruff: noqa: SIM300 - F is the name of a statistic, not a constant
from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
import scipy.stats

from trials.errors import ComparisonRefused
from trials.stats.design.linear_model import Grouping, LinearModel
from trials.stats.design.table import Codes, Floats
from trials.stats.fit.least_squares import least_squares
from trials.stats.results import Method

if TYPE_CHECKING:
    from tests.stats.conftest import Published

NIST = Path(scipy.stats.__file__).parent / "tests" / "data" / "nist_anova"


def test_completely_randomised_melons(
    published: Callable[[str], Published], contrasts: Callable[[int], Floats]
) -> None:
    trial = published("melon_crd")
    fit = least_squares(LinearModel(trial.y, trial.grouping("variety")))
    test = fit.df.joint(contrasts(4))
    assert (test.num_df, test.den_df) == (3, 20)
    assert test.F == pytest.approx(23.418, abs=5e-4)
    assert test.p == pytest.approx(9.439e-07, rel=1e-4)
    assert fit.residual_variance == pytest.approx(18.382658, abs=1e-6)
    assert fit.method is Method.LEAST_SQUARES


def test_complete_blocks_of_cultivars(
    published: Callable[[str], Published], contrasts: Callable[[int], Floats]
) -> None:
    trial = published("cultivars_rcbd")
    fit = least_squares(
        LinearModel(trial.y, trial.grouping("cultivar"), (trial.grouping("block"),))
    )
    test = fit.df.joint(contrasts(4))
    assert (test.num_df, test.den_df) == (3, 6)
    assert test.F == pytest.approx(5.525, abs=1e-9)
    assert test.p == pytest.approx(0.03673, abs=5e-6)
    assert fit.residual_variance == pytest.approx(0.4, abs=1e-12)
    assert fit.means == pytest.approx([6.5, 7.6, 6.6, 8.3])
    (residual,) = fit.components
    assert (residual.source, residual.df) == ("residual", 6)


def test_a_missing_plot_moves_its_mean_and_widens_its_error(
    published: Callable[[str], Published], contrasts: Callable[[int], Floats]
) -> None:
    trial = published("cultivars_rcbd")
    cultivar, block = trial.grouping("cultivar"), trial.grouping("block")
    kept = ~((cultivar.codes == 2) & (block.codes == 1))
    model = LinearModel(
        trial.y[kept],
        replace(cultivar, codes=cultivar.codes[kept]),
        (replace(block, codes=block.codes[kept]),),
    )
    fit = least_squares(model)
    expect = trial.expect["missing_B2C3"]
    test = fit.df.joint(contrasts(4))
    assert test.den_df == expect["df"]
    assert test.F == pytest.approx(expect["F_cultivar_adj"], abs=5e-6)
    assert test.p == pytest.approx(expect["p"], abs=5e-7)
    assert fit.means == pytest.approx(list(expect["emmeans"].values()), abs=5e-5)
    se = np.sqrt(np.diagonal(fit.cov))
    assert se == pytest.approx([0.398, 0.398, 0.514, 0.398], abs=5e-4)
    sed = fit.estimates(contrasts(4))[1]
    assert sed == pytest.approx([0.563, 0.650, 0.563], abs=5e-4)


def test_seed_rates_of_rice(
    published: Callable[[str], Published], contrasts: Callable[[int], Floats]
) -> None:
    trial = published("rice_seed_rate_rcbd")
    fit = least_squares(LinearModel(trial.y, trial.grouping("rate"), (trial.grouping("block"),)))
    test = fit.df.joint(contrasts(6))
    assert test.F == pytest.approx(2.1678, abs=5e-5)
    assert test.p == pytest.approx(0.112809, abs=5e-7)
    assert fit.residual_variance == pytest.approx(110558.41, abs=0.005)


def test_latin_square_of_cucumbers(
    published: Callable[[str], Published], contrasts: Callable[[int], Floats]
) -> None:
    trial = published("cucumber_latin_square")
    model = LinearModel(
        trial.y,
        trial.grouping("genotype"),
        (trial.grouping("row"), trial.grouping("column")),
    )
    fit = least_squares(model)
    test = fit.df.joint(contrasts(4))
    assert (test.num_df, test.den_df) == (3, 6)
    assert test.F == pytest.approx(9.368259, abs=5e-7)
    assert test.p == pytest.approx(0.011096, abs=5e-7)


def test_augmented_blocks_have_four_errors_of_a_difference(
    published: Callable[[str], Published],
) -> None:
    trial = published("wheat_augmented")
    entries = trial.labels("entry")
    fit = least_squares(LinearModel(trial.y, trial.grouping("entry"), (trial.grouping("block"),)))
    expect = trial.expect
    assert fit.residual_variance == pytest.approx(expect["MSE"], abs=0.05)
    for entry, mean in expect["adj_means"].items():
        assert fit.means[entries.levels.index(entry)] == pytest.approx(mean, abs=5e-5)

    def sed(a: str, b: str) -> float:
        row = np.zeros((1, 33))
        row[0, entries.levels.index(a)], row[0, entries.levels.index(b)] = 1.0, -1.0
        return float(fit.estimates(row)[1][0])

    assert sed("st", "ci") == pytest.approx(expect["SED"]["check_vs_check"], abs=5e-4)
    assert sed("14", "26") == pytest.approx(expect["SED"]["entries_same_block"], abs=5e-4)
    assert sed("14", "04") == pytest.approx(expect["SED"]["entries_diff_block"], abs=5e-3)
    assert sed("14", "wa") == pytest.approx(expect["SED"]["entry_vs_check"], abs=5e-4)
    se = np.sqrt(np.diagonal(fit.cov))
    assert se[entries.levels.index("14")] == pytest.approx(expect["SE"]["entry"], abs=5e-6)
    assert se[entries.levels.index("st")] == pytest.approx(expect["SE"]["check"], abs=5e-6)


@pytest.mark.parametrize(
    ("name", "digits"),
    [
        *((name, 9) for name in ("SiRstv", "SmLs01", "SmLs02", "SmLs03")),
        *((name, 7) for name in ("AtmWtAg", "SmLs04", "SmLs05", "SmLs06")),
        # 13 constant leading digits: rounding the data to doubles leaves about 4.
        *((name, 3.5) for name in ("SmLs07", "SmLs08", "SmLs09")),
    ],
)
def test_one_way_sets_of_the_statistical_reference_datasets(
    name: str, digits: float, contrasts: Callable[[int], Floats]
) -> None:
    """NIST/ITL StRD, certified F; read from the files that come with scipy."""
    lines = (NIST / f"{name}.dat").read_text().splitlines()
    certified = float(next(line for line in lines if line.startswith("Between")).split()[-1])
    data = np.array([line.split() for line in lines[60:] if line.strip()], dtype=float)
    group = data[:, 0].astype(int) - 1
    levels = group.max() + 1
    fit = least_squares(LinearModel(data[:, 1], Grouping("treatment", group, levels)))
    error = abs(fit.df.joint(contrasts(levels)).F / certified - 1.0)
    assert -np.log10(max(error, 1e-16)) >= digits


@pytest.fixture
def uneven() -> LinearModel:
    """An unbalanced trial with rows, columns and a covariate."""
    rng = np.random.default_rng(11)
    n = 40
    cells = Grouping("cell", rng.permutation(np.arange(n) % 5), 5)
    rows = Grouping("row", rng.integers(0, 4, n), 4)
    columns = Grouping("column", rng.integers(0, 3, n), 3)
    covariate = rng.normal(5.0, 2.0, (n, 1))
    y = 10 + cells.codes + rows.codes + 0.4 * covariate[:, 0] + rng.normal(size=n)
    return LinearModel(y, cells, (rows, columns), covariates=covariate)


def test_adjusted_means_are_predictions_averaged_over_blocks_at_the_mean_covariate(
    uneven: LinearModel,
) -> None:
    """Against an ordinary regression with dummies, predicted on the full grid and averaged."""
    rows, columns = uneven.fixed
    assert uneven.covariates is not None

    def matrix(cell: Codes, row: Codes, column: Codes, covariate: Floats) -> Floats:
        dummies = [np.eye(5)[cell], np.eye(4)[row][:, 1:], np.eye(3)[column][:, 1:]]
        return np.hstack([*dummies, covariate])

    X = matrix(uneven.cells.codes, rows.codes, columns.codes, uneven.covariates)
    inverse = np.linalg.inv(X.T @ X)
    params = inverse @ X.T @ uneven.y
    residuals = uneven.y - X @ params
    df = len(X) - X.shape[1]
    cov = inverse * float(residuals @ residuals) / df
    grid = np.array([(c, r, k) for c in range(5) for r in range(4) for k in range(3)])
    at = np.full((60, 1), uneven.covariates.mean())
    averaged = matrix(grid[:, 0], grid[:, 1], grid[:, 2], at).reshape(5, 12, -1).mean(axis=1)
    fit = least_squares(uneven)
    assert fit.means == pytest.approx(averaged @ params, rel=1e-9)
    assert fit.cov == pytest.approx(averaged @ cov @ averaged.T, rel=1e-7)
    assert fit.residual_df == df
    assert fit.leverage == pytest.approx(np.diagonal(X @ inverse @ X.T), rel=1e-9)
    assert fit.residuals == pytest.approx(residuals, abs=1e-9)
    joint = fit.df.joint(np.eye(5)[:1] - np.eye(5)[1:])
    differ = averaged[:1] - averaged[1:]
    apart = differ @ params
    F = float(apart @ np.linalg.solve(differ @ cov @ differ.T, apart)) / 4
    assert joint.F == pytest.approx(F, rel=1e-8)
    assert joint.p == pytest.approx(float(scipy.stats.f.sf(F, 4, df)), rel=1e-6)


def test_redundant_rows_do_not_change_the_joint_test(
    uneven: LinearModel, contrasts: Callable[[int], Floats], pairs: Callable[[int], Floats]
) -> None:
    fit = least_squares(uneven)
    few, many = fit.df.joint(contrasts(5)), fit.df.joint(pairs(5))
    assert many.num_df == few.num_df == 4
    assert many.F == pytest.approx(few.F, rel=1e-10)


@pytest.mark.parametrize(("times", "plus"), [(1000.0, 0.0), (1.0, 1e6), (2.54, -40.0)])
def test_units_and_shifts_do_not_matter(
    uneven: LinearModel, contrasts: Callable[[int], Floats], times: float, plus: float
) -> None:
    before = least_squares(uneven)
    after = least_squares(replace(uneven, y=uneven.y * times + plus))
    assert after.means == pytest.approx(before.means * times + plus, rel=1e-9)
    assert after.cov == pytest.approx(before.cov * times**2, rel=1e-8)
    assert after.df.joint(contrasts(5)).F == pytest.approx(
        before.df.joint(contrasts(5)).F, rel=1e-8
    )


def test_the_order_of_plots_does_not_matter(uneven: LinearModel) -> None:
    order = np.random.default_rng(2).permutation(uneven.y.size)
    assert uneven.covariates is not None
    shuffled = LinearModel(
        uneven.y[order],
        replace(uneven.cells, codes=uneven.cells.codes[order]),
        tuple(replace(g, codes=g.codes[order]) for g in uneven.fixed),
        covariates=uneven.covariates[order],
    )
    before, after = least_squares(uneven), least_squares(shuffled)
    assert after.means == pytest.approx(before.means, rel=1e-10)
    assert after.residuals == pytest.approx(before.residuals[order], abs=1e-10)


def test_disconnected_blocks_leave_only_what_stood_side_by_side() -> None:
    # Varieties 0 and 1 only in blocks 0 and 1, varieties 2 and 3 only in blocks 2 and 3.
    cells = Grouping("variety", np.array([0, 1, 0, 1, 2, 3, 2, 3]), 4)
    block = Grouping("block", np.array([0, 0, 1, 1, 2, 2, 3, 3]), 4)
    y = np.array([5.0, 7.0, 6.0, 9.0, 1.0, 4.0, 2.0, 4.0])
    fit = least_squares(LinearModel(y, cells, (block,)))
    within = np.array([[1.0, -1, 0, 0], [0, 0, 1, -1]])
    across = np.array([[1.0, 0, -1, 0], [1, 0, 0, 0], [1, 1, -1, -1]])
    assert fit.estimable(within).all()
    assert not fit.estimable(across).any()
    assert fit.residual_df == 2
    # Each block gives one difference; their means and the spread about them by hand.
    difference, se, _ = fit.estimates(within)
    assert difference == pytest.approx([-2.5, -2.5])
    assert se == pytest.approx([np.sqrt(0.25)] * 2)
    assert fit.estimable(np.ones((1, 4))).all()  # the mean of everything is still there
    assert fit.df.joint(np.vstack([within, across[[0, 2]]])).num_df == 2
    with pytest.raises(ValueError, match="none of the contrasts"):
        fit.df.joint(np.array([[1.0, 0, -1, 0]]))


def test_a_coarser_classification_beside_a_finer_one_changes_nothing(
    published: Callable[[str], Published],
) -> None:
    trial = published("cultivars_rcbd")
    cultivar, block = trial.grouping("cultivar"), trial.grouping("block")
    half = Grouping("half", (block.codes > 0).astype(np.intp), 2)
    alone = least_squares(LinearModel(trial.y, cultivar, (block,)))
    both = least_squares(LinearModel(trial.y, cultivar, (half, block)))
    assert both.means == pytest.approx(alone.means)
    assert both.cov == pytest.approx(alone.cov)
    assert both.residual_df == alone.residual_df


def test_levels_that_no_plot_carries_are_passed_over(published: Callable[[str], Published]) -> None:
    trial = published("cultivars_rcbd")
    cultivar, block = trial.grouping("cultivar"), trial.grouping("block")
    roomy = Grouping("block", block.codes * 2, 7)
    fit = least_squares(LinearModel(trial.y, cultivar, (roomy,)))
    assert fit.means == pytest.approx([6.5, 7.6, 6.6, 8.3])


def test_a_covariate_that_does_not_vary_takes_nothing_away(
    published: Callable[[str], Published],
) -> None:
    trial = published("melon_crd")
    cells = trial.grouping("variety")
    alone = least_squares(LinearModel(trial.y, cells))
    constant = np.full((24, 1), 0.1)
    both = least_squares(LinearModel(trial.y, cells, covariates=constant))
    assert both.residual_df == alone.residual_df
    assert both.means == pytest.approx(alone.means)
    assert both.estimable(np.eye(4)).all()


def test_refuses_plots_that_agree_exactly_and_tables_without_error() -> None:
    cells = Grouping("variety", np.array([0, 0, 1, 1]), 2)
    with pytest.raises(ComparisonRefused, match="no variation"):
        least_squares(LinearModel(np.array([3.1, 3.1, 7.7, 7.7]), cells))
    single = Grouping("variety", np.arange(4), 4)
    with pytest.raises(ComparisonRefused, match="left over"):
        least_squares(LinearModel(np.array([3.0, 4.0, 5.0, 6.0]), single))


def test_random_groupings_are_not_for_least_squares() -> None:
    cells = Grouping("variety", np.array([0, 0, 1, 1]), 2)
    with pytest.raises(ValueError, match="random"):
        least_squares(LinearModel(np.arange(4.0), cells, random=(cells,)))
