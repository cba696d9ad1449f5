"""The exact analysis by error strata of layouts that are orthogonal: split plots, strips.

Formula: F = mean square of the treatments in a stratum / mean square left over in that stratum.
Limits: Orthogonal layouts only: one lost plot, or a covariate, and REML is used instead.
Source: Nelder 1965, Proc. R. Soc. A 283:147 and 163; Bailey 2008, Design of Comparative
    Experiments, chapters 7, 8 and 10.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trials.stats.design.design_matrix import (
    Design,
    design,
    finest,
    indicators,
    refuse_no_error,
    refuse_no_spread,
    used,
)
from trials.stats.design.linear_model import Fit, Grouping, JointTest, LinearModel
from trials.stats.design.table import Floats
from trials.stats.fit.joint_tests import f_test, quadratic_forms, tested_rows, wald
from trials.stats.results import Component, Method

_TOLERANCE = 1e-8


@dataclass(frozen=True, slots=True, eq=False)
class StrataDf:
    """Degrees of freedom where each contrast draws on the errors of one or several strata.

    ``shares`` (s, c, c): the covariance of the means is the sum of the strata's mean squares
    (s,) times their shares. Within one stratum all is exact; across strata degrees of freedom are
    Satterthwaite's (1946, Biometrics Bulletin 2:110) and joint tests Fai and Cornelius' (1996,
    J. Statist. Comput. Simul. 54:363). Each contrast has ``least`` degrees of freedom or more. All
    may have further axes in front, for a stack of fits.
    """

    mean_squares: Floats
    stratum_df: Floats
    shares: Floats
    means: Floats
    cov: Floats
    estimable_basis: Floats
    least: float | Floats = 0.0

    def of_contrasts(self, contrasts: Floats) -> Floats:
        """Degrees of freedom (..., m) of each row of ``contrasts`` (..., m, c)."""
        share = quadratic_forms(contrasts[..., None, :, :], self.shares)  # (..., s, m)
        # Rounding must not lend a contrast of one stratum the errors of another.
        size = np.abs(share)
        share = np.where(size <= _TOLERANCE * size.max(axis=-2, keepdims=True), 0.0, share)
        parts = share * self.mean_squares[..., None]
        spread = np.sum(parts**2 / self.stratum_df[..., None], axis=-2)
        found = np.sum(parts, axis=-2) ** 2 / spread
        return np.asarray(np.maximum(found, np.asarray(self.least)[..., None]))

    def joint(self, contrasts: Floats) -> JointTest:
        """The F test of the estimable part of ``contrasts`` (m, c); rows may be redundant."""
        rows = tested_rows(contrasts, self.estimable_basis)
        F, den_df = self.tested(rows)
        return f_test(float(F), rows.shape[0], float(den_df))

    def tested(self, rows: Floats) -> tuple[Floats, Floats]:
        """The F (...,) of independent ``rows`` (q, c), and its denominator df (...,)."""
        within = rows @ self.shares @ rows.T
        sizes = np.abs(within.trace(axis1=-2, axis2=-1))  # (..., s)
        inside = sizes > _TOLERANCE * sizes.max(axis=-1, keepdims=True)
        one = np.count_nonzero(inside, axis=-1) == 1
        own = np.sum(np.where(inside, self.stratum_df, 0.0), axis=-1)
        den_df = own if one.all() else np.where(one, own, self._shared_df(rows))
        return wald(rows, self.means, self.cov), np.asarray(den_df)

    def _shared_df(self, rows: Floats) -> Floats:
        # The Wald statistic is a sum of squared t's along the principal axes of the contrasts;
        # the denominator is the one whose F has the same mean (Fai & Cornelius, eq. 3 to 5).
        _, axes = np.linalg.eigh(rows @ self.cov @ rows.T)
        each = self.of_contrasts(axes.swapaxes(-1, -2) @ rows)
        least, most, count = each.min(axis=-1), each.max(axis=-1), each.shape[-1]
        heavy = each > 2.0
        expected = np.sum(np.where(heavy, each / np.where(heavy, each - 2.0, 1.0), 0.0), axis=-1)
        none = ~heavy.all(axis=-1) | (expected <= count)
        shared = 2.0 * expected / np.where(none, 1.0, expected - count)
        alike = most - least <= _TOLERANCE * most
        return np.asarray(np.where(alike, each[..., 0], np.where(none, least, shared)))


@dataclass(frozen=True, slots=True, eq=False)
class _Structure:
    """The strata of a layout: orthonormal bases, the fixed one first, then each random one's."""

    random: tuple[Grouping, ...]  # coarse before fine
    fixed_basis: Floats
    bases: tuple[Floats, ...]

    def units(self, k: int) -> Floats:
        """Unit vectors (n, count) of the k-th random grouping's units."""
        columns = indicators(self.random[k])
        return np.asarray(columns / np.sqrt(columns.sum(axis=0)))

    def contained(self) -> Floats | None:
        """Which stratum (rows) lies inside which grouping (columns), 0 or 1; None where split."""
        inside = np.zeros((len(self.bases), len(self.random)))
        for j in range(len(self.random)):
            units = self.units(j)
            parts = [basis.T @ units for basis in (self.fixed_basis, *self.bases)]
            for k, part in enumerate(parts):
                others = parts[:k]
                if any(_large(other @ part.T) for other in others):
                    return None
                if k == 0:
                    continue
                gram = part @ part.T
                whole = not _large(gram - np.eye(gram.shape[0]))
                if not whole and _large(gram):
                    return None
                inside[k - 1, j] = whole
        return inside


