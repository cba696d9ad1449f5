# ruff: noqa: SIM300 - F is the name of a statistic, not a constant
"""Random trials of every layout with plots lost, against the same model written out in full.

The model of each layout is named here by hand; its variances are found by a general optimiser and
polished by scoring, its tests by the formulas of Kenward & Roger (1997, Biometrics 53:983, sections
2 and 3; from memory) with matrices of plots by plots. Nothing is shared with the program.

Where larger units differ no more than their plots, that search ends at 0. The means keep the
weights that they have there; their errors come from sequential mean squares and what these are
expected to be (Henderson 1953, Biometrics 9:226, method 3), with the degrees of freedom of
Satterthwaite and of Fai & Cornelius (1996, J. Statist. Comput. Simul. 54:363), from memory.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy import linalg, optimize, stats

from trials.model.trial import AppliedTo
from trials.stats import Question, compare
from trials.stats.design.table import PlotTable
from trials.stats.results import Comparison, LayoutKind

WHOLE, SPLIT, STRIP = AppliedTo.WHOLE_PLOT, AppliedTo.SPLIT_PLOT, AppliedTo.STRIP
MakeTable = Callable[..., PlotTable]


def crossed(frame: pd.DataFrame, columns: Sequence[str]) -> pd.Series:
    return frame[list(columns)].astype(str).agg("|".join, axis=1)


@dataclass(frozen=True)
class WrittenOut:
    """A linear mixed model of cell means, fixed groupings, covariates and random groupings."""

    frame: pd.DataFrame
    factors: Sequence[str]
    fixed: Sequence[Sequence[str]] = ()
    random: Sequence[Sequence[str]] = ()
    covariates: Sequence[str] = ()
    held: bool = False

    @cached_property
    def levels(self) -> dict[str, list[str]]:
        return {name: sorted(set(self.frame[name].astype(str))) for name in self.factors}

    @cached_property
    def y(self) -> Any:
        return self.frame["yield"].to_numpy(float)

    @cached_property
    def X(self) -> Any:
        """Cells, then what the fixed parts add to their rank, each adding nothing on average."""
        own = crossed(self.frame, self.factors)
        columns = [
            (own == "|".join(cell)).to_numpy(float)
            for cell in itertools.product(*self.levels.values())
        ]
        extra = []
        for grouping in self.fixed:
            label = crossed(self.frame, grouping)
            shown = [(label == each).to_numpy(float) for each in sorted(set(label))]
            extra += [column - shown[-1] for column in shown[:-1]]
        extra += [self.frame[name].to_numpy() - self.frame[name].mean() for name in self.covariates]
        for column in extra:
            if np.linalg.matrix_rank(np.column_stack([*columns, column])) > len(columns):
                columns.append(column)
        return np.column_stack(columns)

    @cached_property
    def D(self) -> list[Any]:
        labels = [crossed(self.frame, grouping).to_numpy() for grouping in self.random]
        alike = [(label[:, None] == label).astype(float) for label in labels]
        return [np.eye(len(self.frame)), *alike]

    def pieces(self, variances: Any) -> tuple[Any, Any, Any]:
        S = np.linalg.inv(sum(v * d for v, d in zip(variances, self.D, strict=True)))
        phi = np.linalg.inv(self.X.T @ S @ self.X)
        return S, phi, S - S @ self.X @ phi @ self.X.T @ S

    def unlikely(self, variances: Any) -> float:
        S, phi, P = self.pieces(variances)
        return float(-np.linalg.slogdet(S)[1] - np.linalg.slogdet(phi)[1] + self.y @ P @ self.y)

    @cached_property
    def variances(self) -> Any:
        """The residual's first; those that would be negative are 0."""
        rough = float(np.var(self.y))
        bounds = [(1e-6 * rough, None), *[(0.0, None)] * len(self.random)]
        starts = [[rough, *[rough * part] * len(self.random)] for part in (0.02, 0.2, 1.0)]
        tries = [optimize.minimize(self.unlikely, s, bounds=bounds) for s in starts]
        found = min(tries, key=lambda each: float(each.fun)).x
        for _ in range(100):
            inside = [i for i in range(len(found)) if i == 0 or found[i] > 1e-5 * rough]
            found = np.array([v if i in inside else 0.0 for i, v in enumerate(found)])
            _, _, P = self.pieces(found)
            slope = [self.y @ P @ self.D[i] @ P @ self.y - np.trace(P @ self.D[i]) for i in inside]
            curve = [[np.trace(P @ self.D[i] @ P @ self.D[j]) for j in inside] for i in inside]
            step = np.linalg.solve(curve, slope)
            found[inside] += step
            if np.abs(step).max() < 1e-12 * rough:
                return found
        raise AssertionError("the scoring did not settle")

    @cached_property
    def at_bound(self) -> bool:
        return bool(self.random) and not self.held and bool((self.variances == 0).any())

    @cached_property
    def squares(self) -> tuple[Any, Any, Any]:
        """Mean squares, the residual's first, their df, and what each variance adds to each."""
        columns, before, found = [self.X], self.X @ np.linalg.pinv(self.X), []
        for label in (crossed(self.frame, grouping) for grouping in self.random):
            columns.append(pd.get_dummies(label).to_numpy(float))
            both = np.hstack(columns)
            found.append(both @ np.linalg.pinv(both) - before)
            before = before + found[-1]
        parts = [np.eye(len(self.frame)) - before, *found]
        df = np.array([round(np.trace(part)) for part in parts])
        square = np.array([self.y @ part @ self.y for part in parts]) / df
        expected = [[np.trace(part @ d) for d in self.D] for part in parts] / df[:, None]
        return square, df, expected

    @cached_property
    def components(self) -> Any:
        """The residual's first; below zero where the larger units differ little."""
        if not self.at_bound:
            return self.variances
        square, _, expected = self.squares
        return np.linalg.solve(expected, square)

    @cached_property
    def shares(self) -> Any:
        """What each mean square adds to the covariance of the cells' means."""
        square, _, expected = self.squares
        S, phi, _ = self.pieces(self.variances)
        cells = int(np.prod([len(levels) for levels in self.levels.values()]))
        G = (phi @ self.X.T @ S)[:cells]
        by_variance = np.array([G @ d @ G.T for d in self.D])
        found = np.tensordot(np.linalg.inv(expected).T, by_variance, axes=1)
        least, plain = int(square.argmin()), G @ G.T
        overall = np.tensordot(square, found, axes=1).mean()
        found[least] += max(plain.mean() - overall / square[least], 0.0)
        cov = np.tensordot(square, found, axes=1)
        low = np.min(linalg.eigh(cov, plain, eigvals_only=True))
        assert low > 0.1 * square[least], "no mean is near the limit of its variance"
        return found

    def by_strata(self, L: Any) -> tuple[Any, Any]:
        """The covariance of rows of cells' means, and each row's degrees of freedom."""
        square, df, _ = self.squares
        shares = L @ self.shares @ L.T
        parts = square[:, None] * np.diagonal(shares, axis1=1, axis2=2)
        own = parts.sum(axis=0) ** 2 / (parts**2 / df[:, None]).sum(axis=0)
        _, phi, adjusted, _, _ = self.paper
        more = (adjusted - phi)[: len(self.shares[0]), : len(self.shares[0])]
        return np.tensordot(square, shares, axes=1) + L @ more @ L.T, np.maximum(own, df.min())

    def test_by_strata(self, L: Any) -> tuple[float, float]:
        rows = linalg.orth(L[:, : len(self.shares[0])].T).T
        b, cov = self.paper[0][: rows.shape[1]], self.by_strata(rows)[0]
        F = rows @ b @ np.linalg.solve(cov, rows @ b) / len(rows)
        _, df = self.by_strata(np.linalg.eigh(cov)[1].T @ rows)
        if np.ptp(df) < 1e-7 or df.min() <= 2:
            return float(F), float(df.min())
        mean = np.sum(df / (df - 2))
        return float(F), float(2 * mean / (mean - len(df)))

    @cached_property
    def paper(self) -> tuple[Any, Any, Any, list[Any], Any]:
        """Estimates, covariance, adjusted covariance, the matrices P, and W."""
        S, phi, _ = self.pieces(self.variances)
        X, D, m = self.X, self.D, range(len(self.D))
        P = [-X.T @ S @ d @ S @ X for d in D]
        Q = [[X.T @ S @ d @ S @ e @ S @ X for e in D] for d in D]
        information = [
            [
                np.trace(S @ D[i] @ S @ D[j])
                - np.trace(2 * phi @ Q[i][j] - phi @ P[i] @ phi @ P[j])
                for j in m
            ]
            for i in m
        ]
        W = 2 * np.linalg.inv(information)
        U = sum(W[i, j] * (Q[i][j] - P[i] @ phi @ P[j]) for i in m for j in m)
        adjusted = phi + 2 * phi @ U @ phi if self.random else phi
        return phi @ X.T @ S @ self.y, phi, adjusted, P, W

    def rows(self, names: Sequence[str]) -> dict[tuple[str, ...], Any]:
        """The coefficients of each adjusted mean of a term: its cells weigh the same."""
        cells = list(itertools.product(*self.levels.values()))
        places = [list(self.factors).index(name) for name in names]
        found = {}
        for wanted in itertools.product(*(self.levels[name] for name in names)):
            row = np.zeros(self.X.shape[1])
            row[: len(cells)] = [tuple(cell[i] for i in places) == wanted for cell in cells]
            found[wanted] = row / row.sum()
        return found

    def test(self, L: Any) -> tuple[float, float]:
        """F of the rows of ``L`` and its denominator degrees of freedom."""
        if self.at_bound:
            return self.test_by_strata(L)
        b, phi, adjusted, P, W = self.paper
        q, wald = len(L), L @ b @ np.linalg.solve(L @ adjusted @ L.T, L @ b) / len(L)
        if not self.random:
            return float(wald), float(self.y.size - self.X.shape[1])
        theta = L.T @ np.linalg.inv(L @ phi @ L.T) @ L
        T = [theta @ phi @ each @ phi for each in P]
        m = range(len(T))
        a1 = sum(W[i, j] * np.trace(T[i]) * np.trace(T[j]) for i in m for j in m)
        a2 = sum(W[i, j] * np.trace(T[i] @ T[j]) for i in m for j in m)
        if q == 1:
            return float(wald), float(2 / a2)
        B = (a1 + 6 * a2) / (2 * q)
        g = ((q + 1) * a1 - (q + 4) * a2) / ((q + 2) * a2)
        c = np.array([g, q - g, q + 2 - g]) / (3 * q + 2 * (1 - g))
        mean = 1 / (1 - a2 / q)
        spread = 2 / q * (1 + c[0] * B) / ((1 - c[1] * B) ** 2 * (1 - c[2] * B))
        den_df = 4 + (q + 2) / (q * spread / (2 * mean**2) - 1)
        return float(den_df / (mean * (den_df - 2)) * wald), float(den_df)

    def estimate(self, row: Any) -> tuple[float, float, float]:
        """Value, standard error and degrees of freedom of one row of coefficients."""
        b, _, adjusted, _, _ = self.paper
        if self.at_bound:
            cov, df = self.by_strata(row[None, : len(self.shares[0])])
            return float(row @ b), float(np.sqrt(cov[0, 0])), float(df[0])
        return float(row @ b), float(np.sqrt(row @ adjusted @ row)), self.test(row[None])[1]


