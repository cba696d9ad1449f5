# ruff: noqa: SIM300 - F is the name of a statistic, not a constant
from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.optimize import minimize

import trials.stats.fit.residual_likelihood
from trials.errors import ComparisonRefused, NotConverged
from trials.stats.design.linear_model import Fit, Grouping, LinearModel
from trials.stats.design.table import Floats
from trials.stats.fit.least_squares import least_squares
from trials.stats.fit.reml import reml
from trials.stats.fit.strata import strata
from trials.stats.results import Method

if TYPE_CHECKING:
    from tests.stats.conftest import Published


@pytest.fixture
def alpha(published: Callable[[str], Published]) -> LinearModel:
    trial = published("oats_alpha")
    return LinearModel(
        trial.y,
        trial.grouping("variety"),
        (trial.grouping("replicate"),),
        (replace(trial.grouping("replicate", "block"), source="incomplete block"),),
    )


def incomplete(seed: int, between: float = 1.0) -> LinearModel:
    """9 entries in 4 replicates of blocks of 2 and 3 plots."""
    rng = np.random.default_rng(seed)
    entry = np.concatenate([rng.permutation(9) for _ in range(4)])
    replicate = np.repeat(np.arange(4), 9)
    block = replicate * 4 + np.tile([0, 0, 0, 1, 1, 2, 2, 3, 3], 4)
    y = 20 + 0.3 * entry + replicate + between * rng.normal(size=16)[block] + rng.normal(size=36)
    return LinearModel(
        y,
        Grouping("entry", entry, 9),
        (Grouping("replicate", replicate, 4),),
        (Grouping("block", block, 16),),
    )


def nested(seed: int, plots: int = 96, whole: float = 1.0, sub: float = 0.7) -> LinearModel:
    """Three sizes of plot, 2 x 6 x 2 in 4 blocks; the first ``plots`` of a random order."""
    rng = np.random.default_rng(seed)
    grid = np.meshgrid(range(2), range(6), range(2), range(4), indexing="ij")
    a, b, c, block = (axis.ravel() for axis in grid)
    y = whole * rng.normal(size=8)[a * 4 + block] + rng.normal(size=96)
    y = 50 + y + sub * rng.normal(size=48)[(a * 6 + b) * 4 + block]
    kept = np.sort(rng.permutation(96)[:plots])
    return LinearModel(
        y[kept],
        Grouping("cell", ((a * 6 + b) * 2 + c)[kept], 24),
        (Grouping("block", block[kept], 4),),
        (
            Grouping("whole plot", (a * 4 + block)[kept], 8),
            Grouping("subplot", ((a * 6 + b) * 4 + block)[kept], 48),
        ),
    )


def dense(model: LinearModel) -> tuple[np.ndarray, list[np.ndarray]]:
    """All fixed columns and the derivatives of the plots' covariance, written out in full."""
    dummies = [np.eye(g.count)[g.codes][:, 1:] for g in model.fixed]
    derivatives = [(g.codes[:, None] == g.codes).astype(float) for g in model.random]
    return np.hstack([np.eye(model.cells.count)[model.cells.codes], *dummies]), [
        np.eye(model.y.size),
        *derivatives,
    ]


def deviance(variances: np.ndarray, model: LinearModel) -> float:
    """Minus twice the residual log likelihood but for a constant, by plain matrices."""
    X, derivatives = dense(model)
    V = np.tensordot(variances, np.array(derivatives), axes=1)
    W = np.linalg.inv(V)
    XWX = X.T @ W @ X
    P = W - W @ X @ np.linalg.solve(XWX, X.T @ W)
    both = np.linalg.slogdet(V)[1] + np.linalg.slogdet(XWX)[1]
    return float(both + model.y @ P @ model.y)


def variances(fit: Fit) -> np.ndarray:
    """Residual first."""
    return np.array([fit.components[-1].variance, *(c.variance for c in fit.components[:-1])])


def test_alpha_design_of_oats(
    published: Callable[[str], Published],
    alpha: LinearModel,
    contrasts: Callable[[int], Floats],
    pairs: Callable[[int], Floats],
) -> None:
    expect = published("oats_alpha").expect["REML"]
    fit = reml(alpha)
    assert fit.method is Method.REML
    block, residual = fit.components
    assert (block.source, residual.source) == ("incomplete block", "residual")
    assert block.variance == pytest.approx(expect["var_block"], abs=5e-8)
    assert residual.variance == pytest.approx(expect["var_resid"], abs=5e-8)
    assert block.df is None
    test = fit.df.joint(contrasts(24))
    assert test.num_df == 23
    assert test.F == pytest.approx(expect["KR_F_gen"], abs=5e-6)
    assert test.den_df == pytest.approx(expect["KR_ddf"], abs=5e-5)
    _, sed, _ = fit.estimates(pairs(24))
    assert sed.mean() == pytest.approx(expect["mean_SED"], abs=5e-8)
    assert (sed**2).mean() == pytest.approx(expect["mean_var_diff"], abs=5e-10)


