"""Which units a term's treatments were dealt to by the layout, and among which others.

A term belongs to the smallest ground that any of its factors was given to: its lottery is of
those units, and was held within the blocks or larger units around them. Over several seasons or
sites it was held anew in each.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trials.stats.design.experimental_units import constant_within, grouped
from trials.stats.design.linear_model import Grouping
from trials.stats.design.structure import Structure
from trials.stats.design.table import Codes, Floats
from trials.stats.design.terms import Term

_BROKEN_STRIP = "a strip lost a plot, so strips can no longer be shuffled as wholes."


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Rows and columns (u,) that were shuffled as wholes, within each class around them.

    ``of_treatments`` where the lines are strips that carry one treatment each.
    """

    rows: Codes
    columns: Codes
    of_treatments: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Lottery:
    """The units that a term's treatments were dealt to.

    ``units`` (n,) tells each plot's unit. ``values`` (u,) is the mean of what each unit bore;
    ``labels`` (u,) the treatment it was given; units of one class of ``around`` (u,) were dealt
    among themselves. ``effect`` (u, q) are the term's columns, ``rest`` (u, r) those of everything
    else in the model, the classes around included. ``error`` (u, e) are the columns that the term
    is held against: its swings over seasons or sites; None for all that is left over.
    ``lines`` are the rows and columns (u,) where whole rows and columns were shuffled instead.
    ``alone`` where no other treatment term is tested on these units. ``adjusted`` where the
    units' values were cleared of what they lost with missing plots.
    """

    units: Codes
    values: Floats
    labels: Codes
    around: Codes
    effect: Floats
    rest: Floats
    alone: bool
    error: Floats | None = None
    lines: Lines | None = None
    adjusted: bool = False


@dataclass(frozen=True, slots=True)
class Undealt:
    """A term that dealing again does not answer, and why, as a sentence."""

    term: str
    why: str


@dataclass(frozen=True, slots=True, eq=False)
class _Place:
    """Where a term was dealt: its units (None: plots), what lies around, and what shares them."""

    unit: Grouping | None
    around: Grouping | None
    constant: tuple[int, ...]
    rivals: tuple[Term, ...]
    strips: tuple[Grouping, ...] = ()


def lottery_of(structure: Structure, y: Floats, term: Term) -> Lottery | Undealt:
    """The lottery of a term's treatments, or why dealing again would not answer it."""
    if not term.whole:
        return Undealt(term.name, "some combinations of its levels were never planted or recorded.")
    place = _place(structure, term)
    if isinstance(place, str):
        return Undealt(term.name, place)
    others = [t for t in place.rivals if t.name != term.name]
    if others and not structure.cells.every_combination:
        return Undealt(
            term.name,
            "several treatments share its pieces of ground and some combinations are missing.",
        )
    codes = structure.cells.codes[structure.cells.grouping.codes]
    of_plot = np.arange(len(y)) if place.unit is None else place.unit.codes
    first = np.unique(of_plot, return_index=True)[1]
    full = place.unit is None or _full(structure, place.unit)
    values = y if place.unit is None else _values(structure, y, place.unit, full)
    if isinstance(values, str):
        return Undealt(term.name, values)
    inside = np.zeros(len(first), dtype=np.intp)
    if place.around is not None:
        inside = grouped("around", place.around.codes[first]).codes
    lines = _lines(structure, place, first, inside)
    if isinstance(lines, str):
        return Undealt(term.name, lines)
    effect = _columns(structure, term, codes[first])
    other_effects = [_columns(structure, t, codes[first]) for t in others]
    rest = [inside] if lines is None else [inside, lines.rows, lines.columns]
    columns = [np.eye(int(part.max()) + 1)[part] for part in rest] + other_effects
    error, trial = None, structure.ground.trial
    if trial is not None:
        seen = np.eye(trial.count)[trial.codes[first]]
        error = _times(effect, seen)
        columns += [_times(own, seen) for own in other_effects]
    if structure.covariates is not None:
        sums = [np.bincount(of_plot, column) for column in structure.covariates.T]
        columns.append(np.stack(sums, axis=1) / np.bincount(of_plot)[:, None])
    return Lottery(
        units=np.asarray(of_plot, dtype=np.intp),
        values=values,
        labels=grouped("treatment", *(codes[first, i] for i in place.constant)).codes,
        around=inside,
        effect=effect,
        rest=np.hstack(columns),
        alone=not others,
        error=error,
        lines=lines,
        adjusted=not full,
    )


def season_totals(structure: Structure, term: Term) -> tuple[Codes, Floats, Floats]:
    """The totals in which a term is judged over seasons: one for each of its levels in each.

    Returns the plots' totals (n,), the term's columns (u, q) and those of all else (u, r). Against
    the swings that are left of the totals, plots and larger units never count as replicates.
    """
    trial = structure.ground.trial
    if trial is None:
        raise ValueError("totals by season need a table of several seasons or sites")
    codes = structure.cells.codes[structure.cells.grouping.codes]
    totals = grouped("total", trial.codes, *(codes[:, i] for i in term.factors))
    first = np.unique(totals.codes, return_index=True)[1]
    seen = np.eye(trial.count)[trial.codes[first]]
    inside = [t for t in structure.terms if set(t.factors) < set(term.factors)]
    lower = [_times(_columns(structure, t, codes[first]), seen) for t in inside]
    return totals.codes, _columns(structure, term, codes[first]), np.hstack([seen, *lower])


