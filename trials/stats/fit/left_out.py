"""The joint tests of a model with larger units when each of its plots in turn is left out.

To leave a plot out is to give it an effect of its own: every sum of squares and products loses
what that plot's residual explains of it. So the fixed part and the units are swept once, each plot
is taken out of what is left, and all these trials are fitted as one stack.

Formula: M_i = M - M e_i e_i'M / (e_i'M e_i), M the projector off the fixed part.
Limits: Not where a level or a unit goes with the plot, or where the plots left make an orthogonal
    layout: those few are fitted by themselves.
Source: Cook & Weisberg 1982, Residuals and Influence in Regression, section 2.2.2.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import fdtrc

from trials.errors import NotConverged
from trials.stats.design.design_matrix import Design, design, used
from trials.stats.design.linear_model import LinearModel
from trials.stats.design.table import Codes, Floats
from trials.stats.fit.joint_tests import tested_rows
from trials.stats.fit.kenward_roger import KenwardRoger, kenward_roger
from trials.stats.fit.reml import separable
from trials.stats.fit.residual_likelihood import Reduced, Units, state_at, summit, summits
from trials.stats.fit.strata import StrataDf
from trials.stats.fit.unbalanced_strata import coarse_first, mean_squares, strata_errors

_SPREAD = 1e-7  # of the largest figure: with less left, what is left may be rounding
_OWN = 1e-8  # of a plot: with less left of it, it is the only one of its level or unit


@dataclass(frozen=True, slots=True, eq=False)
class LeftOut:
    """P-values ``p`` (a, t) of t tests without each of the ``plots`` (a,)."""

    plots: Codes
    p: Floats


def fitted_without_each(model: LinearModel, contrasts: Sequence[Floats]) -> LeftOut:
    """Test each of ``contrasts`` (t of (m, c)) without each plot that can be left out of a stack.

    The contrasts can be estimated in the whole model. The figures are those of ``reml`` fitted
    again without the plot.
    """
    random = tuple(map(used, model.random))
    swept = design(model)
    y = model.y - float(model.y.mean())
    units = Units.of(random, swept, y)
    rows = [tested_rows(each, swept.estimable_basis) for each in contrasts]
    stack = _Stack.of(units, swept, y)
    stack = stack.some(stack.fit_for_it(model))
    if not stack.plots.size:
        return LeftOut(stack.plots, np.empty((0, len(rows))))
    try:
        ratios = summits(stack.reduced, summit(units))
    except NotConverged:  # one by one it shows which
        return LeftOut(stack.plots[:0], np.empty((0, len(rows))))
    errors = stack.errors(ratios, units, swept, y)
    p = np.empty((len(ratios), len(rows)))
    floored = np.array([grouping.floored for grouping in random])
    at_zero = np.flatnonzero(((ratios == 0.0) & ~floored).any(axis=1))
    if at_zero.size:
        order = coarse_first(random)
        found = mean_squares(stack.reduced.stacked(at_zero), order)
        at_zero, found = at_zero[found.usable], found.some(np.flatnonzero(found.usable))
        p[at_zero] = _p_values(strata_errors(found, errors.some(at_zero), order), rows)
    others = np.setdiff1d(np.arange(len(ratios)), at_zero)
    p[others] = _p_values(errors.some(others), rows)
    return LeftOut(stack.plots, p)


def _p_values(errors: KenwardRoger | StrataDf, rows: Sequence[Floats]) -> Floats:
    tested = [(len(each), *errors.tested(each)) for each in rows]
    return np.stack([fdtrc(q, den_df, F) for q, F, den_df in tested], axis=-1)


@dataclass(frozen=True, slots=True, eq=False)
class _Stack:
    """The trials without each of ``plots`` (a,); ``own`` (a,) is what the fixed part leaves."""

    plots: Codes
    reduced: Reduced
    own: Floats

    @classmethod
    def of(cls, units: Units, swept: Design, y: Floats) -> _Stack:
        """All plots without which no level and no unit is lost."""
        own = 1.0 - np.sum(swept.space**2, axis=1)
        left = own - np.sum(units.basis**2, axis=1)
        plots = np.flatnonzero((own > _OWN) & (left > _OWN))
        own, left = own[plots], left[plots]
        on = units.basis[plots]  # (a, k)
        # With c = 1 / own the units' part of the plots left is (I - c on on')^(1/2) root.
        size = np.sqrt(left / own)
        shrink = (1.0 / own / (1.0 + size))[:, None]
        root = units.root - (shrink * on)[:, :, None] * (on @ units.root)[:, None, :]
        off = (y - swept.space @ (swept.space.T @ y))[plots]
        between = units.between - (off / own)[:, None] * on
        between += shrink / size[:, None] * on * np.sum(on * between, axis=1)[:, None]
        square = units.left_square - units.left_over[plots] ** 2 / left
        return cls(plots, Reduced(root, between, square, units.free - 1, units.member), own)

    def some(self, which: NDArray[np.bool_]) -> _Stack:
        places = np.flatnonzero(which)
        return _Stack(self.plots[places], self.reduced.stacked(places), self.own[places])

    def fit_for_it(self, model: LinearModel) -> NDArray[np.bool_]:
        """Which of them ``reml`` would fit; it refuses the others, or they are orthogonal."""
        if self.reduced.free - self.reduced.rank < 1:
            return np.zeros(self.plots.size, dtype=bool)
        spread = np.sqrt(np.maximum(self.reduced.left_square, 0.0) / model.y.size)
        varied = spread > _SPREAD * float(np.abs(model.y).max())
        return np.asarray(varied & separable(self.reduced) & ~self._even(model))

    def _even(self, model: LinearModel) -> NDArray[np.bool_]:
        """Where the units left are of one size, so that exact strata may be better."""
        even = np.ones(self.plots.size, dtype=bool)
        for grouping in map(used, model.random):
            sizes = np.bincount(grouping.codes) - np.eye(grouping.count)[grouping.codes[self.plots]]
            even &= np.ptp(sizes, axis=1) == 0
        return even

    def errors(self, ratios: Floats, units: Units, swept: Design, y: Floats) -> KenwardRoger:
        """The means and their errors at each trial's variance ratios (a, m)."""
        state = state_at(self.reduced, ratios)
        space, zone = swept.space[self.plots], units.columns[self.plots]  # (a, r), (a, q)
        on_means = space @ swept.solve.T  # (a, c)
        weight = on_means / self.own[:, None]
        alone = swept.solve @ swept.solve.T + on_means[:, :, None] * weight[:, None, :]
        lost = space @ units.shadow - (1.0 - self.own)[:, None] * zone
        on_units = swept.solve @ units.shadow - on_means[:, :, None] * zone[:, None, :]
        on_units += weight[:, :, None] * lost[:, None, :]
        effects = (ratios @ units.member) * state.pull
        kept = y[self.plots] - np.sum(zone * effects, axis=1)
        coordinates = swept.space.T @ y - effects @ units.shadow.T - kept[:, None] * space
        means = coordinates @ swept.solve.T
        means += weight * np.sum(space * coordinates, axis=1)[:, None]
        return kenward_roger(
            self.reduced, state, ratios, alone, on_units, means, swept.estimable_basis
        )
