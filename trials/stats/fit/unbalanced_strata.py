"""Errors by strata for a layout that lost plots and whose larger units hardly differ.

A search for variances at or above zero then ends at exactly 0, and the larger units' error with it
at that of single plots. That is too large in just those trials where the units happen to differ
little, so that a test of their treatments errs far less often than it claims. The exact strata of
a layout without losses take the units' own mean square there, however small; so does this.

Formula: the variances v solve E(mean squares) = A v; the means' covariance is a sum of mean squares
    times shares.
Limits: Only where a variance of REML ended at 0 and each grouping keeps degrees of freedom of its
    own.
Source: Henderson 1953, Biometrics 9:226, method 3; Searle, Casella & McCulloch 1992, Variance
    Components, chapter 5; Nelder 1954, Biometrika 41:544; Stroup 2013, Generalized Linear Mixed
    Models, chapter 6 (all from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from trials.stats.design.design_matrix import Design, indicators
from trials.stats.design.linear_model import Fit, Grouping, LinearModel
from trials.stats.design.table import Floats
from trials.stats.fit.kenward_roger import KenwardRoger
from trials.stats.fit.strata import StrataDf
from trials.stats.results import Component, Method

_ROUNDING = 1e-12
_LEAST_SHARE = 0.1  # judgement: of the smallest mean square; without losses nothing is below 1


def errors_by_strata(
    fit: Fit,
    at_zero: KenwardRoger,
    model: LinearModel,
    random: tuple[Grouping, ...],
    swept: Design,
) -> Fit:
    """A REML fit that ended at 0 with its errors from the mean squares of strata.

    The mean square of each random grouping (coarse before fine) is of what its units explain
    after the treatments, the fixed groupings, the covariates and the coarser units; the plots
    have what is left. The variances are those whose expected mean squares these are, and may be
    below zero. The means stay as they are; their covariance, being linear in the variances, is a
    sum of mean squares times shares, plus Kenward and Roger's adjustment ``at_zero``, which also
    has the slopes of the covariance. With plots lost a share can be negative. Then no combination
    of means varies less, for its weights, than a tenth of the smallest mean square, and none has
    fewer degrees of freedom than the stratum with the fewest. Where no plot is lost no difference
    of means meets these limits, and all is as in the exact strata. ``residuals`` and ``leverage``
    are of the plots' stratum, as they are there.

    ``fit`` comes back unchanged where a grouping keeps no degrees of freedom of its own, or where
    its units do not differ at all.
    """
    order = sorted(range(len(random)), key=lambda i: random[i].count)
    units = [indicators(random[i]) for i in order]
    bases = tuple(_bases(swept.space, units))
    y = model.y - float(model.y.mean())
    residuals = y - swept.space @ (swept.space.T @ y)
    leverage = np.einsum("ij,ij->i", swept.space, swept.space)
    squares: list[float] = []
    for basis in bases:
        part = basis.T @ residuals
        squares.append(float(part @ part))
        residuals = residuals - basis @ part
        leverage = leverage + np.einsum("ij,ij->i", basis, basis)
    squares.append(float(residuals @ residuals))
    degrees = np.array([*(basis.shape[1] for basis in bases), fit.residual_df])
    if degrees.min() < 1 or min(squares) <= _ROUNDING * max(squares):
        return fit
    mean_squares = np.array(squares) / degrees

    expected = np.ones((len(units) + 1, len(units) + 1))
    expected[-1, :-1] = 0.0
    for row, basis in enumerate(bases):
        expected[row, :-1] = [np.sum((basis.T @ each) ** 2) / degrees[row] for each in units]
    unmix = np.linalg.inv(expected)
    slopes = at_zero.sensitivities[[*(i + 1 for i in order), 0]]
    shares = np.tensordot(unmix.T, slopes, axes=1)
    smallest = int(np.argmin(mean_squares))
    plain, least = slopes[-1], float(mean_squares[smallest])
    # What all means share are sums of whole blocks: no difference rests on their variance, which
    # is kept from falling below the smallest mean square as in the exact strata.
    overall = float(np.mean(np.tensordot(mean_squares, shares, axes=1)))
    shares[smallest] += max(float(plain.mean()) - overall / least, 0.0)
    shares[smallest] += _short(np.tensordot(mean_squares, shares, axes=1), plain, least) / least
    cov = np.tensordot(mean_squares, shares, axes=1) + fit.cov - at_zero.naive_cov
    names = [*(random[i].source for i in order), "residual"]
    return replace(
        fit,
        method=Method.REML_STRATA,
        cov=cov,
        df=StrataDf(
            mean_squares,
            degrees,
            shares,
            at_zero.means,
            cov,
            at_zero.estimable_basis,
            float(degrees.min()),
        ),
        residual_variance=float(mean_squares[-1]),
        components=tuple(
            Component(name, float(variance), None, float(square))
            for name, variance, square in zip(
                names, unmix @ mean_squares, mean_squares, strict=True
            )
        ),
        residuals=residuals,
        fitted=model.y - residuals,
        leverage=leverage,
    )


def _bases(before: Floats, units: list[Floats]) -> Iterator[Floats]:
    """Orthonormal columns of what each grouping's units add to those before."""
    for columns in units:
        left, size, _ = np.linalg.svd(columns - before @ (before.T @ columns), full_matrices=False)
        basis = left[:, size > 1e-8]
        yield basis
        before = np.hstack([before, basis])


def _short(cov: Floats, plain: Floats, smallest: float) -> Floats:
    """What ``cov`` (c, c) lacks for no means to vary less than ``smallest`` times ``plain``."""
    size, axes = np.linalg.eigh(plain)
    kept = size > 1e-9 * size[-1]
    root = axes[:, kept] * np.sqrt(size[kept])
    back = axes[:, kept] / np.sqrt(size[kept])
    times, directions = np.linalg.eigh(back.T @ cov @ back)
    lacking = np.maximum(_LEAST_SHARE * smallest - times, 0.0)
    return np.asarray((root @ directions * lacking) @ (root @ directions).T)
