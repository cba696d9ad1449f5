"""The rows of trials that were solved together: every family's figures for all of them at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import fdtrc

from trials.pool.layouts import Factored, FactoredGroup
from trials.pool.result_rows import Family, Rows, Table, within_text
from trials.stats.design.table import Codes, Floats, PlotTable, Question
from trials.stats.design.terms import Term
from trials.stats.distributions.multivariate_t import largest_t_cdf
from trials.stats.distributions.quadrature import t_quantile, t_two_sided
from trials.stats.families.best import constrained
from trials.stats.families.differences import ROUNDING, ratio, within_bonferroni
from trials.stats.results import Method, Verdict


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """One comparison that is wanted: which trial and measure it is, its plots and its question."""

    trial: str
    measure: str
    table: PlotTable
    question: Question


def check_place(each: Asked) -> tuple[int, int] | None:
    """The factor that has the check among its levels, and its place among them."""
    for factor, treatment in enumerate(each.table.treatments):
        if each.question.check in treatment.labels.levels:
            return factor, treatment.labels.levels.index(str(each.question.check))
    return None


def left_out_of(each: Asked) -> frozenset[tuple[int, int]]:
    """The levels that are not in the running for the best, by their places."""
    treatments = each.table.treatments
    return frozenset(
        (factor, treatments[factor].labels.levels.index(level))
        for name, level in each.question.not_in_running
        for factor in range(len(treatments))
        if treatments[factor].name == name and level in treatments[factor].labels.levels
    )


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """A layout's trials after the sums: cell means (c, m), plot variances (m,), their question."""

    layout: Factored
    members: tuple[Asked, ...]
    means: Floats
    variance: Floats
    grand: Floats
    margin: Floats

    @property
    def count(self) -> int:
        return len(self.members)

    @property
    def df(self) -> float:
        return float(self.layout.residual_df)


