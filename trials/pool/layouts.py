"""A layout that many trials share, factored once: what does not depend on the figures.

Two trials have one layout where their plots, put in the order of their labels, carry the same
codes: same treatments in the same blocks, same plots lost. Names, and where a plot lay within its
block, do not matter.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from trials.errors import TallybedError
from trials.stats.design.design_matrix import design
from trials.stats.design.plots import plots_of
from trials.stats.design.structure import Structure, structure_of
from trials.stats.design.table import Codes, Floats, Labels, PlotTable
from trials.stats.design.terms import Term
from trials.stats.distributions.multivariate_t import FactorCorrelation
from trials.stats.families.best import one_sided_points
from trials.stats.families.differences import errors
from trials.stats.families.pairings import Group, groups_of, whole_group
from trials.stats.families.pairs import Held, largest_difference
from trials.stats.families.reference import correlation_with, critical_values
from trials.stats.fit.joint_tests import tested_rows
from trials.stats.fit.least_squares import least_squares

_PLACES = (
    "block",
    "row",
    "column",
    "incomplete_block",
    "whole_plot_unit",
    "split_plot_unit",
)
_MOST_KEPT = 4096  # layouts; one of 48 plots takes some 40 kB


@dataclass(frozen=True, slots=True, eq=False)
class Ordered:
    """A table's layout as ``key``, and its rows in the order of the key; ``recorded`` (n,) then."""

    key: tuple[object, ...]
    order: Codes
    recorded: np.ndarray[tuple[int], np.dtype[np.bool_]]

    @classmethod
    def of(cls, table: PlotTable) -> Ordered:
        """The layout of a table with one row a plot."""
        recorded = np.isfinite(table.y)
        places = [(name, getattr(table, name)) for name in _PLACES]
        there = [(name, labels) for name, labels in places if labels is not None]
        labels = [
            *(treatment.labels for treatment in table.treatments),
            *(each for _, each in there),
        ]
        columns = np.stack([*(each.codes for each in labels), recorded]).astype(np.int16)
        if [name for name, _ in there] == ["block"]:
            columns[-2] = _blocks_by_contents(columns)
        order = np.lexsort(columns[::-1])
        key = (
            tuple(
                (each.name, each.applied_to, len(each.labels.levels)) for each in table.treatments
            ),
            tuple((name, len(each.levels)) for name, each in there),
            columns[:, order].tobytes(),
        )
        return cls(key, order, recorded[order])


def _blocks_by_contents(columns: NDArray[np.int16]) -> NDArray[np.int16]:
    """The blocks renumbered by what grew in them, so that it does not matter which lost a plot.

    The last two rows of ``columns`` (c, n) are the blocks and what was recorded.
    """
    block = columns[-2]
    inside = np.lexsort((*columns[:-2], columns[-1], block))
    contents = np.delete(columns, -2, axis=0)[:, inside]
    ends = np.cumsum(np.bincount(block))[:-1]
    told = [part.tobytes() for part in np.split(contents, ends, axis=1)]
    number = np.empty(len(told), dtype=np.int16)
    number[sorted(range(len(told)), key=told.__getitem__)] = np.arange(len(told))
    return np.asarray(number[block])


@dataclass(frozen=True, eq=False)
class FactoredGroup:
    """One family of entries: the covariance of their means in units of the plots' variance.

    Differences are those of ``first`` less ``second`` (p,); ``error`` (k, k) and ``se`` (p,) are
    in units of the plots' standard deviation.
    """

    group: Group
    weights: Floats
    cov: Floats
    residual_df: int

    @cached_property
    def first(self) -> Codes:
        return np.triu_indices(len(self.cov), k=1)[0]

    @cached_property
    def second(self) -> Codes:
        return np.triu_indices(len(self.cov), k=1)[1]

    @cached_property
    def se(self) -> Floats:
        return errors(self.cov, self.first, self.second)

    @cached_property
    def _laws(self) -> dict[float, Held]:
        return {}

    @cached_property
    def _checks(self) -> dict[tuple[int, float], tuple[FactorCorrelation, float]]:
        return {}

    @cached_property
    def _points(self) -> dict[tuple[bytes, float], Floats]:
        return {}

    def law(self, alpha: float) -> Held:
        """The distribution of the largest difference."""
        if alpha not in self._laws:
            self._laws[alpha] = largest_difference(self.cov, alpha)
        return self._laws[alpha]

    def with_check(self, check: int, alpha: float) -> tuple[FactorCorrelation, float]:
        """The correlation of the differences from a check, and their critical value."""
        if (check, alpha) not in self._checks:
            others = np.delete(np.arange(len(self.cov)), check)
            correlation = correlation_with(self.cov, check, others)
            df = np.full(len(others), float(self.residual_df))
            points = critical_values(alpha, correlation, df, True)
            self._checks[check, alpha] = correlation, float(points[0])
        return self._checks[check, alpha]

    def best_points(self, running: Codes, alpha: float) -> Floats:
        """One-sided critical values (r, r) among the entries in the running."""
        key = (running.tobytes(), alpha)
        if key not in self._points:
            freedom = np.full((len(running),) * 2, float(self.residual_df))
            np.fill_diagonal(freedom, 0.0)
            cov = self.cov[np.ix_(running, running)]
            self._points[key] = one_sided_points(cov, freedom, alpha)
        return self._points[key]


