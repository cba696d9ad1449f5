"""Which units a term's treatments were dealt to by the layout, and among which others.

A term belongs to the smallest ground that any of its factors was given to: its lottery is of
those units, and was held within the blocks or larger units around them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trials.stats.ground import constant_within, grouped
from trials.stats.model import Grouping
from trials.stats.structure import Structure
from trials.stats.table import Codes, Floats
from trials.stats.terms import Term


@dataclass(frozen=True, slots=True, eq=False)
class Lottery:
    """The units that a term's treatments were dealt to.

    ``units`` (n,) tells each plot's unit. ``values`` (u,) is the mean of what each unit bore;
    ``labels`` (u,) the treatment it was given; units of one class of ``around`` (u,) were dealt
    among themselves. ``effect`` (u, q) are the term's columns, ``rest`` (u, r) those of everything
    else in the model, the classes around included.
    ``lines`` are the rows and columns (u,) where whole rows and columns were shuffled instead.
    ``alone`` where no other treatment term is tested on these units.
    """

    units: Codes
    values: Floats
    labels: Codes
    around: Codes
    effect: Floats
    rest: Floats
    alone: bool
    lines: tuple[Codes, Codes] | None = None


def lottery_of(structure: Structure, y: Floats, term: Term) -> Lottery | None:
    """The lottery of a term's treatments, or None where dealing again would not answer it."""
    ground, cells = structure.ground, structure.cells
    if ground.trial is not None or not term.whole:
        return None
    codes = cells.codes[cells.grouping.codes]
    factors = set(term.factors)
    if factors & set(ground.plot_factors) or not ground.units:
        unit: Grouping | None = None
        constant = tuple(range(len(cells.factors)))
        rivals = [t for t in structure.terms if _on_plots(structure, t)]
        around = ground.units[-1].grouping if ground.units else None
        around = around or ground.incomplete_block or ground.block
    else:
        drawn = next(each for each in reversed(ground.units) if factors & set(each.factors))
        if not factors <= set(drawn.constant):
            return None
        unit, constant = drawn.grouping, drawn.constant
        rivals = [
            t
            for t in structure.terms
            if set(t.factors) <= set(constant) and set(t.factors) & set(drawn.factors)
        ]
        larger = [each.grouping for each in ground.units if each.grouping.count < unit.count]
        around = larger[-1] if larger and drawn.name != "strip" else ground.block
        if not _full(structure, unit) or (
            around is not None and not constant_within(around.codes, unit)
        ):
            return None
    others = [t for t in rivals if t.name != term.name]
    if others and not cells.every_combination:
        return None

    place = np.arange(len(y)) if unit is None else unit.codes
    first = np.unique(place, return_index=True)[1]
    values = np.bincount(place, y) / np.bincount(place)
    inside = np.zeros(len(first), dtype=np.intp) if around is None else around.codes[first]
    rest = [np.eye(int(inside.max()) + 1)[inside]]
    lines = None
    if unit is None and not ground.units and ground.row is not None and ground.column is not None:
        lines = _grid(ground.row, ground.column)
        if lines is None:
            return None
        rest += [np.eye(int(line.max()) + 1)[line] for line in lines]
    rest += [_columns(structure, t, codes[first]) for t in others]
    if structure.covariates is not None:
        sums = [np.bincount(place, column) for column in structure.covariates.T]
        rest.append(np.stack(sums, axis=1) / np.bincount(place)[:, None])
    return Lottery(
        units=np.asarray(place, dtype=np.intp),
        values=values,
        labels=grouped("treatment", *(codes[first, i] for i in constant)).codes,
        around=inside,
        effect=_columns(structure, term, codes[first]),
        rest=np.hstack(rest),
        alone=not others,
        lines=lines,
    )


def _on_plots(structure: Structure, term: Term) -> bool:
    ground = structure.ground
    return not ground.units or bool(set(term.factors) & set(ground.plot_factors))


def _full(structure: Structure, unit: Grouping) -> bool:
    """Whether every unit holds the same number of plots, and no two alike."""
    held = np.bincount(unit.codes)
    once = grouped("once", unit.codes, structure.cells.grouping.codes).count
    return bool(np.ptp(held) == 0) and once == len(unit.codes) and _crossed(structure, unit)


def _crossed(structure: Structure, unit: Grouping) -> bool:
    """Whether the treatments within each unit are the same ones."""
    cells = structure.cells
    codes = cells.codes[cells.grouping.codes]
    within = [i for i in range(len(cells.factors)) if not constant_within(codes[:, i], unit)]
    if not within:
        return True
    inner = grouped("inner", *(codes[:, i] for i in within))
    return inner.count * unit.count == len(unit.codes)


def _grid(row: Grouping, column: Grouping) -> tuple[Codes, Codes] | None:
    """Rows and columns where every crossing holds one plot."""
    crossings = grouped("place", row.codes, column.codes).count
    if crossings != len(row.codes) or crossings != row.count * column.count:
        return None
    return row.codes, column.codes


def _columns(structure: Structure, term: Term, codes: Codes) -> Floats:
    columns: Floats = np.ones((len(codes), 1))
    for factor in term.factors:
        own = sum_to_zero(len(structure.cells.levels[factor]))[codes[:, factor]]
        columns = (columns[:, :, None] * own[:, None, :]).reshape(len(codes), -1)
    return columns


def sum_to_zero(levels: int) -> Floats:
    """Columns (levels, levels - 1) for effects that add up to nothing."""
    return np.vstack([np.eye(levels - 1), -np.ones((1, levels - 1))])


def orthonormal(columns: Floats) -> Floats:
    """An orthonormal basis (u, rank) of what the columns (u, r) span."""
    left, singular, _ = np.linalg.svd(columns, full_matrices=False)
    return np.asarray(left[:, singular > 1e-9 * max(float(singular.max(initial=0.0)), 1e-300)])