def strata(model: LinearModel) -> Fit:
    """Fit an orthogonal layout by the exact analysis of variance, one error to each stratum.

    The strata are the fixed groupings, then each random grouping (coarse before fine) without
    what came before, then the plots. A stratum's variance may come out negative and is kept so.
    A single mean's error leaves out what the fixed groupings share, as they are fixed; where its
    estimate falls below the smallest mean square, the smallest mean square is used.

    ``residuals`` are those of the plots' stratum, with ``leverage`` to match: the larger units
    are swept out as if fixed.

    Refuses (ComparisonRefused) a stratum without degrees of freedom for error. To compare inside
    units that are not replicated themselves, give those units as fixed. Raises ValueError
    where the layout is not orthogonal: ask ``is_orthogonal`` first.
    """
    swept = design(model)
    structure = _structure(model)
    inside = _orthogonal(structure, swept) if _even(model) else None
    if inside is None:
        raise ValueError("the layout is not orthogonal: its strata cannot be separated exactly")
    centre = float(model.y.mean())
    y = model.y - centre
    coordinates = swept.space.T @ y
    residuals = y - swept.space @ coordinates
    plots = model.y.size - swept.rank
    squares: list[float] = []
    degrees: list[int] = []
    leverage = np.einsum("ij,ij->i", swept.space, swept.space)
    for grouping, basis in zip(structure.random, structure.bases, strict=True):
        errors = basis.T @ residuals
        free = basis - swept.space @ (swept.space.T @ basis)
        squares.append(float(errors @ errors))
        degrees.append(round(float(np.sum(free**2))))
        refuse_no_error(degrees[-1], _plural(grouping.source))
        refuse_no_spread(basis @ errors, model.y)
        residuals = residuals - basis @ errors
        leverage = leverage + np.einsum("ij,ij->i", free, free)
        plots -= degrees[-1]
    refuse_no_error(plots)
    refuse_no_spread(residuals, model.y)
    squares.append(float(residuals @ residuals))
    degrees.append(plots)
    stratum_df = np.array(degrees, dtype=float)
    mean_squares = np.array(squares) / stratum_df

    unmix = _unmix(structure, inside)
    shares = _shares(structure, unmix, swept.weights, mean_squares)
    cov = np.tensordot(mean_squares, shares, axes=1)
    means = swept.solve @ coordinates
    names = [*(grouping.source for grouping in structure.random), "residual"]
    components = tuple(
        Component(name, float(row @ mean_squares), float(df), float(square))
        for name, row, df, square in zip(names, unmix, stratum_df, mean_squares, strict=True)
    )
    return Fit(
        method=Method.STRATA,
        means=means + centre,
        cov=cov,
        df=StrataDf(mean_squares, stratum_df, shares, means, cov, swept.estimable_basis),
        residual_df=float(plots),
        residual_variance=float(mean_squares[-1]),
        components=components,
        residuals=residuals,
        fitted=model.y - residuals,
        leverage=leverage,
        estimable_basis=swept.estimable_basis,
    )


