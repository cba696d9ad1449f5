"""A second opinion that lets each treatment have a variance of its own.

Each combination of treatment levels has its own error variance; blocks stay fixed. The variances
are those of highest restricted likelihood, without blocks the levels' own sample variances. A
contrast has the covariance of Kenward & Roger 1997 (Biometrics 53:983) and Satterthwaite's degrees
of freedom 2 v^2 / var(v) (1946, Biometrics Bulletin 2:110): for two levels without blocks that is
Welch's test (1938, Biometrika 29:350). Contrasts m = Cb with orthonormal rows C and covariance S
are tested together by F = m'm / tr(S) on tr(S)^2 / tr(SS) and 2 tr(S)^2 / var(tr S) degrees of
freedom (Box 1954, Ann. Math. Statist. 25:290; Brunner, Dette & Munk 1997, JASA 92:1494).

Simulated with 600 null trials of each of 36 kinds (3 to 10 levels, 3 to 8 plots each, with and
without complete blocks; equal variances, one level with 25 times the variance, and standard
deviations rising from 1 to 6), at 0.05: single pairs were wrong 2.8 to 7.2 times in 100 (Student's
t: 0 to 36), the joint test 1.2 to 9.8 (equal variances: 3.5 to 19), and of the trials in which the
Brown-Forsythe test found unequal variances 0 to 6. Of some 100 null trials of each of 12 kinds in
3 to 8 complete blocks in which the check for blocks found them unequal, the joint test was wrong
0 to 7.5 times in 100, and least squares 0 to 12.5. Johansen's test (1980, Biometrika 67:85), which
is Welch's analysis of variance without blocks, was wrong up to 16 times in 100 without and 38
times with blocks where levels had 3 or 4 plots, and was not taken.

Formula: var(y) = v_g for each combination g of levels; df of a contrast = 2 v² / var(v).
Limits: Layouts whose plots are the only experimental units; the error rates above were simulated.
Source: Kenward & Roger 1997; Satterthwaite 1946; Welch 1938; Box 1954; Brunner, Dette & Munk 1997.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import fdtrc

from trials.stats.checks.diagnostics import NO_JOINT_TEST
from trials.stats.design.design_matrix import design
from trials.stats.design.linear_model import Fit, JointTest, LinearModel
from trials.stats.design.table import Codes, Floats
from trials.stats.families import pairings
from trials.stats.fit.analysis import Analysis, joint_test
from trials.stats.fit.joint_tests import quadratic_forms, tested_rows
from trials.stats.results import Comparison
from trials.stats.what_was_tested import Levels, SecondOpinion

_ROUNDS = 2_000
_CLOSE = 1e-7
_LEAST = 1e-6  # of the mean variance: a level's variance at its bound of 0

METHOD = "test with a variance for each level"


@dataclass(frozen=True, slots=True, eq=False)
class LevelVariances:
    """Adjusted means with a variance for each of the c cells.

    ``means`` (c,), ``cov`` (c, c) their covariance; ``variances`` (c,) with their own covariance
    ``variances_cov`` (c, c); ``slopes`` (c, c, c) the derivatives of ``cov`` by each variance.
    """

    means: Floats
    cov: Floats
    variances: Floats
    variances_cov: Floats
    slopes: Floats
    estimable_basis: Floats

    def of_contrasts(self, contrasts: Floats) -> Floats:
        """Satterthwaite's degrees of freedom (m,) of each row of ``contrasts`` (m, c)."""
        slopes = np.array([quadratic_forms(contrasts, each) for each in self.slopes])
        noise = np.einsum("gm,gh,hm->m", slopes, self.variances_cov, slopes)
        return np.asarray(2.0 * quadratic_forms(contrasts, self.cov) ** 2 / noise)

    def joint(self, contrasts: Floats) -> JointTest:
        """The test that all of ``contrasts`` (m, c) that can be estimated are zero."""
        rows = tested_rows(contrasts, self.estimable_basis)
        spread = rows @ self.cov @ rows.T
        estimate, whole = rows @ self.means, float(np.trace(spread))
        slopes = np.array([np.trace(rows @ each @ rows.T) for each in self.slopes])
        F = float(estimate @ estimate) / whole
        num_df = whole**2 / float(np.sum(spread * spread))
        den_df = 2.0 * whole**2 / float(slopes @ self.variances_cov @ slopes)
        return JointTest(num_df, den_df, F, float(fdtrc(num_df, den_df, F)))


