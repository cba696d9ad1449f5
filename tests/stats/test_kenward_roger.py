# ruff: noqa: SIM300 - F is the name of a statistic, not a constant
"""The paper's formulas written out with matrices of plots by plots, against the program's."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
from scipy import stats

from trials.stats.design.linear_model import Fit, Grouping, LinearModel
from trials.stats.design.table import Floats
from trials.stats.fit.kenward_roger import KenwardRoger
from trials.stats.fit.reml import reml


@dataclass(frozen=True)
class Paper:
    """Kenward & Roger 1997, section 2 and 3, literally."""

    means: np.ndarray
    phi: np.ndarray
    adjusted: np.ndarray
    P: list[np.ndarray]
    W: np.ndarray
    cells: int

    @classmethod
    def of(cls, model: LinearModel, variances: np.ndarray) -> Paper:
        n, k = model.y.size, model.cells.count

        def sum_to_zero(grouping: Grouping) -> np.ndarray:
            free = grouping.count - 1
            return np.vstack([np.eye(free), -np.ones((1, free))])[grouping.codes]

        X = np.hstack([np.eye(k)[model.cells.codes], *map(sum_to_zero, model.fixed)])
        D = [np.eye(n), *((g.codes[:, None] == g.codes).astype(float) for g in model.random)]
        S = np.linalg.inv(sum(v * d for v, d in zip(variances, D, strict=True)))
        phi = np.linalg.inv(X.T @ S @ X)
        P = [-X.T @ S @ d @ S @ X for d in D]
        Q = [[X.T @ S @ d @ S @ e @ S @ X for e in D] for d in D]
        m = range(len(D))
        information = np.array(
            [
                [
                    np.trace(S @ D[i] @ S @ D[j])
                    - np.trace(2 * phi @ Q[i][j] - phi @ P[i] @ phi @ P[j])
                    for j in m
                ]
                for i in m
            ]
        )
        W = np.linalg.inv(information / 2)
        U = sum(W[i, j] * (Q[i][j] - P[i] @ phi @ P[j]) for i in m for j in m)
        return cls(phi @ X.T @ S @ model.y, phi, phi + 2 * phi @ U @ phi, P, W, k)

    def test(self, contrasts: np.ndarray) -> tuple[float, float]:
        """Scaled F and denominator df (section 3)."""
        L = np.zeros((self.phi.shape[0], len(contrasts)))
        L[: self.cells] = contrasts.T
        q = L.shape[1]
        theta = L @ np.linalg.inv(L.T @ self.phi @ L) @ L.T
        T = [theta @ self.phi @ P @ self.phi for P in self.P]
        m = range(len(T))
        a1 = sum(self.W[i, j] * np.trace(T[i]) * np.trace(T[j]) for i in m for j in m)
        a2 = sum(self.W[i, j] * np.trace(T[i] @ T[j]) for i in m for j in m)
        if q == 1:
            den_df, scale = 2 / a2, 1.0
        else:
            B = (a1 + 6 * a2) / (2 * q)
            g = ((q + 1) * a1 - (q + 4) * a2) / ((q + 2) * a2)
            c = np.array([g, q - g, q + 2 - g]) / (3 * q + 2 * (1 - g))
            mean = 1 / (1 - a2 / q)
            spread = 2 / q * (1 + c[0] * B) / ((1 - c[1] * B) ** 2 * (1 - c[2] * B))
            rho = spread / (2 * mean**2)
            den_df = 4 + (q + 2) / (q * rho - 1)
            scale = den_df / (mean * (den_df - 2))
        estimate = L.T @ self.means
        wald = estimate @ np.linalg.solve(L.T @ self.adjusted @ L, estimate)
        return float(scale * wald / q), float(den_df)


def incomplete(between: float) -> LinearModel:
    rng = np.random.default_rng(17)
    entry = np.concatenate([rng.permutation(8) for _ in range(4)])
    replicate, block = np.repeat(np.arange(4), 8), np.arange(32) // 4
    y = 5 + entry / 4 + between * rng.normal(size=8)[block] + rng.normal(size=32)
    return LinearModel(
        y,
        Grouping("entry", entry, 8),
        (Grouping("replicate", replicate, 4),),
        (Grouping("block", block, 8, floored=True),),
    )


def split(missing: list[int], whole: float) -> LinearModel:
    """3 x 4 in 5 blocks, some plots gone."""
    rng = np.random.default_rng(23)
    grid = np.meshgrid(range(3), range(4), range(5), indexing="ij")
    a, b, block = (np.delete(axis.ravel(), missing) for axis in grid)
    y = 9 + a + b / 2 + whole * rng.normal(size=15)[a * 5 + block] + rng.normal(size=a.size)
    return LinearModel(
        y,
        Grouping("cell", a * 4 + b, 12),
        (Grouping("block", block, 5),),
        # At its bound of 0 the method is the paper's too; what takes its place there for whole
        # plots that are not floored has tests of its own.
        (Grouping("whole plot", a * 5 + block, 15, floored=True),),
    )


def strips(missing: list[int]) -> LinearModel:
    """3 x 4 in crossing strips, 4 blocks, some plots gone."""
    rng = np.random.default_rng(31)
    grid = np.meshgrid(range(3), range(4), range(4), indexing="ij")
    a, b, block = (np.delete(axis.ravel(), missing) for axis in grid)
    rows, columns = a * 4 + block, b * 4 + block
    y = a + rng.normal(size=12)[rows] + rng.normal(size=16)[columns] + rng.normal(size=a.size)
    return LinearModel(
        y,
        Grouping("cell", a * 4 + b, 12),
        (Grouping("block", block, 4),),
        (Grouping("row", rows, 12), Grouping("column", columns, 16)),
    )


def uneven_without_blocks() -> LinearModel:
    """Random blocks of 2 to 5 plots and nothing fixed but the entries."""
    rng = np.random.default_rng(41)
    block = np.repeat(np.arange(7), [2, 3, 4, 5, 2, 3, 4])
    entry = np.concatenate([np.arange(5), rng.integers(0, 5, 18)])
    y = entry + 1.5 * rng.normal(size=7)[block] + rng.normal(size=23)
    return LinearModel(y, Grouping("entry", entry, 5), (), (Grouping("block", block, 7),))


MODELS = {
    "incomplete blocks": incomplete(1.0),
    "incomplete blocks that vary much": incomplete(6.0),
    "incomplete blocks on the boundary": incomplete(0.0),
    "split plot": split([], 1.0),
    "split plot with a missing plot": split([7], 1.0),
    "split plot with missing plots, weak whole plots": split([0, 1, 33], 0.1),
    "strips with missing plots": strips([5, 20]),
    "uneven random blocks": uneven_without_blocks(),
}


@pytest.fixture(params=list(MODELS.values()), ids=list(MODELS))
def both(request: pytest.FixtureRequest) -> tuple[Fit, Paper]:
    fit = reml(request.param)
    found = [component.variance for component in fit.components]
    return fit, Paper.of(request.param, np.array([found[-1], *found[:-1]]))


def test_some_model_is_on_the_boundary() -> None:
    assert reml(MODELS["incomplete blocks on the boundary"]).components[0].variance == 0.0
    assert reml(MODELS["incomplete blocks"]).components[0].variance > 0.0


def test_the_adjusted_covariance_is_the_papers(both: tuple[Fit, Paper]) -> None:
    fit, paper = both
    c = paper.cells
    assert fit.means == pytest.approx(paper.means[:c], rel=1e-9)
    assert isinstance(fit.df, KenwardRoger)
    assert fit.df.naive_cov == pytest.approx(paper.phi[:c, :c], rel=1e-7, abs=1e-10)
    assert fit.cov == pytest.approx(paper.adjusted[:c, :c], rel=1e-7, abs=1e-10)


def test_joint_tests_are_the_papers(
    both: tuple[Fit, Paper], contrasts: Callable[[int], Floats]
) -> None:
    fit, paper = both
    for count in (2, 3, paper.cells - 1):
        rows = contrasts(paper.cells)[:count]
        F, den_df = paper.test(rows)
        test = fit.df.joint(rows)
        assert test.num_df == count
        assert test.F == pytest.approx(F, rel=1e-7)
        assert test.den_df == pytest.approx(den_df, rel=1e-7)
        assert test.p == pytest.approx(stats.f.sf(F, count, den_df), rel=1e-6)


def test_the_df_of_each_pair_and_each_mean_are_the_papers(
    both: tuple[Fit, Paper], pairs: Callable[[int], Floats]
) -> None:
    fit, paper = both
    rows = np.vstack([pairs(paper.cells), np.eye(paper.cells)])
    df = fit.df.of_contrasts(rows)
    for row, found in zip(rows, df, strict=True):
        assert found == pytest.approx(paper.test(row[None])[1], rel=1e-7)


def test_one_contrast_tests_alike_alone_and_jointly(both: tuple[Fit, Paper]) -> None:
    fit, paper = both
    row = np.zeros((1, paper.cells))
    row[0, :2] = 1.0, -1.0
    estimate, se, df = fit.estimates(row)
    test = fit.df.joint(np.vstack([row, 3 * row]))
    assert test.num_df == 1
    assert test.F == pytest.approx((estimate[0] / se[0]) ** 2)
    assert test.den_df == pytest.approx(df[0])


@pytest.mark.parametrize("den_df", [1, 2, 3, 4, 5, 11])
@pytest.mark.parametrize("num_df", [1, 2, 3, 6])
def test_exact_tests_come_out_exact_at_any_df(num_df: int, den_df: int) -> None:
    """One variance s2 with den_df: W = 2 s2^2 / den_df; at 2 and 4 df the formulas are 0/0."""
    c, s2 = num_df + 1, 1.7
    cov = s2 / 5 * np.eye(c)
    means = np.linspace(1.0, 4.0, c) ** 2
    exact = KenwardRoger(
        means=means,
        naive_cov=cov,
        cov=cov,
        sensitivities=(np.eye(c) / 5)[None],
        components_cov=np.array([[2 * s2**2 / den_df]]),
        estimable_basis=np.eye(c),
    )
    rows = np.eye(c)[:1] - np.eye(c)[1:]
    test = exact.joint(rows)
    assert test.den_df == pytest.approx(den_df, rel=1e-9)
    assert test.F == pytest.approx(np.var(means, ddof=1) / (s2 / 5), rel=1e-9)
    assert exact.of_contrasts(rows) == pytest.approx(den_df)


def test_too_few_units_to_match_moments_still_give_a_test(
    contrasts: Callable[[int], Floats],
) -> None:
    """2 x 4 in 2 blocks with a plot gone: 1 df for whole plots, where the moments do not exist."""
    rng = np.random.default_rng(3)
    grid = np.meshgrid(range(2), range(4), range(2), indexing="ij")
    a, b, block = (np.delete(axis.ravel(), 3) for axis in grid)
    y = rng.normal(size=4)[a * 2 + block] * 5 + rng.normal(size=15)
    model = LinearModel(
        y,
        Grouping("cell", a * 4 + b, 8),
        (Grouping("block", block, 2),),
        (Grouping("whole plot", a * 2 + block, 4),),
    )
    test = reml(model).df.joint(contrasts(8))
    assert test.F > 0
    assert test.den_df > 0
    assert 0 < test.p < 1