@dataclass(frozen=True, slots=True, eq=False)
class Writer:
    """Adds the rows of trials that were solved together."""

    solved: Solved
    rows: Rows
    trial: Codes
    measure: Codes
    levels: tuple[Codes, ...]  # (m, levels) codes of the names, one array a factor

    @classmethod
    def of(cls, solved: Solved, rows: Rows) -> Writer:
        names, asked = rows.names, solved.members
        factors = range(len(asked[0].table.treatments))
        return cls(
            solved,
            rows,
            names.codes([each.trial for each in asked]),
            names.codes([each.measure for each in asked]),
            tuple(
                np.stack([names.codes(e.table.treatments[f].labels.levels) for e in asked])
                for f in factors
            ),
        )

    def write(self) -> None:
        self._comparisons()
        self._tests()
        for term in self.solved.layout.terms:
            self._means(term)
        question, check = self.solved.members[0].question, check_place(self.solved.members[0])
        for each in self.solved.layout.groups:
            self._pairs(each, question.alpha)
            self._best(each, question)
            if check is not None and each.group.factor == check[0]:
                self._with_check(each, check[1], question.alpha)
            if len(each.group.term.factors) == 1:
                self._adjusted(each)
        for each in self.solved.layout.whole:
            self._best(each, question)

    def _whose(self, each: int) -> dict[str, Codes]:
        return {"trial": np.repeat(self.trial, each), "measure": np.repeat(self.measure, each)}

    def _comparisons(self) -> None:
        solved, first, names = self.solved, self.solved.members[0], self.rows.names
        spread = 100 * np.sqrt(solved.variance)
        positive = solved.grand > 0
        self.rows.add(
            Table.COMPARISONS,
            solved.count,
            **self._whose(1),
            unit=names.codes([each.table.unit for each in solved.members]),
            layout=solved.layout.structure.layout.kind.value,
            method=Method.LEAST_SQUARES.value,
            check=names.codes([each.question.check for each in solved.members]),
            better=first.question.better.value,
            reason=None,
            plots=float(len(solved.layout.space)),
            alpha=first.question.alpha,
            residual_df=solved.df,
            grand_mean=solved.grand,
            cv_percent=np.where(positive, spread / np.where(positive, solved.grand, 1.0), np.nan),
            margin=solved.margin,
        )

    def _tests(self) -> None:
        for test in self.solved.layout.tests:
            estimate = test.rows @ self.solved.means
            q = float(len(test.rows))
            F = np.einsum("im,ij,jm->m", estimate, test.inverse, estimate)
            F /= q * self.solved.variance
            self.rows.add(
                Table.TESTS,
                self.solved.count,
                **self._whose(1),
                term=test.term,
                num_df=q,
                den_df=self.solved.df,
                F=F,
                p=fdtrc(q, self.solved.df, F),
            )

    def _means(self, term: Term) -> None:
        solved, layout = self.solved, self.solved.layout
        weights = term.weights @ layout.solve
        size = np.sqrt(np.einsum("ij,ij->i", weights, weights))
        mean = (term.weights @ solved.means).T
        se = np.sqrt(solved.variance)[:, None] * size
        alpha = solved.members[0].question.alpha
        reach = float(t_quantile(1 - alpha / 2, solved.df)) * se
        cells = layout.structure.cells.grouping
        plots = (term.weights > 0) @ np.bincount(cells.codes, minlength=cells.count)
        self.rows.add(
            Table.MEANS,
            mean.size,
            **self._whose(len(size)),
            term=term.name,
            level=self._combined(term.factors, term.codes).ravel(),
            n=np.tile(plots.astype(float), solved.count),
            mean=mean.ravel(),
            se=se.ravel(),
            df=solved.df,
            low=(mean - reach).ravel(),
            high=(mean + reach).ravel(),
        )

    def _combined(self, factors: tuple[int, ...], codes: Codes) -> Codes:
        """The names (m, k) of combinations ``codes`` (k, factors) of the factors' levels."""
        if len(factors) == 1:
            return self.levels[factors[0]][:, codes[:, 0]]
        texts = [
            [
                ", ".join(
                    each.table.treatments[factor].labels.levels[code]
                    for factor, code in zip(factors, row, strict=True)
                )
                for row in codes.tolist()
            ]
            for each in self.solved.members
        ]
        return np.stack([self.rows.names.codes(row) for row in texts])

    def _entries(self, each: FactoredGroup) -> Codes:
        """The names (m, k) of a group's entries."""
        group = each.group
        codes = group.term.codes[group.entries]
        if group.factor is None:
            return self._combined(group.term.factors, codes)
        place = group.term.factors.index(group.factor)
        return self._combined((group.factor,), codes[:, [place]])

    def _within(self, each: FactoredGroup) -> Codes:
        """The other factors' levels within which a group is compared (m,)."""
        group, names = each.group, self.rows.names
        if group.factor is None or len(group.term.factors) == 1:
            return names.codes([None] * self.solved.count)
        codes = group.term.codes[group.entries[0]].tolist()
        fixed = [
            (factor, code)
            for factor, code in zip(group.term.factors, codes, strict=True)
            if factor != group.factor
        ]
        return names.codes(
            [
                within_text(
                    tuple(
                        (asked.table.treatments[f].name, asked.table.treatments[f].labels.levels[c])
                        for f, c in fixed
                    )
                )
                for asked in self.solved.members
            ]
        )

    def _differences(
        self, each: FactoredGroup, first: Codes, second: Codes
    ) -> tuple[Floats, Floats, Floats]:
        """Differences (m, p) with exact ties, their standard errors, and the entries' means."""
        means = (each.weights @ self.solved.means).T
        difference = means[:, first] - means[:, second]
        tie = np.abs(difference) <= ROUNDING * np.abs(means).max(axis=1, keepdims=True)
        k = len(each.cov)
        error = np.zeros((k, k))
        error[each.first, each.second] = error[each.second, each.first] = each.se
        se = np.sqrt(self.solved.variance)[:, None] * error[first, second]
        return np.where(tie, 0.0, difference), se, means

    def _pairs(self, each: FactoredGroup, alpha: float) -> None:
        difference, se, _ = self._differences(each, each.first, each.second)
        t = ratio(difference.ravel(), se.ravel())
        df = np.full(t.size, self.solved.df)
        tail, critical = each.law(alpha)(np.abs(t), df)
        p = t_two_sided(t, df)
        adjusted = within_bonferroni(tail, p, len(each.first))
        self._add_pairs(
            each, Family.ALL_PAIRS, each.first, each.second, difference, se, p, adjusted, critical
        )

    def _with_check(self, each: FactoredGroup, check: int, alpha: float) -> None:
        first = np.delete(np.arange(len(each.cov)), check)
        second = np.full(len(first), check)
        difference, se, _ = self._differences(each, first, second)
        t = ratio(difference.ravel(), se.ravel())
        p = t_two_sided(t, self.solved.df)
        correlation, critical = each.with_check(check, alpha)
        inside = largest_t_cdf(np.abs(t), correlation, self.solved.df, True)
        adjusted = within_bonferroni(1.0 - inside, p, len(first))
        points = np.full(t.size, critical)
        self._add_pairs(each, Family.WITH_CHECK, first, second, difference, se, p, adjusted, points)

    def _add_pairs(
        self,
        each: FactoredGroup,
        family: Family,
        first: Codes,
        second: Codes,
        difference: Floats,
        se: Floats,
        p: Floats,
        adjusted: Floats,
        critical: Floats,
    ) -> None:
        entries, count = self._entries(each), len(first)
        flat, error = difference.ravel(), se.ravel()
        low, high = flat - critical * error, flat + critical * error
        self.rows.add(
            Table.PAIRS,
            flat.size,
            **self._whose(count),
            family=family.value,
            term=each.group.term.name,
            within=np.repeat(self._within(each), count),
            a=entries[:, first].ravel(),
            b=entries[:, second].ravel(),
            verdict=self._verdicts(low, high, np.repeat(self.solved.margin, count)),
            difference=flat,
            se=error,
            df=self.solved.df,
            t=ratio(flat, error),
            p=p,
            p_adjusted=adjusted,
            low=low,
            high=high,
        )

    def _verdicts(self, low: Floats, high: Floats, margin: Floats) -> Codes:
        """The verdicts of ``stats.families.verdicts``, of intervals with a margin each."""
        same = (low > -margin) & (high < margin)  # without a margin (NaN) never
        code = self.rows.names.code
        return np.select(
            [same, low > 0.0, high < 0.0],
            [code(Verdict.SAME.value), code(Verdict.MORE.value), code(Verdict.LESS.value)],
            code(Verdict.UNKNOWN.value),
        ).astype(np.intp)

    def _best(self, each: FactoredGroup, question: Question) -> None:
        left_out = left_out_of(self.solved.members[0])
        running = _running(each, left_out)
        if running is None:
            return
        k = len(running)
        a, b = np.triu_indices(k, k=1)
        difference, se, means = self._differences(each, running[a], running[b])
        sign = 1.0 if question.better == "higher" else -1.0
        gap, error = np.zeros((2, self.solved.count, k, k))
        gap[:, a, b], gap[:, b, a] = sign * difference, -sign * difference
        error[:, a, b] = error[:, b, a] = se
        tie = ROUNDING * np.abs(means[:, running]).max(axis=1)
        points = each.best_points(running, question.alpha)
        low, high, could = constrained(gap, error, points, tie, question.better)
        self.rows.add(
            Table.BEST,
            low.size,
            **self._whose(k),
            term=each.group.term.name,
            within=np.repeat(self._within(each), k),
            level=self._entries(each)[:, running].ravel(),
            low=low.ravel(),
            high=high.ravel(),
            could_be_best=could.ravel(),
        )

    def _adjusted(self, each: FactoredGroup) -> None:
        lower = np.tril_indices(len(each.cov))
        means = (each.weights @ self.solved.means).T
        factor = each.group.term.factors[0]
        levels = [
            list(asked.table.treatments[factor].labels.levels) for asked in self.solved.members
        ]
        self.rows.add(
            Table.ADJUSTED,
            self.solved.count,
            **self._whose(1),
            factor=each.group.term.name,
            df=self.solved.df,
            levels=levels,
            means=list(means),
            cov=list(self.solved.variance[:, None] * each.cov[lower]),
        )


def _running(each: FactoredGroup, left_out: frozenset[tuple[int, int]]) -> Codes | None:
    """The entries of a group that are in the running; None where there is nothing to compare."""
    if not left_out:
        return np.arange(len(each.cov))
    group = each.group
    codes = group.term.codes[group.entries]
    out: NDArray[np.bool_] = np.zeros(codes.shape, dtype=bool)
    for place, factor in enumerate(group.term.factors):
        out[:, place] = [(factor, code) in left_out for code in codes[:, place].tolist()]
    own = None if group.factor is None else group.term.factors.index(group.factor)
    if own is not None and np.delete(out, own, axis=1).any():
        return None
    running = np.flatnonzero(~out.any(axis=1))
    return running if len(running) > 1 else None
