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
from trials.stats.design.table import Floats
from trials.stats.fit.joint_tests import f_test, quadratic_forms, tested_rows, wald

_NO_MEAN = 1e-2  # within this of 2 denominator df the F has no mean to match


@dataclass(frozen=True, slots=True, eq=False)
class KenwardRoger:
    """Degrees of freedom and scaled F tests after REML.

    ``means`` (c,); ``naive_cov`` (c, c) as if the variances were known (Phi); ``cov`` (c, c) the
    adjusted one; ``sensitivities`` (m, c, c) the derivatives of the naive covariance by each
    component, the residual's first; ``components_cov`` (m, m) the inverse of the expected
    information on the components (W).
    """

    means: Floats
    naive_cov: Floats
    cov: Floats
    sensitivities: Floats
    components_cov: Floats
    estimable_basis: Floats

    def of_contrasts(self, contrasts: Floats) -> Floats:
        """Degrees of freedom (m,) of each row of ``contrasts`` (m, c).

        For one contrast the scale is exactly 1 and the paper's formulas come down to
        2 (l'Phi l)^2 / var(l'Phi l), which stays right where they are 0/0 (2 df).
        """
        slopes = np.array([quadratic_forms(contrasts, each) for each in self.sensitivities])
        noise = np.einsum("im,ij,jm->m", slopes, self.components_cov, slopes)
        return np.asarray(2.0 * quadratic_forms(contrasts, self.naive_cov) ** 2 / noise)

    def joint(self, contrasts: Floats) -> JointTest:
        """The scaled F test of the estimable part of ``contrasts`` (m, c); rows may be redundant.

        The denominator df are found so that the scaled statistic has the first two moments of
        an F; they reproduce exact F tests (paper, section 4 and appendix).
        """
        rows = tested_rows(contrasts, self.estimable_basis)
        F = wald(rows, self.means, self.cov)
        q = rows.shape[0]
        if q == 1:
            return f_test(F, 1, float(self.of_contrasts(rows)[0]))
        scale, den_df = self._moments(rows)
        return f_test(scale * F, q, den_df)

    def _moments(self, rows: Floats) -> tuple[float, float]:
        """The scale of the F statistic and its denominator df."""
        q = rows.shape[0]
        root = np.linalg.inv(np.linalg.cholesky(rows @ self.naive_cov @ rows.T)) @ rows
        spread = root @ self.sensitivities @ root.T  # (m, q, q), unit covariance
        traces = np.trace(spread, axis1=1, axis2=2)
        a1 = float(traces @ self.components_cov @ traces)
        a2 = float(np.einsum("ij,iab,jba->", self.components_cov, spread, spread, optimize=True))
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
        ratio = 1.0 if abs(lead) < tiny and abs(v1) < tiny else lead / v1
        den_df = 4.0 + (q + 2.0) * v2 / (ratio**2 * v0 - v2)
        if abs(den_df - 2.0) < _NO_MEAN:
            return 1.0, den_df
        scale = den_df * lead / (den_df - 2.0)
        if den_df > 0.0 and scale > 0.0:
            return scale, den_df
        # Too few units for any moments to match: the df that exact tests have with these traces.
        return 1.0, 2.0 * q / a2


def adjusted_covariance(
    naive_cov: Floats,
    residual_variance: float,
    variances: Floats,
    unit_weights: tuple[Floats, ...],
    unit_projector: tuple[tuple[Floats, ...], ...],
    components_cov: Floats,
) -> tuple[Floats, Floats]:
    """The adjusted covariance (c, c) and its sensitivities (m + 1, c, c), the residual's first.

    ``unit_weights[i]`` (q_i, c) is Z_i'G, the weight of each random unit in each mean;
    ``unit_projector[i][j]`` (q_i, q_j) is Z_i'PZ_j; ``variances`` (m,) are the random components.
    """
    m = len(unit_weights)
    c = naive_cov.shape[0]
    slopes = np.empty((m + 1, c, c))
    bends = np.zeros((m + 1, m + 1, c, c))
    for i, left in enumerate(unit_weights):
        slopes[i + 1] = left.T @ left
        for j, right in enumerate(unit_weights):
            bends[i + 1, j + 1] = left.T @ unit_projector[i][j] @ right
    # The residual's derivative is the identity, (V - sum of variances V_i) / residual variance,
    # and P V G = 0.
    slopes[0] = (naive_cov - np.tensordot(variances, slopes[1:], axes=1)) / residual_variance
    bends[0, 1:] = -np.tensordot(variances, bends[1:, 1:], axes=1) / residual_variance
    bends[1:, 0] = np.swapaxes(bends[0, 1:], 1, 2)
    bends[0, 0] = -np.tensordot(variances, bends[1:, 0], axes=1) / residual_variance
    excess = np.tensordot(components_cov, bends, axes=2)
    cov = naive_cov + excess + excess.T
    return cov, slopes
