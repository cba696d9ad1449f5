"""Kenward and Roger's covariance of adjusted means and their degrees of freedom.

Kenward & Roger 1997, Biometrics 53:983-997, for variances that are linear in their components
(the term in second derivatives is then nothing). With G (n, c) the generalised least-squares
weights of the c adjusted means and V_i the derivative of the plots' covariance by the i-th
component, the paper's quantities come down to c by c matrices: Phi P_i Phi = -G'V_iG and
Phi (Q_ij - P_i Phi P_j) Phi = G'V_i P V_j G, P being the residual projector.

Formula: adjusted covariance = Phi + 2 Phi (sum over i, j of W_ij (Q_ij - P_i Phi P_j)) Phi, W the
    covariance of the variances.
Limits: An approximation: with very few larger units the error rates are near alpha, not at it.
Source: Kenward & Roger 1997, Biometrics 53:983.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trials.stats.design.linear_model import JointTest
from trials.stats.design.table import Codes, Floats
from trials.stats.fit.joint_tests import f_test, quadratic_forms, tested_rows, wald
from trials.stats.fit.residual_likelihood import Reduced, State, inverse_information

_NO_MEAN = 1e-2  # within this of 2 denominator df the F has no mean to match


@dataclass(frozen=True, slots=True, eq=False)
class KenwardRoger:
    """Degrees of freedom and scaled F tests after REML.

    ``means`` (c,); ``naive_cov`` (c, c) as if the variances were known (Phi); ``cov`` (c, c) the
    adjusted one; ``sensitivities`` (m, c, c) the derivatives of the naive covariance by each
    component, the residual's first; ``components_cov`` (m, m) the inverse of the expected
    information on the components (W). All may have further axes in front, for a stack of fits.
    """

    means: Floats
    naive_cov: Floats
    cov: Floats
    sensitivities: Floats
    components_cov: Floats
    estimable_basis: Floats

    def of_contrasts(self, contrasts: Floats) -> Floats:
        """Degrees of freedom (..., m) of each row of ``contrasts`` (m, c).

        For one contrast the scale is exactly 1 and the paper's formulas come down to
        2 (l'Phi l)^2 / var(l'Phi l), which stays right where they are 0/0 (2 df).
        """
        slopes = quadratic_forms(contrasts, self.sensitivities)
        noise = np.sum(slopes * (self.components_cov @ slopes), axis=-2)
        return np.asarray(2.0 * quadratic_forms(contrasts, self.naive_cov) ** 2 / noise)

    def joint(self, contrasts: Floats) -> JointTest:
        """The scaled F test of the estimable part of ``contrasts`` (m, c); rows may be redundant.

        The denominator df are found so that the scaled statistic has the first two moments of
        an F; they reproduce exact F tests (paper, section 4 and appendix).
        """
        rows = tested_rows(contrasts, self.estimable_basis)
        F, den_df = self.tested(rows)
        return f_test(float(F), rows.shape[0], float(den_df))

    def tested(self, rows: Floats) -> tuple[Floats, Floats]:
        """The scaled F (...,) of independent ``rows`` (q, c), and its denominator df (...,)."""
        F = wald(rows, self.means, self.cov)
        if len(rows) == 1:
            return F, self.of_contrasts(rows)[..., 0]
        scale, den_df = self._moments(rows)
        return scale * F, den_df

    def some(self, places: Codes) -> KenwardRoger:
        """Some of a stack of fits."""
        return KenwardRoger(
            self.means[places],
            self.naive_cov[places],
            self.cov[places],
            self.sensitivities[places],
            self.components_cov[places],
            self.estimable_basis,
        )

    def _moments(self, rows: Floats) -> tuple[Floats, Floats]:
        """The scale of the F statistic and its denominator df."""
        q = rows.shape[0]
        root = np.linalg.inv(np.linalg.cholesky(rows @ self.naive_cov @ rows.T)) @ rows
        root = root[..., None, :, :]
        spread = (
            root @ self.sensitivities @ root.swapaxes(-1, -2)
        )  # (..., m, q, q), unit covariance
        traces = spread.trace(axis1=-2, axis2=-1)
        flat = spread.reshape(*spread.shape[:-2], q * q)
        a1 = np.sum(self.components_cov * _outer(traces), axis=(-1, -2))
        a2 = np.sum(self.components_cov * (flat @ flat.swapaxes(-1, -2)), axis=(-1, -2))
        b = (a1 + 6.0 * a2) / (2.0 * q)
        g = ((q + 1.0) * a1 - (q + 4.0) * a2) / ((q + 2.0) * a2)
        below = 3.0 * q + 2.0 * (1.0 - g)
        v0 = 1.0 + g / below * b
        v1 = 1.0 - (q - g) / below * b
        v2 = 1.0 - (q + 2.0 - g) / below * b
        lead = 1.0 - a2 / q
        # q * rho of the paper is ratio^2 v0 / v2. Kept over the common v2 nothing divides by zero
        # at 4 df; the ratio is 1 in exact tests, at 2 df too, where it would be 0/0.
        tiny = 1e-10
        exact = (np.abs(lead) < tiny) & (np.abs(v1) < tiny)
        ratio = np.where(exact, 1.0, lead / np.where(exact, 1.0, v1))
        den_df = 4.0 + (q + 2.0) * v2 / (ratio**2 * v0 - v2)
        no_mean = np.abs(den_df - 2.0) < _NO_MEAN
        scale = np.where(no_mean, 1.0, den_df * lead / np.where(no_mean, 1.0, den_df - 2.0))
        # Too few units for any moments to match: the df that exact tests have with these traces.
        none = ~no_mean & ~((den_df > 0.0) & (scale > 0.0))
        return np.where(none, 1.0, scale), np.where(none, 2.0 * q / a2, den_df)


def _outer(rows: Floats) -> Floats:
    return np.asarray(rows[..., :, None] * rows[..., None, :])


def kenward_roger(
    units: Reduced,
    state: State,
    ratios: Floats,
    own: Floats,
    on_units: Floats,
    means: Floats,
    estimable_basis: Floats,
) -> KenwardRoger:
    """The errors of adjusted ``means`` (..., c) at the summit ``ratios`` (..., m).

    ``own`` (..., c, c) is their covariance without units and with plots of variance 1;
    ``on_units`` (..., c, q) the sum of their weights there on each unit.
    """
    residual = state.square / units.free
    variances = ratios * residual[..., None]
    scales = ratios @ units.member
    half = np.sqrt(scales)
    gram = units.root.swapaxes(-1, -2) @ units.root
    one = np.eye(gram.shape[-1])
    # Mixed-model equations with the units' block (S + D^-1)^-1, written so that D may be 0.
    block = _outer(half) * np.linalg.inv(one + _outer(half) * gram)
    weighing = on_units.swapaxes(-1, -2)
    naive = residual[..., None, None] * (own + on_units @ block @ weighing)
    unit_weights = np.asarray(np.linalg.solve(one + gram * scales[..., None, :], weighing))
    components_cov = inverse_information(units, state) * residual[..., None, None] ** 2
    projector = state.projector / residual[..., None, None]
    cov, sensitivities = _adjusted(
        naive, residual, variances, unit_weights, projector, units.member, components_cov
    )
    return KenwardRoger(means, naive, cov, sensitivities, components_cov, estimable_basis)


def _adjusted(
    naive_cov: Floats,
    residual_variance: Floats,
    variances: Floats,
    unit_weights: Floats,
    unit_projector: Floats,
    member: Floats,
    components_cov: Floats,
) -> tuple[Floats, Floats]:
    """The adjusted covariance (c, c) and its sensitivities (m + 1, c, c), the residual's first.

    ``unit_weights`` (q, c) is Z'G, the weight of each random unit in each mean;
    ``unit_projector`` (q, q) is Z'PZ; ``variances`` (m,) are the random components.
    """
    places = [np.flatnonzero(row) for row in member]
    m, c = len(places), naive_cov.shape[-1]
    stack = naive_cov.shape[:-2]
    slopes = np.empty((*stack, m + 1, c, c))
    bends = np.zeros((*stack, m + 1, m + 1, c, c))
    for i, here in enumerate(places):
        left = unit_weights[..., here, :].swapaxes(-1, -2)
        slopes[..., i + 1, :, :] = left @ left.swapaxes(-1, -2)
        for j, there in enumerate(places):
            between = unit_projector[..., here, :][..., there]
            bends[..., i + 1, j + 1, :, :] = left @ between @ unit_weights[..., there, :]
    # The residual's derivative is the identity, (V - sum of variances V_i) / residual variance,
    # and P V G = 0.
    over = residual_variance[..., None, None]
    each = variances[..., :, None, None]
    slopes[..., 0, :, :] = (naive_cov - np.sum(each * slopes[..., 1:, :, :], axis=-3)) / over
    weighed = -np.sum(each[..., None, :, :] * bends[..., 1:, 1:, :, :], axis=-4)
    bends[..., 0, 1:, :, :] = weighed / over[..., None]
    bends[..., 1:, 0, :, :] = bends[..., 0, 1:, :, :].swapaxes(-1, -2)
    bends[..., 0, 0, :, :] = -np.sum(each * bends[..., 1:, 0, :, :], axis=-3) / over
    excess = np.sum(components_cov[..., None, None] * bends, axis=(-4, -3))
    return naive_cov + excess + excess.swapaxes(-1, -2), slopes
