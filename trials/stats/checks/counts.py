"""The count model beside the main analysis: stems as counts, plants as their exposure.

Expected stems are plants x exp(treatment + blocks). The variance is a multiple of the mean that
the plots tell (quasi-Poisson: McCullagh & Nelder 1989, Generalized Linear Models, 2nd edition,
sections 6.2 and 9.2) unless their spread is seen to rise faster; then a part that grows with the
square of the mean is added instead (negative binomial, by moments: Breslow 1984, Applied
Statistics 33:38). The two can disagree widely, so the one that was taken is always named. Terms
given to larger units are tested on those units' totals, so that plots inside them never count as
replicates.

Formula: log E(stems) = log plants + treatment + blocks; variance = phi mean, or mean + k mean²; F =
    drop in deviance / (q phi).
Limits: Whole counts only; phi is estimated, so that a few plots tell little of it.
Source: McCullagh & Nelder 1989, Generalized Linear Models, sections 6.2 and 9.2; Breslow 1984,
    Applied Statistics 33:38.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import fdtrc

from trials.stats.checks.randomised_units import orthonormal
from trials.stats.design.table import Floats
from trials.stats.distributions.quadrature import t_upper

_ROUNDING = 1e-6  # of a count, from dividing by plants and multiplying again
_SAME_SPAN = 1e-9  # what rounding leaves of a basis outside what another one spans
_FASTER = 0.05  # the spread is said to rise faster when luck explains it less often than this


@dataclass(frozen=True, slots=True)
class CountTest:
    """The F test of a term among counts.

    ``dispersion`` is the variance in multiples of the mean (1 for pure chance counts). Where the
    spread rises faster, ``square`` is what the squared mean adds to the variance, which is then
    mean + square x mean^2; otherwise it is 0.
    """

    F: float
    num_df: int
    den_df: int
    p: float
    dispersion: float
    square: float


# Deviance and fitted means (u,) of counts (u,), their exposure (u,) and orthonormal columns (u, r),
# with the part that the squared mean adds to the variance.
Fit = Callable[[Floats, Floats, Floats, float], tuple[float, Floats]]


def remembering(fit: Fit) -> Fit:
    """The same fit, done once for all columns that span the same: terms share the full model."""
    done: list[tuple[Floats, Floats, Floats, float, tuple[float, Floats]]] = []

    def fitted(
        counts: Floats, exposure: Floats, columns: Floats, square: float
    ) -> tuple[float, Floats]:
        for of, on, basis, added, found in done:
            same = added == square and np.array_equal(of, counts) and np.array_equal(on, exposure)
            if same and _span_alike(basis, columns):
                return found
        found = fit(counts, exposure, columns, square)
        done.append((counts, exposure, columns, square, found))
        return found

    return fitted


def _span_alike(basis: Floats, columns: Floats) -> bool:
    if basis.shape != columns.shape:
        return False
    return bool(np.abs(basis @ (basis.T @ columns) - columns).max(initial=0.0) < _SAME_SPAN)


def fit_counts(
    counts: Floats, exposure: Floats, columns: Floats, square: float
) -> tuple[float, Floats]:
    """A ``Fit`` by statsmodels' generalised linear models.

    A level without stems runs off to no rate at all; the deviance stops falling long before.
    """
    from statsmodels.genmod.families import NegativeBinomial, Poisson
    from statsmodels.genmod.generalized_linear_model import GLM

    family = NegativeBinomial(alpha=square) if square > 0.0 else Poisson()
    model = GLM(counts, columns, family=family, offset=np.log(exposure))
    fitted = model.fit(tol=1e-12, maxiter=200)
    return float(fitted.deviance), np.asarray(fitted.mu)


def count_test(
    counts: Floats, exposure: Floats, effect: Floats, rest: Floats, fit: Fit = fit_counts
) -> CountTest | None:
    """Test the columns ``effect`` (u, q) beside ``rest`` (u, r), which holds the constant.

    ``counts`` (u,) are not negative, ``exposure`` (u,) positive. The drop in deviance per degree
    of freedom is held against Pearson's estimate of the dispersion (1 by construction where the
    squared mean enters). A level without any stems is
    no obstacle: its deviance has a limit. None where no stems were counted at all, or nothing is
    left to estimate the dispersion from.

    Fitted by statsmodels; checked against reweighted least squares written out in numpy.
    """
    if (counts < 0).any() or not (exposure > 0).all():
        raise ValueError("counts cannot be negative, and every unit needs plants")
    known = orthonormal(rest)
    own = orthonormal(effect - known @ (known.T @ effect))
    q, den_df = own.shape[1], len(counts) - known.shape[1] - own.shape[1]
    if q == 0 or den_df < 1 or not counts.any():
        return None
    both = np.hstack([known, own])
    deviance, mean = fit(counts, exposure, both, 0.0)
    pearson = (counts - mean) / np.sqrt(mean)
    dispersion = float(pearson @ pearson) / den_df
    if dispersion <= 1e-12:
        return None
    square, scale = 0.0, dispersion
    if dispersion > 1.0 and _outgrown(pearson, mean):
        square, scale = _square_part(counts, exposure, both, den_df, fit), 1.0
        deviance, _ = fit(counts, exposure, both, square)
    without, _ = fit(counts, exposure, known, square)
    F = max(without - deviance, 0.0) / q / scale
    return CountTest(F, q, den_df, float(fdtrc(q, den_df, F)), dispersion, square)


def whole_counts(y: Floats, plants: Floats) -> Floats | None:
    """What was counted (n,), from what came of each plant; None where it is no whole number."""
    if not (np.isfinite(plants) & (plants > 0)).all():
        return None
    counts = y * plants
    whole = np.round(counts)
    if (counts < 0).any() or (np.abs(counts - whole) > _ROUNDING * np.maximum(whole, 1.0)).any():
        return None
    return np.asarray(whole)


def _square_part(counts: Floats, exposure: Floats, columns: Floats, den_df: int, fit: Fit) -> float:
    """The share of the squared mean that brings Pearson's chi-squared down to its expectation."""
    square, mean = 0.0, fit(counts, exposure, columns, 0.0)[1]
    for _ in range(100):
        before, square = square, _moment(counts, mean, den_df)
        mean = fit(counts, exposure, columns, square)[1]
        if abs(square - before) <= 1e-10 * (1.0 + square):
            break
    return square


def _moment(counts: Floats, mean: Floats, den_df: int) -> float:
    """Newton's method from 0: the chi-squared falls and is convex, so it stays below the root."""
    square = 0.0
    for _ in range(200):
        spread = mean + square * mean**2
        parts = (counts - mean) ** 2 / spread
        step = (float(parts.sum()) - den_df) / float((parts * mean**2 / spread).sum())
        square = max(square + step, 0.0)
        if abs(step) <= 1e-13 * (1.0 + square):
            break
    return square


def _outgrown(pearson: Floats, mean: Floats) -> bool:
    """Whether the sizes of the residuals rise with the fitted means (one-sided, by ranks)."""
    n = len(mean)
    if n < 8:
        return False
    size = np.argsort(np.argsort(np.abs(pearson))).astype(float)
    level = np.argsort(np.argsort(mean)).astype(float)
    r = float(np.corrcoef(size, level)[0, 1])
    t = r * np.sqrt((n - 2) / max(1.0 - r**2, 1e-12))
    return bool(t_upper(t, n - 2) < _FASTER)
