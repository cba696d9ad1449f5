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

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from trials.stats.design.design_matrix import Design
from trials.stats.design.linear_model import Fit, Grouping
from trials.stats.design.table import Codes, Floats
from trials.stats.fit.kenward_roger import KenwardRoger
from trials.stats.fit.residual_likelihood import Reduced, Units
from trials.stats.fit.strata import StrataDf
from trials.stats.results import Component, Method

_ROUNDING = 1e-12
_LEAST_SHARE = 0.1  # judgement: of the smallest mean square; without losses nothing is below 1


def errors_by_strata(
    fit: Fit,
    at_zero: KenwardRoger,
    units: Units,
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
    order = coarse_first(random)
    found = mean_squares(units, order)
    if not found.usable:
        return fit
    errors = strata_errors(found, at_zero, order)
    names = [*(random[i].source for i in order), "residual"]
    rows = zip(names, found.unmix @ found.squares, found.squares, strict=True)
    return replace(
        fit,
        method=Method.REML_STRATA,
        cov=errors.cov,
        df=errors,
        residual_variance=float(found.squares[-1]),
        components=tuple(
            Component(name, float(variance), None, float(square)) for name, variance, square in rows
        ),
        residuals=units.left_over,
        fitted=fit.fitted + fit.residuals - units.left_over,
        leverage=np.sum(swept.space**2, axis=1) + np.sum(units.basis**2, axis=1),
    )


def coarse_first(random: tuple[Grouping, ...]) -> list[int]:
    """The places of the random groupings, those of fewer units first."""
    return sorted(range(len(random)), key=lambda i: random[i].count)


@dataclass(frozen=True, slots=True, eq=False)
class MeanSquares:
    """Mean squares (..., s) of the strata, the plots' last, on ``degrees`` (..., s) of freedom.

    ``unmix`` (..., s, s) makes variances of them. ``usable`` (...,) where every stratum has degrees
    of freedom and units that differ.
    """

    squares: Floats
    degrees: Floats
    unmix: Floats
    usable: NDArray[np.bool_]

    def some(self, places: Codes) -> MeanSquares:
        """Some of a stack."""
        return MeanSquares(
            self.squares[places], self.degrees[places], self.unmix[places], self.usable[places]
        )


def mean_squares(units: Reduced, order: Sequence[int]) -> MeanSquares:
    """The strata of units, in that ``order`` of their groupings; also of a stack."""
    places = [np.flatnonzero(units.member[i]) for i in order]
    columns = [units.root[..., here] for here in places]  # (..., k, q_i)
    left = units.between
    squares, degrees, expected = [], [], []
    before: list[Floats] = []
    for whole in columns:
        own = whole
        for basis in before:
            own = own - basis @ (basis.swapaxes(-1, -2) @ own)
        axes, size, _ = np.linalg.svd(own, full_matrices=False)
        seen = size > 1e-8
        basis = axes * seen[..., None, :]
        part = (left[..., None, :] @ basis)[..., 0, :]
        left = left - (basis @ part[..., None])[..., 0]
        squares.append(np.sum(part**2, axis=-1))
        degrees.append(np.count_nonzero(seen, axis=-1).astype(float))
        expected.append([np.sum((basis.swapaxes(-1, -2) @ e) ** 2, axis=(-1, -2)) for e in columns])
        before.append(basis)
    rank = np.sum(degrees, axis=0)
    sums = np.stack([*squares, units.left_square], axis=-1)
    freedom = np.stack([*degrees, units.free - rank], axis=-1)
    usable = (freedom.min(axis=-1) >= 1) & (sums.min(axis=-1) > _ROUNDING * sums.max(axis=-1))
    safe = np.maximum(freedom, 1.0)
    mix = np.ones((*usable.shape, len(order) + 1, len(order) + 1))
    mix[..., -1, :-1] = 0.0
    mix[..., :-1, :-1] = np.moveaxis(np.array(expected), (0, 1), (-2, -1)) / safe[..., :-1, None]
    mix = np.where(usable[..., None, None], mix, np.eye(len(order) + 1))
    return MeanSquares(sums / safe, freedom, np.linalg.inv(mix), usable)


def strata_errors(found: MeanSquares, at_zero: KenwardRoger, order: Sequence[int]) -> StrataDf:
    """The errors of means by the mean squares of strata, where they are usable."""
    squares = found.squares
    slopes = at_zero.sensitivities[..., [*(i + 1 for i in order), 0], :, :]
    s, c = slopes.shape[-3], slopes.shape[-1]
    flat = found.unmix.swapaxes(-1, -2) @ slopes.reshape(*slopes.shape[:-3], s, c * c)
    shares = flat.reshape(slopes.shape)
    smallest = np.eye(s)[squares.argmin(axis=-1)][..., None, None]  # (..., s, 1, 1)
    plain, least = slopes[..., -1, :, :], squares.min(axis=-1)
    # What all means share are sums of whole blocks: no difference rests on their variance, which
    # is kept from falling below the smallest mean square as in the exact strata.
    overall = _summed(squares, shares).mean(axis=(-1, -2))
    lacks = np.maximum(plain.mean(axis=(-1, -2)) - overall / least, 0.0)
    shares = shares + smallest * lacks[..., None, None, None]
    short = _short(_summed(squares, shares), plain, least) / least[..., None, None]
    shares = shares + smallest * short[..., None, :, :]
    cov = _summed(squares, shares) + at_zero.cov - at_zero.naive_cov
    return StrataDf(
        squares,
        found.degrees,
        shares,
        at_zero.means,
        cov,
        at_zero.estimable_basis,
        found.degrees.min(axis=-1),
    )


def _summed(squares: Floats, shares: Floats) -> Floats:
    return np.asarray(np.sum(squares[..., None, None] * shares, axis=-3))


def _short(cov: Floats, plain: Floats, smallest: Floats) -> Floats:
    """What ``cov`` (c, c) lacks for no means to vary less than ``smallest`` times ``plain``."""
    size, axes = np.linalg.eigh(plain)
    kept = size > 1e-9 * size[..., -1:]
    length = np.sqrt(np.where(kept, size, 1.0))
    root = axes * (kept * length)[..., None, :]
    back = axes * (kept / length)[..., None, :]
    times, directions = np.linalg.eigh(back.swapaxes(-1, -2) @ cov @ back)
    lacking = np.maximum(_LEAST_SHARE * smallest[..., None] - times, 0.0)
    spread = root @ directions
    return np.asarray((spread * lacking[..., None, :]) @ spread.swapaxes(-1, -2))