@dataclass(frozen=True, slots=True, eq=False)
class FactoredTest:
    """The joint test of a term: independent rows (q, c) and the inverse of their covariance."""

    term: str
    rows: Floats
    inverse: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Factored:
    """A layout with one error for all plots, ready for any number of measures."""

    structure: Structure
    space: Floats
    solve: Floats
    residual_df: int
    groups: tuple[FactoredGroup, ...]
    whole: tuple[FactoredGroup, ...]
    tests: tuple[FactoredTest, ...]

    @property
    def terms(self) -> tuple[Term, ...]:
        return self.structure.terms


class Layouts:
    """The layouts met so far, the one used longest ago forgotten first."""

    def __init__(self) -> None:
        self.known: OrderedDict[tuple[object, ...], Factored | None] = OrderedDict()

    def factored(self, ordered: Ordered, table: PlotTable) -> Factored | None:
        """The layout of a table; None where each trial has to be compared by itself."""
        if ordered.key in self.known:
            self.known.move_to_end(ordered.key)
            return self.known[ordered.key]
        found = _factored(in_order(table, ordered))
        self.known[ordered.key] = found
        if len(self.known) > _MOST_KEPT:
            self.known.popitem(last=False)
        return found


def in_order(table: PlotTable, ordered: Ordered) -> PlotTable:
    """The table with its rows in the order of its key."""
    order = ordered.order

    def moved(labels: Labels | None) -> Labels | None:
        return None if labels is None else replace(labels, codes=labels.codes[order])

    return replace(
        table,
        y=table.y[order],
        treatments=tuple(
            replace(each, labels=replace(each.labels, codes=each.labels.codes[order]))
            for each in table.treatments
        ),
        plot_names=tuple(table.plot_names[row] for row in order),
        plot=moved(table.plot),
        plants=None if table.plants is None else table.plants[order],
        block=moved(table.block),
        row=moved(table.row),
        column=moved(table.column),
        incomplete_block=moved(table.incomplete_block),
        whole_plot_unit=moved(table.whole_plot_unit),
        split_plot_unit=moved(table.split_plot_unit),
    )


def _factored(table: PlotTable) -> Factored | None:
    """The layout, where one error serves every comparison and every combination was recorded."""
    probe = replace(table, y=np.where(np.isfinite(table.y), _uneven(table.y.size), np.nan))
    try:
        structure = structure_of(plots_of(probe))
        if structure.random or structure.layout.not_replicated or structure.answers_nothing:
            return None
        model = structure.model(probe.y[structure.rows])
        fit = least_squares(model)
    except TallybedError:
        return None  # each trial says by itself why
    levels = tuple(treatment.labels.levels for treatment in table.treatments)
    full = fit.estimable_basis.shape == (len(fit.means),) * 2
    if not full or structure.cells.levels != levels or not structure.cells.every_combination:
        return None
    swept = design(model)
    cells = swept.solve @ swept.solve.T
    df = model.y.size - swept.rank

    def ready(group: Group) -> FactoredGroup:
        return FactoredGroup(group, group.weights, group.weights @ cells @ group.weights.T, df)

    tests = []
    for term in structure.terms:
        rows = tested_rows(term.contrasts, fit.estimable_basis)
        tests.append(
            FactoredTest(term.name, rows, np.asarray(np.linalg.inv(rows @ cells @ rows.T)))
        )
    whole = [whole_group(structure, fit, term) for term in structure.terms if len(term.factors) > 1]
    return Factored(
        structure,
        swept.space,
        swept.solve,
        df,
        tuple(ready(g) for term in structure.terms for g in groups_of(structure, fit, term)),
        tuple(ready(group) for group in whole if group is not None),
        tuple(tests),
    )


def _uneven(count: int) -> Floats:
    """Figures without a pattern that a layout could explain, so that its error can be seen."""
    return np.random.default_rng(0).normal(size=count)