def test_plants_within_plots(published: Callable[[str], Published]) -> None:
    trial = published("kernel_weight_subsamples")
    model = LinearModel(
        trial.y,
        trial.grouping("treatment"),
        (trial.grouping("block"),),
        (trial.grouping("block", "treatment"),),
    )
    fit = reml(model)
    expect = trial.expect["REML"]
    assert trial.y.size == trial.expect["n"]
    assert fit.components[0].variance == pytest.approx(expect["var_plot"], abs=5e-6)
    assert fit.components[1].variance == pytest.approx(expect["var_plant"], abs=5e-6)


@pytest.mark.slow
@pytest.mark.parametrize("model", [incomplete(1), incomplete(2, 3.0), nested(3), nested(4, 90)])
def test_nothing_near_or_far_is_more_likely(model: LinearModel) -> None:
    best = variances(reml(model))
    assert (best > 0).all()
    rng = np.random.default_rng(0)
    for _ in range(3):
        start = np.log(best) + rng.normal(size=best.size)
        search = minimize(
            lambda logs: deviance(np.exp(logs), model), start, method="Nelder-Mead",
            options={"xatol": 1e-7, "fatol": 1e-11, "maxiter": 4000},
        )  # fmt: skip
        assert deviance(best, model) <= search.fun + 1e-9
        assert np.exp(search.x) == pytest.approx(best, rel=1e-3)


@pytest.mark.parametrize("seed", [1, 2, 5, 6])
def test_agrees_with_the_general_library_where_that_converges(seed: int) -> None:
    model = incomplete(seed, between=2.0)
    X, _ = dense(model)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        other = sm.MixedLM(model.y, X, groups=model.random[0].codes).fit(reml=True, method="powell")
    fit = reml(model)
    assert fit.components[1].variance == pytest.approx(other.scale, rel=1e-5)
    assert fit.components[0].variance == pytest.approx(float(other.cov_re[0, 0]), rel=1e-5)
    difference = np.array([[1.0, -1.0, *np.zeros(7)]])
    assert (difference @ fit.means)[0] == pytest.approx(
        other.fe_params[0] - other.fe_params[1], rel=1e-5
    )


@pytest.mark.parametrize("seed", range(3, 7))
def test_agrees_with_the_exact_strata_where_these_are_exact(
    seed: int, pairs: Callable[[int], Floats]
) -> None:
    model = nested(seed, whole=2.0, sub=1.5)
    exact, fit = strata(model), reml(model)
    assert variances(fit) == pytest.approx(variances(exact), rel=1e-9)
    assert fit.means == pytest.approx(exact.means, rel=1e-12)
    assert fit.cov == pytest.approx(exact.cov, rel=1e-9, abs=1e-12)
    assert fit.estimates(pairs(24))[2] == pytest.approx(exact.estimates(pairs(24))[2], rel=1e-8)
    whole = np.array([[1.0, -1.0]])
    sub, small = np.eye(6)[:1] - np.eye(6)[1:], np.array([[1.0, -1.0]])
    for a, b, c in (
        (whole, np.full((1, 6), 1 / 6), np.full((1, 2), 0.5)),
        (np.full((1, 2), 0.5), sub, np.full((1, 2), 0.5)),
        (whole, sub, np.full((1, 2), 0.5)),
        (whole, sub, small),
    ):
        rows = np.kron(a, np.kron(b, c))
        one, two = exact.df.joint(rows), fit.df.joint(rows)
        assert two.F == pytest.approx(one.F, rel=1e-8)
        assert two.den_df == pytest.approx(one.den_df, rel=1e-8)


def test_a_variance_on_the_boundary_is_exactly_nothing(
    published: Callable[[str], Published],
) -> None:
    trial = published("rice_nitrogen_split_plot")
    model = LinearModel(
        trial.y,
        trial.grouping("nitrogen", "variety"),
        (trial.grouping("block"),),
        (replace(trial.grouping("block", "nitrogen"), floored=True),),
    )
    fit = reml(model)
    assert fit.components[0].variance == 0.0
    # With nothing between whole plots, both errors are pooled (sums of squares in the book).
    pooled = (1419679 + 12584873) / 46
    assert fit.residual_variance == pytest.approx(pooled, rel=1e-6)
    plain = least_squares(replace(model, random=()))
    assert fit.means == pytest.approx(plain.means)
    assert fit.residuals == pytest.approx(plain.residuals, abs=1e-8)
    assert fit.leverage == pytest.approx(plain.leverage)


@pytest.mark.parametrize("start", [(1e-4,), (1.0,), (1e4,)])
@pytest.mark.parametrize("model", [incomplete(1), nested(4, 93), nested(9, 95, 0.0, 1.0)])
def test_the_answer_does_not_depend_on_the_start(
    monkeypatch: pytest.MonkeyPatch, model: LinearModel, start: tuple[float, ...]
) -> None:
    usual = reml(model)
    monkeypatch.setattr(trials.stats.fit.residual_likelihood, "_FIRST_TRIES", start)
    assert variances(reml(model)) == pytest.approx(variances(usual), rel=1e-9, abs=0.0)


