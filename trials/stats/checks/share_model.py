"""The share model beside the main analysis: so many of so many, varying more than by chance.

The log odds of a share are treatment + blocks. Its variance is a multiple of the binomial one that
the plots tell (quasi-binomial: McCullagh & Nelder 1989, Generalized Linear Models, 2nd edition,
sections 4.5 and 9.2), so that the stems of a plot never count as replicates.

Formula: log(p / (1 - p)) = treatment + blocks; variance = phi n p (1 - p); F = drop in deviance /
    (q phi).
Limits: no test where no stems, or all of them, were of the kind throughout; phi is estimated
    from the plots.
Source: McCullagh & Nelder 1989, Generalized Linear Models, sections 4.5 and 9.2.
"""

from __future__ import annotations

import numpy as np
from scipy.special import fdtrc

from trials.stats.checks.counts import CountTest, Fit
from trials.stats.checks.randomised_units import orthonormal
from trials.stats.design.table import Floats


def fit_shares(
    counts: Floats, numbers: Floats, columns: Floats, _square: float
) -> tuple[float, Floats]:
    """A ``Fit`` by statsmodels' generalised linear model of shares, which have no squared part."""
    import warnings

    from statsmodels.genmod.families import Binomial
    from statsmodels.genmod.generalized_linear_model import GLM
    from statsmodels.tools.sm_exceptions import PerfectSeparationWarning

    model = GLM(counts / numbers, columns, family=Binomial(), var_weights=numbers)
    with warnings.catch_warnings():  # without dispersion there is no test, which the caller says
        warnings.simplefilter("ignore", PerfectSeparationWarning)
        fitted = model.fit(tol=1e-12, maxiter=200)
    return float(fitted.deviance), np.asarray(fitted.mu) * numbers


def share_test(
    counts: Floats, numbers: Floats, effect: Floats, rest: Floats, fit: Fit = fit_shares
) -> CountTest | None:
    """Test the columns ``effect`` (u, q) beside ``rest`` (u, r), which holds the constant.

    ``counts`` (u,) of ``numbers`` (u,), the latter positive. The drop in deviance per degree of
    freedom is held against Pearson's estimate of the dispersion. A level with none or all is no
    obstacle: its deviance has a limit. None where none or all were counted throughout, or nothing
    is left to estimate the dispersion from.

    Fitted by statsmodels; checked against reweighted least squares written out in numpy.
    """
    if (counts < 0).any() or (counts > numbers).any() or not (numbers > 0).all():
        raise ValueError("a share is of a positive number, and at most all of it")
    known = orthonormal(rest)
    own = orthonormal(effect - known @ (known.T @ effect))
    q, den_df = own.shape[1], len(counts) - known.shape[1] - own.shape[1]
    if q == 0 or den_df < 1 or not counts.any() or (counts == numbers).all():
        return None
    deviance, mean = fit(counts, numbers, np.hstack([known, own]), 0.0)
    spread = mean * (1.0 - mean / numbers)
    # A mean of none or all within rounding is met exactly, and adds nothing.
    apart = np.divide((counts - mean) ** 2, spread, out=np.zeros_like(spread), where=spread > 0)
    dispersion = float(np.sum(apart)) / den_df
    if dispersion <= 1e-12:
        return None
    without, _ = fit(counts, numbers, known, 0.0)
    F = max(without - deviance, 0.0) / q / dispersion
    return CountTest(F, q, den_df, float(fdtrc(q, den_df, F)), dispersion, 0.0)