@dataclass(frozen=True)
class Case:
    """A layout: its plots, how it is named to the program, and the model it stands for."""

    kind: LayoutKind
    frame: pd.DataFrame
    factors: Sequence[str]
    columns: dict[str, str] = field(default_factory=dict)
    on: dict[str, AppliedTo] = field(default_factory=dict)
    fixed: Sequence[Sequence[str]] = ()
    random: Sequence[Sequence[str]] = ()
    covariates: Sequence[str] = ()
    held: bool = False


def every(**columns: Sequence[Any]) -> pd.DataFrame:
    return pd.DataFrame(list(itertools.product(*columns.values())), columns=list(columns))


def grown(frame: pd.DataFrame, seed: int, *grounds: Sequence[str], lost: int = 2) -> pd.DataFrame:
    """A yield with luck of the plot and of each piece of ground; ``lost`` plots have none."""
    rng = np.random.default_rng(seed)
    found = frame.assign(**{"yield": 20 + rng.normal(0, 1, len(frame))})
    for ground in grounds:
        label = crossed(frame, ground)
        luck = {each: rng.normal(0, 1.3) for each in sorted(set(label))}
        found["yield"] += label.map(luck)
    found.loc[rng.choice(len(frame), lost, replace=False), "yield"] = np.nan
    return found