@pytest.mark.parametrize(("times", "plus"), [(1e3, 0.0), (1.0, 1e6), (0.01, -7.0)])
def test_units_and_shifts_do_not_matter(
    contrasts: Callable[[int], Floats], times: float, plus: float
) -> None:
    model = nested(4, 93)
    before, after = reml(model), reml(replace(model, y=model.y * times + plus))
    assert variances(after) == pytest.approx(variances(before) * times**2, rel=1e-7)
    assert after.means == pytest.approx(before.means * times + plus, rel=1e-9)
    one, two = before.df.joint(contrasts(24)), after.df.joint(contrasts(24))
    assert two.F == pytest.approx(one.F, rel=1e-8)
    assert two.den_df == pytest.approx(one.den_df, rel=1e-8)


def test_the_order_of_plots_and_names_of_units_do_not_matter() -> None:
    model = incomplete(1)
    rng = np.random.default_rng(3)
    order, names = rng.permutation(36), rng.permutation(16)
    (block,) = model.random
    shuffled = LinearModel(
        model.y[order],
        replace(model.cells, codes=model.cells.codes[order]),
        (replace(model.fixed[0], codes=model.fixed[0].codes[order]),),
        (replace(block, codes=names[block.codes][order]),),
    )
    before, after = reml(model), reml(shuffled)
    assert variances(after) == pytest.approx(variances(before), rel=1e-9)
    assert after.cov == pytest.approx(before.cov, rel=1e-9)
    assert after.residuals == pytest.approx(before.residuals[order], abs=1e-9)


def test_residuals_and_leverage_are_conditional_on_the_units() -> None:
    model = nested(4, 93)
    fit = reml(model)
    X, derivatives = dense(model)
    W = np.linalg.inv(np.tensordot(variances(fit), np.array(derivatives), axes=1))
    P = W - W @ X @ np.linalg.solve(X.T @ W @ X, X.T @ W)
    assert fit.residuals == pytest.approx(fit.residual_variance * P @ model.y, abs=1e-9)
    assert fit.leverage == pytest.approx(1 - fit.residual_variance * np.diagonal(P))


def test_a_very_large_and_a_very_small_variance_beside_it() -> None:
    model = incomplete(1, between=1e4)
    fit = reml(model)
    assert fit.components[0].variance == pytest.approx(1e8, rel=0.9)
    assert 0.2 < fit.residual_variance < 5.0
    within = least_squares(replace(model, fixed=model.random, random=()))
    assert fit.residual_variance == pytest.approx(within.residual_variance, rel=1e-3)


def test_incomplete_blocks_recover_what_lies_between_them() -> None:
    """Blocks that never meet still compare their entries, through the blocks' own variation."""
    entry = np.tile([0, 1, 2, 3], 6)
    block = np.repeat(np.arange(12), 2)
    rng = np.random.default_rng(6)
    y = 10 + rng.normal(size=12)[block] + rng.normal(size=24)
    model = LinearModel(y, Grouping("entry", entry, 4), (), (Grouping("block", block, 12),))
    apart = np.array([[1.0, 0, -1, 0]])
    intra = least_squares(replace(model, fixed=model.random, random=()))
    assert not intra.estimable(apart)[0]
    fit = reml(model)
    assert fit.estimable(apart)[0]
    together = np.array([[1.0, -1, 0, 0]])
    assert fit.estimates(apart)[1][0] > fit.estimates(together)[1][0]


def test_refuses_units_that_are_treatments_or_plots() -> None:
    rng = np.random.default_rng(2)
    cells = Grouping("variety", np.repeat([0, 1], 6), 2)
    y = rng.normal(size=12)
    beds = Grouping("bed", np.repeat([0, 1], 6), 2)
    with pytest.raises(ComparisonRefused, match="'bed'"):
        reml(LinearModel(y, cells, (), (beds,)))
    single = Grouping("pot", np.arange(12), 12)
    with pytest.raises(ComparisonRefused, match="'pot'"):
        reml(LinearModel(y, cells, (), (single,)))
    thirds = Grouping("third", np.arange(12) // 3, 4)
    again = Grouping("again", 3 - np.arange(12) // 3, 4)
    with pytest.raises(ComparisonRefused, match="'third', 'again'"):
        reml(LinearModel(y, cells, (), (thirds, again)))


def test_refuses_plots_that_agree_within_their_units() -> None:
    cells = Grouping("variety", np.tile([0, 1, 0, 1], 4), 2)
    block = Grouping("block", np.repeat(np.arange(4), 4), 4)
    y = cells.codes + np.array([0.0, 1.3, 2.2, 0.4])[block.codes]
    with pytest.raises(ComparisonRefused, match="no variation"):
        reml(LinearModel(y, cells, (), (block,)))


def test_says_so_where_the_search_is_cut_short(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(trials.stats.fit.residual_likelihood, "_MOST_STEPS", 1)
    with pytest.raises(NotConverged, match="could not be estimated"):
        reml(incomplete(1))


def test_needs_a_random_grouping() -> None:
    with pytest.raises(ValueError, match="random grouping"):
        reml(replace(incomplete(1), random=()))
