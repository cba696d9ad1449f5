"""Variances by residual maximum likelihood, and adjusted means with Kenward and Roger's errors.

Formula: y = Xb + Z_1 u_1 + … + e; the variances are those at which -(log|V| + log|X'V^-1 X| + y'Py)
    / 2 is greatest.
Limits: No variance is below zero, and variances that the layout cannot separate are refused.
Source: Patterson & Thompson 1971, Biometrika 58:545; Searle, Casella & McCulloch 1992, Variance
    Components, chapter 6.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from trials.errors import ComparisonRefused
from trials.stats.design.design_matrix import (
    Design,
    design,
    refuse_no_error,
    refuse_no_spread,
    used,
)
from trials.stats.design.linear_model import Fit, Grouping, LinearModel
from trials.stats.design.table import Floats
from trials.stats.fit.kenward_roger import kenward_roger
from trials.stats.fit.residual_likelihood import Reduced, Units, state_at, summit
from trials.stats.fit.unbalanced_strata import errors_by_strata
from trials.stats.results import Component, Method

_SEEN = 1e-8  # less of a grouping's units is rounding


def reml(model: LinearModel) -> Fit:
    """Fit a model with random groupings by residual maximum likelihood.

    Variances are kept at or above zero: one on the boundary is exactly 0.0 and stays in the
    Kenward-Roger calculation as such. The answer does not depend on where the search starts.
    ``cov`` and ``df`` are Kenward and Roger's. ``residuals`` are y - Xb - Zu with the units'
    predicted effects u (``unit_effects``, one array for each random grouping); ``leverage`` is
    the diagonal of the matrix that turns y into the fitted values, so that a residual's variance
    is (1 - leverage) times the residual variance. ``residual_df`` counts the plots left over when
    the units are swept out as if fixed. Where larger units end on the boundary, unless they are
    ``floored``, all but the means comes from ``errors_by_strata``.

    Refuses (ComparisonRefused) variances that the layout cannot separate, a table without plots
    left over for error or without spread among them; NotConverged, where no stable answer was
    reached. Raises ValueError where ``model.random`` is empty.
    """
    if not model.random:
        raise ValueError("REML needs a random grouping: use least squares")
    random = tuple(map(used, model.random))
    swept = design(model)
    centre = float(model.y.mean())
    units = Units.of(random, swept, model.y - centre)
    refuse_no_error(units.free)
    refuse_inseparable(units, random)
    refuse_no_error(units.free - units.rank)
    refuse_no_spread(units.left_over, model.y)
    ratios = summit(units)
    state = state_at(units, ratios)

    residual_variance = float(state.square) / units.free
    scales = ratios @ units.member
    effects = scales * state.pull
    remainder = model.y - centre - units.columns @ effects
    coordinates = swept.space.T @ remainder
    residuals = remainder - swept.space @ coordinates
    means = swept.solve @ coordinates
    errors = kenward_roger(
        units,
        state,
        ratios,
        swept.solve @ swept.solve.T,
        swept.solve @ units.shadow,
        means,
        swept.estimable_basis,
    )
    fit = Fit(
        method=Method.REML,
        means=means + centre,
        cov=errors.cov,
        df=errors,
        residual_df=float(units.free - units.rank),
        residual_variance=residual_variance,
        components=(
            *(
                Component(grouping.source, float(variance), None)
                for grouping, variance in zip(random, ratios * residual_variance, strict=True)
            ),
            Component("residual", residual_variance, None),
        ),
        residuals=residuals,
        fitted=model.y - residuals,
        leverage=_leverage(units, swept, ratios),
        estimable_basis=swept.estimable_basis,
    )
    at_zero = (ratio == 0.0 and not g.floored for ratio, g in zip(ratios, random, strict=True))
    return errors_by_strata(fit, errors, units, random, swept) if any(at_zero) else fit


def _leverage(units: Units, swept: Design, ratios: Floats) -> Floats:
    """The diagonal (n,) of the matrix that turns y into the fitted values."""
    half = np.sqrt(ratios @ units.member)
    block = half[:, None] * np.linalg.inv(np.eye(half.size) + half[:, None] * units.gram * half)
    on_units = units.columns - swept.space @ units.shadow
    weights = on_units @ (block * half)
    return np.asarray(np.sum(swept.space**2, axis=1) + np.sum(weights * on_units, axis=1))


def refuse_inseparable(units: Units, random: tuple[Grouping, ...]) -> None:
    """Refuse variances whose effect on the plots the layout cannot tell apart."""
    alike = _alike(units)
    for grouping, left in zip(random, alike[0, 1:], strict=True):
        if left <= _SEEN * units.free:
            raise ComparisonRefused(
                f"The variation between units of '{grouping.source}' cannot be separated from "
                "the treatments or the blocks: every such unit is a treatment or a block of its "
                f"own. Leave '{grouping.source}' out of the layout, or compare only what was "
                "repeated inside its units."
            )
    if not separable(units):
        names = ", ".join(f"'{grouping.source}'" for grouping in random)
        raise ComparisonRefused(
            f"The variation between units of {names} cannot be separated from that between plots "
            "or from one another: they group the plots in the same way. Leave one of them out."
        )


def separable(units: Reduced) -> NDArray[np.bool_]:
    """Whether the layout can tell the variances apart; also of a stack."""
    alike = _alike(units)
    seen = np.asarray((alike[..., 0, 1:] > _SEEN * units.free).all(axis=-1))
    size = np.sqrt(alike.diagonal(axis1=-2, axis2=-1)) + ~seen[..., None]
    apart = np.linalg.eigvalsh(alike / (size[..., :, None] * size[..., None, :]))[..., 0] >= 1e-9
    return np.asarray(seen & apart)


def _alike(units: Reduced) -> Floats:
    """Products (..., m + 1, m + 1) of what each variance adds to the plots' covariance."""
    gram = units.root.swapaxes(-1, -2) @ units.root
    alike = np.empty((*gram.shape[:-2], *2 * (len(units.member) + 1,)))
    alike[..., 0, 0] = units.free
    alike[..., 0, 1:] = gram.diagonal(axis1=-2, axis2=-1) @ units.member.T
    alike[..., 1:, 0] = alike[..., 0, 1:]
    alike[..., 1:, 1:] = units.member @ gram**2 @ units.member.T
    return alike