def _place(structure: Structure, term: Term) -> _Place | str:
    """Where a term was dealt, or why that is no lottery."""
    ground, cells = structure.ground, structure.cells
    factors, trial = set(term.factors), ground.trial
    strips = [unit for unit in ground.units if unit.name == "strip"]
    crossed = [unit for unit in strips if factors & set(unit.factors)]
    if len(crossed) > 1 and not factors & set(ground.plot_factors):
        if len(strips) > 2 or factors != {i for unit in crossed for i in unit.factors}:
            return "its treatments lie in strips of more than two ways."
        crossing = next((u.grouping for u in ground.units if u.name == "crossing of strips"), None)
        lines = tuple(unit.grouping for unit in crossed)
        return _Place(crossing, ground.block or trial, term.factors, (term,), lines)
    if factors & set(ground.plot_factors) or not ground.units:
        around = ground.units[-1].grouping if ground.units else None
        around = around or ground.incomplete_block or ground.block or trial
        rivals = tuple(t for t in structure.terms if _on_plots(structure, t))
        return _Place(None, around, tuple(range(len(cells.factors))), rivals)
    drawn = next(each for each in reversed(ground.units) if factors & set(each.factors))
    if not factors <= set(drawn.constant):
        return "its treatments were given to pieces of ground that do not hold one another."
    rivals = tuple(
        t
        for t in structure.terms
        if set(t.factors) <= set(drawn.constant) and set(t.factors) & set(drawn.factors)
    )
    larger = [each.grouping for each in ground.units if each.grouping.count < drawn.grouping.count]
    around = larger[-1] if larger and drawn.name != "strip" else ground.block
    around = around or trial
    if around is not None and not constant_within(around.codes, drawn.grouping):
        return f"its {drawn.grouping.source}s run through several blocks."
    return _Place(drawn.grouping, around, drawn.constant, rivals)


def _lines(structure: Structure, place: _Place, first: Codes, inside: Codes) -> Lines | str | None:
    """The lines that were shuffled, None where single units were, or why they cannot be."""
    ground = structure.ground
    if place.strips:
        rows, columns = (grouped("strip", strip.codes[first]) for strip in place.strips)
        if not _grid(rows, columns, inside):
            return _BROKEN_STRIP
        return Lines(rows.codes, columns.codes, of_treatments=True)
    if place.unit is not None or ground.units or ground.row is None or ground.column is None:
        return None
    if not _grid(ground.row, ground.column, inside):
        return "not every row meets every column in one plot, so they cannot be shuffled whole."
    return Lines(ground.row.codes, ground.column.codes)


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


def _values(structure: Structure, y: Floats, unit: Grouping, full: bool) -> Floats | str:
    """What each unit bore (u,), cleared where plots are missing, or why that cannot be told."""
    if full:
        return np.asarray(np.bincount(unit.codes, y) / np.bincount(unit.codes))
    if any(each.name == "strip" for each in structure.ground.units):
        return _BROKEN_STRIP
    cleared = _cleared(structure, y, unit)
    if cleared is None:
        return f"its {unit.source}s have too few plots in common to be adjusted for missing plots."
    return cleared


def _cleared(structure: Structure, y: Floats, unit: Grouping) -> Floats | None:
    """What each unit bore (u,) had it held every treatment inside it; None where they never meet.

    The units' effects beside those of the treatments that change within them: with plots missing,
    plain means would charge a unit for what it lost.
    """
    cells = structure.cells
    codes = cells.codes[cells.grouping.codes]
    within = [i for i in range(len(cells.factors)) if not constant_within(codes[:, i], unit)]
    own = np.eye(unit.count)[unit.codes]
    if not within:
        return np.asarray((own.T @ y) / own.sum(axis=0))
    inner = grouped("inner", *(codes[:, i] for i in within))
    both = np.hstack([own, sum_to_zero(inner.count)[inner.codes]])
    if np.linalg.matrix_rank(both) < both.shape[1]:
        return None
    return np.asarray(np.linalg.lstsq(both, y, rcond=None)[0][: unit.count])


def _grid(row: Grouping, column: Grouping, inside: Codes) -> bool:
    """Whether every row of a class meets every column of that class in one place."""
    if grouped("place", row.codes, column.codes).count != len(inside):
        return False
    return all(
        np.unique(row.codes[at]).size * np.unique(column.codes[at]).size == np.count_nonzero(at)
        for at in (inside == each for each in range(int(inside.max()) + 1))
    )


def _times(columns: Floats, seen: Floats) -> Floats:
    """Every column in each season by itself."""
    return np.asarray((columns[:, :, None] * seen[:, None, :]).reshape(len(columns), -1))


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
