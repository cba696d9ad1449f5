"""What a layout is and what it can answer: its groupings, its errors, and what it cannot test."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum, auto

import numpy as np
from numpy.typing import NDArray

from trials.errors import ComparisonRefused
from trials.stats.design.experimental_units import Ground, Unit, constant_within, grouped
from trials.stats.design.linear_model import Grouping, LinearModel
from trials.stats.design.plots import Plots
from trials.stats.design.replication import (
    bare_cells,
    confounded,
    error_df,
    not_replicated,
    rank_of,
    units_of,
)
from trials.stats.design.table import Codes, Floats, Treatment
from trials.stats.design.terms import Cells, Term, cells_of, terms_of
from trials.stats.results import Layout, LayoutKind

# A block layout that lacks no more than this share of its places is complete with missing plots.
MOST_MISSING = 0.2


@dataclass(frozen=True, slots=True, eq=False)
class Structure:
    """What the recorded layout can answer.

    ``rows`` are the plots with a figure; ``ground``, ``cells`` and the groupings are of those
    rows. ``fixed`` and ``random`` go into the model. ``plot_df``: error degrees of freedom among
    plots; with none nothing can be tested. ``bare``: for each unit without replication, the
    classes (c,) of cells that only differ between such units.
    """

    layout: Layout
    rows: Codes
    ground: Ground
    cells: Cells
    terms: tuple[Term, ...]
    fixed: tuple[Grouping, ...]
    random: tuple[Grouping, ...]
    covariates: Floats | None
    plot_df: int
    bare: tuple[Codes, ...]

    @property
    def answers_nothing(self) -> bool:
        return self.plot_df < 1

    def model(self, y: Floats) -> LinearModel:
        """The linear model of one value (n,) for each recorded plot."""
        return LinearModel(y, self.cells.grouping, self.fixed, self.random, self.covariates)

    def carries(self, contrasts: Floats) -> NDArray[np.bool_]:
        """Which rows of ``contrasts`` (m, c) do not rest on units without replication."""
        held = np.ones(contrasts.shape[0], dtype=bool)
        for classes in self.bare:
            sums = contrasts @ np.eye(int(classes.max()) + 1)[classes]
            held &= np.abs(sums).max(axis=1, initial=0.0) < 1e-9
        return held


class _Blocks(Enum):
    COMPLETE = auto()
    INCOMPLETE = auto()
    AUGMENTED = auto()


@dataclass(frozen=True, slots=True)
class _BlockKinds:
    """How the blocks and the incomplete blocks are filled; None where there are none."""

    block: _Blocks | None
    incomplete_block: _Blocks | None


_KINDS = {
    _Blocks.COMPLETE: LayoutKind.COMPLETE_BLOCKS,
    _Blocks.INCOMPLETE: LayoutKind.INCOMPLETE_BLOCKS,
    _Blocks.AUGMENTED: LayoutKind.AUGMENTED_BLOCKS,
}


def structure_of(plots: Plots) -> Structure:
    """Work out what a layout can answer from its labels.

    Complete blocks, the blocks of an augmented layout, rows, columns, seasons and sites are
    fixed. Incomplete blocks, whole plots, split plots, strips and treatment x season are random.
    Where a unit keeps no degrees of freedom for error, the factors given to it are not
    replicated.

    Raises
    ------
    ComparisonRefused
        A covariate changes only together with the treatments and blocks.
    """
    table = plots.table
    covariates = np.stack([v for _, v in table.covariates], axis=1) if table.covariates else None
    recorded = np.isfinite(table.y)
    if covariates is not None:
        recorded &= np.isfinite(covariates).all(axis=1)
        covariates = covariates[recorded]
    rows = np.flatnonzero(recorded)
    everything = cells_of(table.treatments)
    whole = plots.ground
    if rows.size < table.y.size:
        taken = tuple(_some(treatment, rows) for treatment in table.treatments)
        cells, ground = cells_of(taken), whole.take(rows)
    else:
        cells, ground = everything, whole

    blocks = _block_kinds(whole, everything)
    fixed, random = _block_groupings(ground, blocks)
    random += [unit.grouping for unit in ground.units]
    if ground.trial is not None:
        if not any(constant_within(ground.trial.codes, grouping) for grouping in fixed):
            fixed.append(ground.trial)
        swings = swings_of(ground)
        random += [each for swing in swings for each in _by_trial(cells, swing)]
        if len(swings) > 1:  # no layout of seasons and sites has exact strata to keep to
            random = [replace(each, floored=True) for each in random]
    fixed_part = [cells.grouping, *fixed]
    _require_free_covariates(fixed_part, covariates, tuple(name for name, _ in table.covariates))
    random = _distinct(random, rows.size)
    errors = error_df(fixed_part, random, covariates)
    kept = tuple(g for g, df in zip(random, errors, strict=True) if df > 0)
    without = [g for g, df in zip(random, errors, strict=True) if df == 0]
    bare_units = [
        unit for unit in ground.units if any(_alike(unit.grouping, each) for each in without)
    ]
    plot_df = rows.size - rank_of([*fixed_part, *kept], covariates)
    layout = _layout(ground, cells, _kind(whole, blocks, everything), bare_units, fixed, plot_df)
    return Structure(
        layout,
        rows,
        ground,
        cells,
        terms_of(cells),
        tuple(fixed),
        kept,
        covariates,
        plot_df,
        tuple(bare_cells(unit, cells) for unit in bare_units),
    )


def _some(treatment: Treatment, rows: Codes) -> Treatment:
    return replace(treatment, labels=replace(treatment.labels, codes=treatment.labels.codes[rows]))


def _alike(a: Grouping, b: Grouping) -> bool:
    return a.count == b.count and constant_within(a.codes, b)


def _distinct(groupings: list[Grouping], rows: int) -> list[Grouping]:
    """Without groupings of single plots, of everything, and repeated ones."""
    kept: list[Grouping] = []
    for grouping in groupings:
        if 1 < grouping.count < rows and not any(_alike(grouping, each) for each in kept):
            kept.append(grouping)
    return kept


def _block_kinds(ground: Ground, cells: Cells) -> _BlockKinds:
    around = next(
        (
            unit.grouping
            for unit in reversed(ground.units)
            if ground.block is not None and _inside(ground.block, unit)
        ),
        ground.trial,
    )
    return _BlockKinds(
        None if ground.block is None else _filled(cells, ground.block, around),
        None
        if ground.incomplete_block is None
        else _filled(cells, ground.incomplete_block, ground.block or ground.trial),
    )


def _inside(block: Grouping, unit: Unit) -> bool:
    return constant_within(unit.grouping.codes, block)


def _filled(cells: Cells, block: Grouping, around: Grouping | None) -> _Blocks:
    """Whether blocks hold every cell of what is around them, allowing for missing plots.

    Complete where half of them do or few places are missing; augmented where the cells that are
    not in (nearly) every block were planted once only.
    """
    cell = cells.grouping
    held = np.zeros((block.count, cell.count), dtype=int)
    np.add.at(held, (block.codes, cell.codes), 1)
    due = np.ones_like(held, dtype=bool)
    if around is not None:
        there = np.zeros((around.count, cell.count), dtype=bool)
        there[around.codes, cell.codes] = True
        outer = np.zeros(block.count, dtype=np.intp)
        outer[block.codes] = around.codes
        due = there[outer]
    missing = due & (held == 0)
    full = ~missing.any(axis=1)
    if 2 * np.count_nonzero(full) >= block.count:
        return _Blocks.COMPLETE
    plots = held.sum(axis=0)
    checks = plots > 1
    if checks.any() and np.count_nonzero(~checks) > 1:
        kept = 1 - missing[:, checks].sum() / due[:, checks].sum()
        if kept >= 1 - MOST_MISSING:
            return _Blocks.AUGMENTED
    by_design = not full.any() and np.ptp(held.sum(axis=1)) == 0 and np.ptp(plots) == 0
    if not by_design and missing.sum() <= MOST_MISSING * due.sum():
        return _Blocks.COMPLETE
    return _Blocks.INCOMPLETE


def _block_groupings(ground: Ground, kinds: _BlockKinds) -> tuple[list[Grouping], list[Grouping]]:
    """The fixed and the random groupings among blocks, rows, columns and incomplete blocks."""
    fixed = [grouping for grouping in (ground.row, ground.column) if grouping is not None]
    random: list[Grouping] = []
    for grouping, kind in (
        (ground.block, kinds.block),
        (ground.incomplete_block, kinds.incomplete_block),
    ):
        if grouping is None or kind is None:
            continue
        within_unit = any(_inside(grouping, unit) for unit in ground.units)
        if kind is _Blocks.INCOMPLETE or within_unit:
            random.append(replace(grouping, floored=kind is _Blocks.INCOMPLETE))
        elif ground.row is None:  # rows and columns are nested in the block and hold it
            fixed.append(grouping)
    return fixed, random


def swings_of(ground: Ground) -> tuple[Grouping, ...]:
    """What treatments may swing over: seasons, sites and both together, as far as told apart.

    Where each season had another site, or each site another season, one of the three is another
    one over again, and only what differs is kept: the two together, and the coarser one.
    """
    trial, season, site = ground.trial, ground.season, ground.site
    if trial is None or season is None or site is None:
        return () if trial is None else (trial,)
    coarser = tuple(each for each in (season, site) if 1 < each.count < trial.count)
    return (*coarser, trial)


def _by_trial(cells: Cells, trial: Grouping) -> list[Grouping]:
    """Treatment x season (or site), for each factor and for their combinations."""
    codes = cells.codes[cells.grouping.codes]
    crossed = [
        grouped(f"{name} × {trial.source}", codes[:, i], trial.codes)
        for i, name in enumerate(cells.factors)
    ]
    if len(cells.factors) > 1:
        names = ":".join(cells.factors)
        crossed.append(grouped(f"{names} × {trial.source}", cells.grouping.codes, trial.codes))
    return crossed


def _require_free_covariates(
    fixed: list[Grouping], covariates: Floats | None, names: tuple[str, ...]
) -> None:
    if covariates is None:
        return
    if rank_of(fixed, covariates) < rank_of(fixed) + covariates.shape[1]:
        raise ComparisonRefused(
            f"{' and '.join(names)} cannot be separated from the treatments and blocks, so the "
            "means cannot be adjusted for it. Leave it out."
        )


def _kind(ground: Ground, blocks: _BlockKinds, cells: Cells) -> LayoutKind:
    if any(unit.name == "strip" for unit in ground.units):
        return LayoutKind.STRIPS
    if ground.units:
        levels = sum(1 for unit in ground.units if unit.factors)
        return LayoutKind.SPLIT_SPLIT_PLOT if levels > 1 else LayoutKind.SPLIT_PLOT
    if ground.row is not None and ground.column is not None:
        square = ground.row.count == ground.column.count == cells.grouping.count
        once = all(
            grouped("once", line.codes, cells.grouping.codes).count == ground.rows
            for line in (ground.row, ground.column)
        )
        return LayoutKind.LATIN_SQUARE if square and once else LayoutKind.ROW_COLUMN
    for kind in (blocks.incomplete_block, blocks.block):
        if kind is not None and kind is not _Blocks.COMPLETE:
            return _KINDS[kind]
    if blocks.block is not None or blocks.incomplete_block is not None or ground.trial is not None:
        return LayoutKind.COMPLETE_BLOCKS
    return LayoutKind.COMPLETELY_RANDOMISED


def _layout(
    ground: Ground,
    cells: Cells,
    kind: LayoutKind,
    bare: list[Unit],
    fixed: list[Grouping],
    plot_df: int,
) -> Layout:
    unit_of: dict[int, Unit] = {i: unit for unit in ground.units for i in unit.factors}
    factors = tuple(
        units_of(cells, i, unit_of[i].name, unit_of[i].grouping)
        if i in unit_of
        else units_of(cells, i, ground.plot_unit, None)
        for i in range(len(cells.factors))
    )
    untested = {i for unit in bare for i in unit.factors}
    if plot_df < 1:
        kind, untested = LayoutKind.SIDE_BY_SIDE, set(range(len(factors)))
    return Layout(
        kind,
        factors,
        tuple(not_replicated(factors[i]) for i in sorted(untested)),
        confounded(cells, [*([] if ground.trial is None else [ground.trial]), *fixed]),
    )