def is_orthogonal(model: LinearModel) -> bool:
    """Whether ``strata`` is exact for this layout, so that least squares is also best.

    It is where each random grouping's units are of one size, the strata fit inside one another
    or cross completely, and every treatment contrast keeps to its strata. A missing plot or a
    covariate breaks it.
    """
    return _even(model) and _orthogonal(_structure(model), design(model)) is not None


def _even(model: LinearModel) -> bool:
    """Whether each random grouping's units hold equally many plots."""
    sizes = [np.bincount(used(grouping).codes) for grouping in model.random]
    return all(np.ptp(size) == 0 for size in sizes)


def _structure(model: LinearModel) -> _Structure:
    n = model.y.size
    columns = [np.ones((n, 1)), *(indicators(grouping) for grouping in finest(model.fixed))]
    fixed_basis = _orthonormal(np.hstack(columns))
    random = tuple(sorted(map(used, model.random), key=lambda grouping: grouping.count))
    before = fixed_basis
    bases: list[Floats] = []
    for grouping in random:
        units = indicators(grouping)
        basis = _orthonormal(units - before @ (before.T @ units))
        bases.append(basis)
        before = np.hstack([before, basis])
    return _Structure(random, fixed_basis, tuple(bases))


def _orthonormal(columns: Floats) -> Floats:
    left, singular, _ = np.linalg.svd(columns, full_matrices=False)
    return left[:, singular > _TOLERANCE]  # columns are sums of indicators: either 0 or about 1


def _orthogonal(structure: _Structure, swept: Design) -> Floats | None:
    """``_Structure.contained`` where the strata analysis is exact, else None."""
    for basis in structure.bases:
        if basis.shape[1] == 0:
            return None
        shadow = swept.space.T @ basis
        gram = shadow @ shadow.T
        if _large(gram @ gram - gram):
            return None
    return structure.contained()


def _large(matrix: Floats) -> bool:
    return bool(matrix.size) and float(np.abs(matrix).max()) > _TOLERANCE


def _unmix(structure: _Structure, inside: Floats) -> Floats:
    """Rows turning the strata's mean squares into variance components, the residual's last."""
    sizes = [grouping.codes.size / grouping.count for grouping in structure.random]
    expected = np.ones((len(sizes) + 1, len(sizes) + 1))
    expected[:-1, :-1] = inside * np.array(sizes)
    expected[-1, :-1] = 0.0
    return np.asarray(np.linalg.inv(expected), dtype=np.float64)


def _shares(structure: _Structure, unmix: Floats, weights: Floats, mean_squares: Floats) -> Floats:
    """Shares (s, c, c) of the strata in the covariance of means with ``weights`` (n, c)."""
    fixed_part = structure.fixed_basis @ (structure.fixed_basis.T @ weights)
    free_part = weights - fixed_part
    shares: list[Floats] = []
    for basis in structure.bases:
        part = basis.T @ free_part
        shares.append(part.T @ part)
        free_part = free_part - basis @ part
    shares.append(free_part.T @ free_part)
    between = [
        totals.T @ totals
        for totals in (indicators(grouping).T @ fixed_part for grouping in structure.random)
    ]
    between.append(fixed_part.T @ fixed_part)
    extra = np.tensordot(unmix.T, np.array(between), axes=1)
    estimate = np.diagonal(np.tensordot(mean_squares, extra, axes=1))
    smallest = int(np.argmin(mean_squares))
    if np.any(estimate < mean_squares[smallest] * np.diagonal(between[-1]) * (1 - _TOLERANCE)):
        extra = np.zeros_like(extra)
        extra[smallest] = between[-1]
    return np.array(shares) + extra


def _plural(source: str) -> str:
    return source if source.endswith("s") else f"{source}s"