def in_incomplete_blocks(rng: np.random.Generator) -> pd.DataFrame:
    rows = [
        (rep, f"{rep}{place // 4}", f"v{entry:02d}")
        for rep in "ABC"
        for place, entry in enumerate(rng.permutation(12))
    ]
    return pd.DataFrame(rows, columns=["rep", "small", "variety"])


def cases() -> dict[str, Case]:
    k = LayoutKind
    rng = np.random.default_rng(5)
    blocks, varieties, yes_no = list("ABCD"), list("stuvw"), ["no", "yes"]
    square = pd.DataFrame(
        [(r, c, "stuvw"[(r + 2 * c) % 5]) for r in range(5) for c in range(5)],
        columns=["row", "column", "variety"],
    )
    fano = ("abd", "bce", "cdf", "deg", "efa", "fgb", "gac")
    triples = pd.DataFrame(
        [(f"b{i}", entry) for i, block in enumerate(fano) for entry in block],
        columns=["small", "variety"],
    )
    new = [(block, f"n{place}{block}") for block in blocks for place in range(3)]
    checks = [(block, check) for block in blocks for check in ("c1", "c2")]
    augmented = pd.DataFrame([*checks, *new], columns=["b", "variety"])
    halves = every(bed=range(8), variety=list("stuv")).assign(
        pinch=lambda beds: np.where(beds["bed"] % 2, "yes", "no")
    )
    complete = every(b=blocks, variety=varieties)
    stands = complete.assign(stand=rng.normal(14, 1, len(complete)))
    split = every(b=blocks, pinch=yes_no, variety=varieties)
    thirds = every(b=blocks[:3], net=yes_no, pinch=["early", "late", "no"], variety=list("stuv"))
    strips = every(b=blocks, net=list("xyz"), pinch=["early", "late", "no"])
    years = every(season=[2024, 2025, 2026], b=blocks[:3], variety=varieties)
    small, block = {"block": "rep", "incomplete_block": "small"}, {"block": "b"}
    return {
        "no blocks": Case(
            k.COMPLETELY_RANDOMISED,
            grown(every(variety=varieties, r=range(4)), 1, lost=4),
            ["variety"],
        ),
        "blocks": Case(
            k.COMPLETE_BLOCKS, grown(complete, 2, ["b"], lost=3), ["variety"], block, fixed=[["b"]]
        ),
        "stands taken into account": Case(
            k.COMPLETE_BLOCKS,
            grown(stands, 3, ["b"]),
            ["variety"],
            block,
            fixed=[["b"]],
            covariates=["stand"],
        ),
        "two factors on plots": Case(
            k.COMPLETE_BLOCKS, grown(split, 4, ["b"]), ["pinch", "variety"], block, fixed=[["b"]]
        ),
        "square": Case(
            k.LATIN_SQUARE,
            grown(square, 5, ["row"], ["column"]),
            ["variety"],
            {"row": "row", "column": "column"},
            fixed=[["row"], ["column"]],
        ),
        "new packets": Case(
            k.AUGMENTED_BLOCKS,
            grown(augmented, 6, ["b"], lost=0),
            ["variety"],
            block,
            fixed=[["b"]],
        ),
        "small blocks in replicates": Case(
            k.INCOMPLETE_BLOCKS,
            grown(in_incomplete_blocks(rng), 7, ["rep"], ["small"]),
            ["variety"],
            small,
            fixed=[["rep"]],
            random=[["rep", "small"]],
        ),
        "small blocks only": Case(
            k.INCOMPLETE_BLOCKS,
            grown(triples, 8, ["small"], lost=1),
            ["variety"],
            {"incomplete_block": "small"},
            random=[["small"]],
        ),
        "beds of plots without blocks": Case(
            k.SPLIT_PLOT,
            grown(halves, 9, ["bed"]),
            ["pinch", "variety"],
            {"whole_plot_unit": "bed"},
            {"pinch": WHOLE},
            random=[["bed"]],
        ),
        "split plots": Case(
            k.SPLIT_PLOT,
            grown(split, 10, ["b"], ["b", "pinch"], lost=3),
            ["pinch", "variety"],
            block,
            {"pinch": WHOLE},
            fixed=[["b"]],
            random=[["b", "pinch"]],
        ),
        "split plots split again": Case(
            k.SPLIT_SPLIT_PLOT,
            grown(thirds, 11, ["b"], ["b", "net"], ["b", "net", "pinch"], lost=3),
            ["net", "pinch", "variety"],
            block,
            {"net": WHOLE, "pinch": SPLIT},
            fixed=[["b"]],
            random=[["b", "net"], ["b", "net", "pinch"]],
        ),
        "crossing strips": Case(
            k.STRIPS,
            grown(strips, 12, ["b"], ["b", "net"], ["b", "pinch"]),
            ["net", "pinch"],
            block,
            {"net": STRIP, "pinch": STRIP},
            fixed=[["b"]],
            random=[["b", "net"], ["b", "pinch"]],
        ),
        "several seasons": Case(
            k.COMPLETE_BLOCKS,
            grown(years, 13, ["season"], ["season", "b"], ["season", "variety"], lost=4),
            ["variety"],
            {"block": "b", "season": "season"},
            fixed=[["season", "b"]],
            random=[["season", "variety"]],
        ),
        "split plots that differ little": Case(
            k.SPLIT_PLOT,
            grown(split, 24, ["b"], lost=3),
            ["pinch", "variety"],
            block,
            {"pinch": WHOLE},
            fixed=[["b"]],
            random=[["b", "pinch"]],
        ),
        "split plots split again that differ little": Case(
            k.SPLIT_SPLIT_PLOT,
            grown(thirds, 15, ["b"], lost=3),
            ["net", "pinch", "variety"],
            block,
            {"net": WHOLE, "pinch": SPLIT},
            fixed=[["b"]],
            random=[["b", "net"], ["b", "net", "pinch"]],
        ),
        "crossing strips that differ little": Case(
            k.STRIPS,
            grown(strips, 16, ["b"], lost=2),
            ["net", "pinch"],
            block,
            {"net": STRIP, "pinch": STRIP},
            fixed=[["b"]],
            random=[["b", "net"], ["b", "pinch"]],
        ),
        "seasons alike": Case(
            k.COMPLETE_BLOCKS,
            grown(years, 17, ["season"], ["season", "b"], lost=4),
            ["variety"],
            {"block": "b", "season": "season"},
            fixed=[["season", "b"]],
            random=[["season", "variety"]],
        ),
        "small blocks that differ little": Case(
            k.INCOMPLETE_BLOCKS,
            grown(in_incomplete_blocks(rng), 24, ["rep"]),
            ["variety"],
            small,
            fixed=[["rep"]],
            random=[["rep", "small"]],
            held=True,
        ),
    }