def unequal_variances(analysis: Analysis, comparison: Comparison) -> SecondOpinion | str:
    """The tests and the pairs of a comparison with a variance for each level, or why there is none.

    A pair disagrees where its adjusted p-value falls on the other side of alpha.
    """
    fit, structure, alpha = analysis.fit, analysis.structure, comparison.alpha
    if fit is None or not comparison.tests:
        return NO_JOINT_TEST
    found = level_variances(analysis.model)
    if isinstance(found, str):
        return found
    own = replace(fit, means=found.means, cov=found.cov, df=found)
    groups = tuple(
        group
        for term in structure.terms
        if len(term.factors) == 1
        for group in pairings.groups_of(structure, own, term)
    )
    if any(_fewest_df(found, group) < 1 for group in groups):
        return "too few plots for a variance of each level"
    named = {term.name: term for term in structure.terms}
    p, turned = [], []
    for test in comparison.tests:
        again = joint_test(structure, own, named[test.term])
        if again is not None:
            p.append((test.term, again.p))
            turned += [test.term] if (again.p <= alpha) != (test.p <= alpha) else []
    pairs = _turned_pairs(groups, own, comparison)
    note = (
        f"The two tests fall on different sides of {alpha:g} for {', '.join(turned)}: treat it as "
        "undecided."
    )
    return SecondOpinion(
        method=METHOD,
        p=tuple(p),
        agrees=not turned and not pairs,
        note=note if turned else "",
        turned_pairs=pairs,
    )


def _fewest_df(found: LevelVariances, group: pairings.Group) -> float:
    """The fewest degrees of freedom of a pair: none where both variances are at their bound."""
    first, second = np.triu_indices(len(group.weights), k=1)
    return float(found.of_contrasts(group.weights[first] - group.weights[second]).min())


def _turned_pairs(
    groups: tuple[pairings.Group, ...], own: Fit, comparison: Comparison
) -> tuple[tuple[Levels, Levels], ...]:
    """The pairs of single factors' levels whose verdict changes, as (a, b)."""
    main = {
        (pair.a, pair.b): pair.p_adjusted <= comparison.alpha
        for pair in comparison.all_pairs
        if not pair.within
    }
    turned = []
    for group in groups:
        found = pairings.compared(group, own, comparison.alpha)
        turned += [
            (pair.a, pair.b)
            for pair in pairings.pairs_of(found, found.pairs, None)
            if (pair.p_adjusted <= comparison.alpha) != main.get((pair.a, pair.b))
        ]
    return tuple(turned)


def level_variances(model: LinearModel) -> LevelVariances | str:
    """Fit a variance for each cell of a model without larger units, or say why it cannot be.

    Source: Searle, Casella & McCulloch 1992, Variance Components, section 6.6 (restricted
    likelihood); each round multiplies a variance by y'PD_gPy / tr(PD_g), which is 1 at the summit.
    """
    if model.random:
        return "it is made only where plots are the only experimental units"
    swept = design(model)
    columns, codes, count = swept.space, model.cells.codes, model.cells.count
    y = model.y - model.y.mean()
    left = np.eye(y.size) - columns @ columns.T
    seen = _by_level(left**2, codes, count)
    if np.linalg.matrix_rank(seen, tol=1e-9 * seen.max()) < count:
        return "the layout does not show how much each level varies by itself"
    start = float((left @ y) @ (left @ y)) / max(y.size - swept.rank, 1)
    variances = np.full(count, start)
    for _ in range(_ROUNDS):
        p = _projector(columns, variances[codes])
        worked = p @ y
        pull = np.bincount(codes, worked**2, count) / np.bincount(codes, np.diag(p), count)
        moved = np.maximum(variances * pull, _LEAST * start)
        done = np.abs(moved - variances).max() <= _CLOSE * variances.max()
        variances = moved
        if done:
            break
    else:
        return "no set of variances fits best"
    of_plots = variances[codes]
    weight = columns / of_plots[:, None]
    gain = np.linalg.solve(columns.T @ weight, weight.T)  # (r, n)
    to_means = swept.solve @ gain  # (c, n)
    p = _projector(columns, of_plots)
    information = 0.5 * _by_level(p**2, codes, count)
    variances_cov = np.asarray(np.linalg.inv(information), dtype=np.float64)
    slopes = np.array([to_means[:, codes == g] @ to_means[:, codes == g].T for g in range(count)])
    naive = np.einsum("g,gij->ij", variances, slopes)
    # What estimated weights add to the covariance (Kenward & Roger 1997, Biometrics 53:983).
    added = np.zeros_like(naive)
    for g in range(count):
        for h in range(count):
            part = p[np.ix_(codes == g, codes == h)]
            added += variances_cov[g, h] * (
                to_means[:, codes == g] @ part @ to_means[:, codes == h].T
            )
    return LevelVariances(
        to_means @ y + float(model.y.mean()),
        np.asarray(naive + 2.0 * added),
        variances,
        variances_cov,
        slopes,
        swept.estimable_basis,
    )


def _by_level(values: Floats, codes: Codes, count: int) -> Floats:
    """Sums (count, count) of ``values`` (n, n) over the plots of each pair of levels."""
    level = np.eye(count)[codes]
    return np.asarray(level.T @ values @ level)


def _projector(columns: Floats, variances: Floats) -> Floats:
    """P = V^-1 - V^-1 X (X'V^-1 X)^-1 X'V^-1 for variances (n,) of the plots."""
    weight = columns / variances[:, None]
    taken = weight @ np.linalg.solve(columns.T @ weight, weight.T)
    return np.asarray(np.diag(1.0 / variances) - taken)
