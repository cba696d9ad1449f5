"""Variances by residual maximum likelihood, and adjusted means with Kenward and Roger's errors."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from scipy.linalg import solve_triangular

from trials.errors import ComparisonRefused, NotConverged
from trials.stats.design_matrix import (
    Design,
    design,
    indicators,
    refuse_no_error,
    refuse_no_spread,
    used,
)
from trials.stats.kenward_roger import KenwardRoger, adjusted_covariance
from trials.stats.model import Fit, Grouping, LinearModel
from trials.stats.results import Component, Method
from trials.stats.table import Floats

_FIRST_TRIES = (0.03, 0.3, 3.0, 30.0)  # variance ratios from which the search may set out
_MOST_STEPS = 200
_GAIN_LEFT = 1e-14  # log likelihood still to be won; the last step squares the error that is left
_ROUNDING = 1e-12


def reml(model: LinearModel) -> Fit:
    """Fit a model with random groupings by residual maximum likelihood.

    Variances are kept at or above zero: one on the boundary is exactly 0.0 and stays in the
    Kenward-Roger calculation as such. The answer does not depend on where the search starts.
    ``cov`` and ``df`` are Kenward and Roger's. ``residuals`` are y - Xb - Zu with the units'
    predicted effects u (``unit_effects``, one array for each random grouping); ``leverage`` is
    the diagonal of the matrix that turns y into the fitted values, so that a residual's variance
    is (1 - leverage) times the residual variance. ``residual_df`` counts the plots left over when
    the units are swept out as if fixed.

    Refuses (ComparisonRefused) variances that the layout cannot separate, a table without plots
    left over for error or without spread among them; NotConverged, where no stable answer was
    reached. Raises ValueError where ``model.random`` is empty.

    Source: Patterson & Thompson 1971, Biometrika 58:545; Searle, Casella & McCulloch 1992,
    Variance Components, chapter 6.
    """
    if not model.random:
        raise ValueError("REML needs a random grouping: use least squares")
    random = tuple(map(used, model.random))
    swept = design(model)
    centre = float(model.y.mean())
    units = _Units.of(random, swept, model.y - centre)
    _refuse_inseparable(units, random)
    refuse_no_error(units.free - units.rank)
    refuse_no_spread(units.left_over, model.y)
    ratios = _search(units)
    state = _state(units, ratios)

    residual_variance = state.square / units.free
    variances = ratios * residual_variance
    scales = ratios @ units.member
    effects = scales * state.pull
    remainder = model.y - centre - units.columns @ effects
    coordinates = swept.space.T @ remainder
    residuals = remainder - swept.space @ coordinates
    means = swept.solve @ coordinates

    # Mixed-model equations with the units' block C = (S + D^-1)^-1, written so that D may be 0.
    half = np.sqrt(scales)
    count = half.size
    block = half[:, None] * np.linalg.inv(np.eye(count) + half[:, None] * units.gram * half) * half
    on_units = swept.solve @ units.shadow
    naive = residual_variance * (swept.solve @ swept.solve.T + on_units @ block @ on_units.T)
    unit_weights = np.linalg.solve(np.eye(count) + units.gram * scales, on_units.T)
    places = np.cumsum([grouping.count for grouping in random])[:-1]
    components_cov = _components_cov(units, state) * residual_variance**2
    cov, sensitivities = adjusted_covariance(
        naive,
        residual_variance,
        variances,
        tuple(np.split(unit_weights, places)),
        tuple(
            tuple(np.split(row, places, axis=1))
            for row in np.split(state.projector / residual_variance, places)
        ),
        components_cov,
    )
    swept_units = units.columns - swept.space @ units.shadow
    leverage = np.einsum("ij,ij->i", swept.space, swept.space)
    leverage += np.einsum("ij,ij->i", swept_units @ block, swept_units)
    return Fit(
        method=Method.REML,
        means=means + centre,
        cov=cov,
        df=KenwardRoger(means, naive, cov, sensitivities, components_cov, swept.estimable_basis),
        residual_df=float(units.free - units.rank),
        residual_variance=residual_variance,
        components=(
            *(
                Component(grouping.source, float(variance), None)
                for grouping, variance in zip(random, variances, strict=True)
            ),
            Component("residual", residual_variance, None),
        ),
        residuals=residuals,
        fitted=model.y - residuals,
        leverage=leverage,
        estimable_basis=swept.estimable_basis,
        unit_effects=_by_level(model.random, random, np.split(effects, places)),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Units:
    """What REML needs of the plots once the fixed part is swept out, q units in m groupings.

    With M the projector off the fixed part and Z the units' columns, S = Z'MZ = root'root. No
    matrix of plots by plots is formed.
    """

    columns: Floats  # (n, q) Z
    shadow: Floats  # (r, q) Z in the coordinates of the fixed part
    gram: Floats  # (q, q) S
    root: Floats  # (k, q)
    between: Floats  # (k,) y in the same coordinates
    left_over: Floats  # (n,) y with the units swept out as well
    free: int  # n - r
    member: Floats  # (m, q) 1 where a unit is of a grouping

    @property
    def rank(self) -> int:
        return int(self.root.shape[0])

    @classmethod
    def of(cls, random: tuple[Grouping, ...], swept: Design, y: Floats) -> _Units:
        columns = np.hstack([indicators(grouping) for grouping in random])
        shadow = swept.space.T @ columns
        gram = columns.T @ columns - shadow.T @ shadow
        size, axes = np.linalg.eigh(gram)
        kept = size > 1e-9 * max(float(size[-1]), 1.0)
        size, axes = size[kept], axes[:, kept]
        off = y - swept.space @ (swept.space.T @ y)
        totals = axes.T @ (columns.T @ off)
        explained = axes @ (totals / size)
        left_over = off - (columns @ explained - swept.space @ (shadow @ explained))
        return cls(
            columns=columns,
            shadow=shadow,
            gram=gram,
            root=np.sqrt(size)[:, None] * axes.T,
            between=totals / np.sqrt(size),
            left_over=left_over,
            free=y.size - swept.rank,
            member=np.repeat(np.eye(len(random)), [g.count for g in random], axis=1),
        )


@dataclass(frozen=True, slots=True, eq=False)
class _State:
    """The likelihood at given variance ratios, the residual variance at its best for them."""

    log_likelihood: float
    square: float  # y'Py times the residual variance
    pull: Floats  # (q,) Z'Py, scaled alike
    projector: Floats  # (q, q) Z'PZ, scaled alike
    solved: Floats  # (k, q)
    inverse: Floats  # (k, k)


def _log_likelihood(units: _Units, ratios: Floats) -> float:
    lower = _factor(units, ratios)
    part = solve_triangular(lower, units.between, lower=True, check_finite=False)
    square = float(units.left_over @ units.left_over + part @ part)
    return _likelihood(units, lower, square)


def _factor(units: _Units, ratios: Floats) -> Floats:
    scaled = units.root * (ratios @ units.member)
    return np.asarray(np.linalg.cholesky(np.eye(units.rank) + scaled @ units.root.T))


def _likelihood(units: _Units, lower: Floats, square: float) -> float:
    return -0.5 * units.free * float(np.log(square)) - float(np.sum(np.log(np.diagonal(lower))))


def _state(units: _Units, ratios: Floats) -> _State:
    lower = _factor(units, ratios)
    sides = np.column_stack([units.root, units.between, np.eye(units.rank)])
    half = solve_triangular(lower, sides, lower=True, check_finite=False)
    q = units.root.shape[1]
    root, between, whole = half[:, :q], half[:, q], half[:, q + 1 :]
    square = float(units.left_over @ units.left_over + between @ between)
    return _State(
        log_likelihood=_likelihood(units, lower, square),
        square=square,
        pull=root.T @ between,
        projector=root.T @ root,
        solved=whole.T @ root,
        inverse=whole.T @ whole,
    )


def _slopes(units: _Units, state: _State) -> tuple[Floats, Floats, Floats]:
    """Gradient, observed and expected information of the ratios, residual variance profiled out."""
    n = units.free
    square = units.member @ state.pull**2 / state.square
    trace = units.member @ np.diagonal(state.projector)
    double = units.member @ state.projector**2 @ units.member.T
    curve = state.pull[:, None] * state.projector * state.pull
    curve = units.member @ curve @ units.member.T / state.square
    gradient = -0.5 * (trace - n * square)
    observed = n * curve - 0.5 * double - 0.5 * n * np.outer(square, square)
    expected = 0.5 * (double - np.outer(trace, trace) / n)
    return gradient, observed, expected


def _components_cov(units: _Units, state: _State) -> Floats:
    """Inverse expected information (m + 1, m + 1) on the variances, residual first and of 1."""
    information = np.empty((units.member.shape[0] + 1,) * 2)
    information[0, 0] = units.free - units.rank + float(np.sum(state.inverse**2))
    information[0, 1:] = units.member @ np.sum(state.solved**2, axis=0)
    information[1:, 0] = information[0, 1:]
    information[1:, 1:] = units.member @ state.projector**2 @ units.member.T
    return np.asarray(2.0 * np.linalg.inv(information), dtype=np.float64)


def _search(units: _Units) -> Floats:
    """The variance ratios (m,) of the greatest residual likelihood, each at least 0.

    Safeguarded Newton steps from the best of a few first tries. A step that would leave the
    allowed region stops at its edge; a ratio stays at 0 while the likelihood falls away from it.
    """
    ratios = max(_starts(units.member.shape[0]), key=lambda start: _log_likelihood(units, start))
    for _ in range(_MOST_STEPS):
        state = _state(units, ratios)
        gradient, observed, expected = _slopes(units, state)
        step = _step(ratios, gradient, observed, expected)
        if 0.5 * float(gradient @ step) <= _GAIN_LEFT * units.free:
            last = np.where(ratios > 0.0, ratios + step, 0.0)
            return np.maximum(last, 0.0)
        ratios = _advance(units, ratios, step, state.log_likelihood)
    raise NotConverged(
        "The variances of the larger units could not be settled: each step of the search changed "
        "them again. Leave out the classification that was recorded for the fewest plots, or look "
        "for a plot with a mistaken value."
    )


def _starts(m: int) -> list[Floats]:
    if m <= 3:
        return [np.array(start) for start in product(_FIRST_TRIES, repeat=m)]
    return [np.full(m, start) for start in _FIRST_TRIES]


def _step(ratios: Floats, gradient: Floats, observed: Floats, expected: Floats) -> Floats:
    """An ascent step among the ratios that are free to move."""
    free = (ratios > 0.0) | (gradient > 0.0)
    while True:
        step = np.zeros_like(ratios)
        if not free.any():
            return step
        inner = np.ix_(free, free)
        information = observed[inner]
        if np.linalg.eigvalsh(information)[0] <= 1e-3 * np.linalg.eigvalsh(expected[inner])[0]:
            information = expected[inner]
        step[free] = np.linalg.solve(information, gradient[free])
        stuck = free & (ratios == 0.0) & (step < 0.0)
        if not stuck.any():
            return step
        free &= ~stuck


def _advance(units: _Units, ratios: Floats, step: Floats, before: float) -> Floats:
    """The furthest point along ``step`` (up to the edge) that does not lower the likelihood."""
    reach = np.full(ratios.size, np.inf)
    falling = step < 0.0
    reach[falling] = ratios[falling] / -step[falling]
    rising = step > 0.0
    reach[rising] = 10.0 * (ratios[rising] + 0.1) / step[rising]
    length = min(1.0, float(reach.min()))
    edge = falling & (reach <= length)
    for _ in range(60):
        there = np.where(edge, 0.0, np.maximum(ratios + length * step, 0.0))
        if _log_likelihood(units, there) >= before - _ROUNDING * abs(before):
            return there
        length /= 2.0
        edge = np.zeros_like(edge)
    raise NotConverged(
        "The variances of the larger units could not be settled: the search found no way up. "
        "Look for a plot with a mistaken value."
    )


def _refuse_inseparable(units: _Units, random: tuple[Grouping, ...]) -> None:
    """Refuse variances whose effect on the plots the layout cannot tell apart."""
    trace = units.member @ np.diagonal(units.gram)
    for grouping, left in zip(random, trace, strict=True):
        if left <= 1e-8 * units.columns.shape[0]:
            raise ComparisonRefused(
                f"The variation between units of '{grouping.source}' cannot be told apart from "
                "the treatments or the blocks: every such unit is a treatment or a block of its "
                f"own. Leave '{grouping.source}' out of the layout, or compare only what was "
                "repeated inside its units."
            )
    alike = np.empty((len(random) + 1,) * 2)
    alike[0, 0] = units.free
    alike[0, 1:] = alike[1:, 0] = trace
    alike[1:, 1:] = units.member @ units.gram**2 @ units.member.T
    size = np.sqrt(np.diagonal(alike))
    if np.linalg.eigvalsh(alike / np.outer(size, size))[0] < 1e-9:
        names = ", ".join(f"'{grouping.source}'" for grouping in random)
        raise ComparisonRefused(
            f"The variation between units of {names} cannot be told apart from that between plots "
            "or from one another: they group the plots in the same way. Leave one of them out."
        )


def _by_level(
    given: tuple[Grouping, ...], kept: tuple[Grouping, ...], effects: list[Floats]
) -> tuple[Floats, ...]:
    """Effects in the order of the levels as given; 0 for a level that no plot carries."""
    placed: list[Floats] = []
    for grouping, tidy, effect in zip(given, kept, effects, strict=True):
        full = np.zeros(grouping.count)
        full[grouping.codes] = effect[tidy.codes]
        placed.append(full)
    return tuple(placed)