@pytest.fixture(scope="module", params=list(cases().values()), ids=list(cases()))
def both(request: pytest.FixtureRequest, plot_table: MakeTable) -> tuple[Comparison, WrittenOut]:
    case: Case = request.param
    table = plot_table(
        case.frame, *case.factors, on=case.on, covariates=case.covariates, **case.columns
    )
    found = compare(table, Question())
    assert found.layout.kind is case.kind
    held = case.frame.dropna(subset=["yield"]).reset_index(drop=True)
    return found, WrittenOut(
        held, case.factors, case.fixed, case.random, case.covariates, case.held
    )


def test_variances(both: tuple[Comparison, WrittenOut]) -> None:
    found, written = both
    components = [component.variance for component in found.components]
    residual, *larger = written.components
    assert components == pytest.approx([*larger, residual], rel=1e-6, abs=1e-9)


def test_adjusted_means(both: tuple[Comparison, WrittenOut]) -> None:
    found, written = both
    for mean in found.means:
        rows = written.rows([name for name, _ in mean.levels])
        value, se, df = written.estimate(rows[tuple(level for _, level in mean.levels)])
        assert mean.mean == pytest.approx(value, rel=1e-8)
        assert mean.se == pytest.approx(se, rel=1e-6)
        assert mean.df == pytest.approx(df, rel=1e-5)


