"""Entries as a sample of such entries: shrunken means, their reliability, and a next season.

The entries' effects are random with one variance, like their swings from season to season;
seasons, sites and complete blocks stay fixed. Predictions are the best linear unbiased ones
(Henderson 1975, Biometrics 31:423; Robinson 1991, Statistical Science 6:15) at the variances of
the greatest residual likelihood.

Formula: u = G Z'P y, an entry's effect shrunk towards the mean of the entries.
Limits: The entries count as a sample of such entries with normal effects; with few of them their
    variance is not well known.
Source: Henderson 1975, Biometrics 31:423; Robinson 1991, Statistical Science 6:15.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trials.stats.design.design_matrix import design, refuse_no_error, refuse_no_spread, used
from trials.stats.design.linear_model import Grouping, LinearModel
from trials.stats.design.table import Floats
from trials.stats.fit.reml import refuse_inseparable
from trials.stats.fit.residual_likelihood import (
    State,
    Units,
    inverse_information,
    state_at,
    summit,
)


@dataclass(frozen=True, slots=True, eq=False)
class Predictions:
    """Predicted effects (k,) of a model's first random grouping, the entries.

    ``errors`` (k, k) is the covariance of prediction less truth. ``variances`` (m,) are those of
    the random groupings, ``residual_variance`` the plots'. A lead is an entry's distance from the
    mean of these k. ``slopes`` (k, m + 1): how the error variance of each lead rises with the
    residual variance and then with each of ``variances``, whose own uncertainty is
    ``variances_cov`` (m + 1, m + 1). ``fixed_part`` (n,) is what the fixed groupings say of each
    plot.
    """

    effects: Floats
    errors: Floats
    variances: Floats
    residual_variance: float
    slopes: Floats
    variances_cov: Floats
    fixed_part: Floats

    @property
    def leads(self) -> Floats:
        """Predicted distances (k,) from the mean of the entries."""
        return np.asarray(self.effects - self.effects.mean())

    @property
    def lead_errors(self) -> Floats:
        """Error variances (k,) of the leads."""
        return np.diagonal(_centred(_centred(self.errors.T).T))

    @property
    def reliability(self) -> Floats:
        """1 - mean error variance of an entry's differences / (2 x variance between entries), (k,).

        0 where entries do not vary. The mean over the entries is the reliability of the ranking.

        Source: Henderson 1975, of one difference; Schmidt, Hartung, Bennewitz & Piepho 2019,
        Genetics 212:991, of an entry; Cullis, Smith & Coombes 2006, J. Agric. Biol. Environ. Stat.
        11:381, of the ranking.
        """
        k, variance = self.effects.size, float(self.variances[0])
        if variance == 0.0:
            return np.zeros(k)
        own = np.diagonal(self.errors)
        differences = k * own + own.sum() - 2.0 * self.errors.sum(axis=1)
        return np.asarray(1.0 - differences / (k - 1) / (2.0 * variance))

    def df(self, swings: Floats) -> Floats:
        """Degrees of freedom (k,) of each lead's error variance with new swings added to it.

        ``swings`` (m + 1,) counts how often the residual variance and each of ``variances`` is
        added. Satterthwaite 1946, Biometrics Bulletin 2:110, with the variances' information.
        """
        slopes = self.slopes + swings
        whole = slopes @ np.concatenate([[self.residual_variance], self.variances])
        spread = np.einsum("ij,jk,ik->i", slopes, self.variances_cov, slopes)
        return np.asarray(np.maximum(2.0 * whole**2 / spread, 1.0))


def predictions(model: LinearModel) -> Predictions:
    """Predict the effects of the first of ``model.random``, the entries.

    ``model.cells`` is what stands beside the entries in the fixed part, one cell where they are
    the only treatment.

    Refuses (ComparisonRefused) entries that cannot be told apart from the other groupings, and
    plots without spread; NotConverged, where the variances have no stable end.
    """
    units, random = _units_of(model)
    refuse_no_error(units.free)
    refuse_inseparable(units, random)
    refuse_no_error(units.free - units.rank)
    refuse_no_spread(units.left_over, model.y)
    return predictions_at(model, summit(units))


def predictions_at(
    model: LinearModel, ratios: Floats, residual_variance: float | None = None
) -> Predictions:
    """The predictions at given variance ratios (m,): each grouping's variance over the plots'.

    ``residual_variance`` is the plots' own where it is known, else estimated.
    """
    units, random = _units_of(model)
    state = state_at(units, ratios)
    if residual_variance is None:
        residual_variance = float(state.square) / units.free
    entries = random[0].count
    ratio, variances = float(ratios[0]), ratios * residual_variance
    effects = (ratios @ units.member) * state.pull
    between = state.projector[:entries, :entries]
    errors = residual_variance * (ratio * np.eye(entries) - ratio**2 * between)
    swept = design(model)
    centre = float(model.y.mean())
    remainder = model.y - centre - units.columns @ effects
    return Predictions(
        effects=effects[:entries],
        errors=errors,
        variances=variances,
        residual_variance=residual_variance,
        slopes=_slopes(units, state, ratio, variances, residual_variance, errors),
        variances_cov=inverse_information(units, state) * residual_variance**2,
        fixed_part=centre + swept.space @ (swept.space.T @ remainder),
    )


def _units_of(model: LinearModel) -> tuple[Units, tuple[Grouping, ...]]:
    random = tuple(map(used, model.random))
    return Units.of(random, design(model), model.y - float(model.y.mean())), random


def _slopes(
    units: Units, state: State, ratio: float, variances: Floats, residual: float, errors: Floats
) -> Floats:
    # The predictor is at its best, so that its error variance moves with the variances as if its
    # weights stood still: by the sum of squares of its error's weights on each grouping's units.
    weights = ratio * state.projector[:, : len(errors)]
    weights[: len(errors)] -= np.eye(len(errors))
    by_grouping = (units.member @ _centred(weights) ** 2).T
    own = np.diagonal(_centred(_centred(errors.T).T))
    return np.column_stack([(own - by_grouping @ variances) / residual, by_grouping])


def _centred(columns: Floats) -> Floats:
    """Each column less the mean of all columns: what is said of the entries, said of leads."""
    return np.asarray(columns - columns.mean(axis=1, keepdims=True))