def test_differences(both: tuple[Comparison, WrittenOut]) -> None:
    found, written = both
    for pair in found.all_pairs:
        a, b = dict((*pair.a, *pair.within)), dict((*pair.b, *pair.within))
        names = [name for name in written.factors if name in a]
        rows = written.rows(names)
        difference = rows[tuple(a[n] for n in names)] - rows[tuple(b[n] for n in names)]
        value, se, df = written.estimate(difference)
        assert pair.difference == pytest.approx(value, abs=1e-7)
        assert pair.se == pytest.approx(se, rel=1e-6)
        assert pair.df == pytest.approx(df, rel=1e-5)
        assert pair.p == pytest.approx(2 * stats.t.sf(abs(value / se), df), abs=1e-6)


def test_joint_tests(both: tuple[Comparison, WrittenOut]) -> None:
    found, written = both
    assert {test.term for test in found.tests} >= set(written.factors)
    for test in found.tests:
        names = test.term.split(":")
        L: Any = np.ones((1, 1))
        for count in (len(written.levels[name]) for name in names):
            L = np.kron(L, np.hstack([np.eye(count - 1), -np.ones((count - 1, 1))]))
        F, den_df = written.test(L @ np.array(list(written.rows(names).values())))
        assert F == pytest.approx(test.F, rel=1e-6)
        assert test.num_df == len(L)
        assert test.den_df == pytest.approx(den_df, rel=1e-5)
