"""The pieces of ground that a table names, and which treatment was given to which of them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from trials.errors import ComparisonRefused
from trials.model.trial import AppliedTo
from trials.stats.design.linear_model import Grouping
from trials.stats.design.table import Codes, Labels, PlotTable

ON_WHOLE, ON_SPLIT, ON_STRIP = AppliedTo.WHOLE_PLOT, AppliedTo.SPLIT_PLOT, AppliedTo.STRIP


@dataclass(frozen=True, slots=True, eq=False)
class Unit:
    """A size of ground larger than the plot, and the treatment factors given to it as a whole.

    ``factors`` are the places of the factors drawn for this unit; ``constant`` adds those of the
    larger units around it, so that a unit carries one combination of ``constant``.
    """

    name: str
    factors: tuple[int, ...]
    constant: tuple[int, ...]
    grouping: Grouping


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """The rows of a table by the ground they stood on; groupings are None where not named.

    ``trial`` tells seasons and sites apart; every other grouping is nested in it, and rows,
    columns and incomplete blocks in the block. ``season`` and ``site`` are given where both vary.
    ``units`` are treatment units, the larger first. ``plot_factors`` were given to single plots,
    which are called ``plot_unit``.
    """

    rows: int
    trial: Grouping | None
    block: Grouping | None
    row: Grouping | None
    column: Grouping | None
    incomplete_block: Grouping | None
    units: tuple[Unit, ...]
    plot_factors: tuple[int, ...]
    plot_unit: str = "plot"
    season: Grouping | None = None
    site: Grouping | None = None

    def take(self, rows: Codes) -> Ground:
        """The same ground for some of the rows."""

        def some(grouping: Grouping | None) -> Grouping | None:
            return None if grouping is None else grouped(grouping.source, grouping.codes[rows])

        return replace(
            self,
            rows=rows.size,
            trial=some(self.trial),
            season=some(self.season),
            site=some(self.site),
            block=some(self.block),
            row=some(self.row),
            column=some(self.column),
            incomplete_block=some(self.incomplete_block),
            units=tuple(
                replace(unit, grouping=grouped(unit.grouping.source, unit.grouping.codes[rows]))
                for unit in self.units
            ),
        )


def grouped(source: str, *codes: Codes) -> Grouping:
    """The classification by all of ``codes`` (each (n,)) together, without empty classes."""
    key = codes[0]
    for more in codes[1:]:
        key = key * (int(more.max(initial=0)) + 1) + more
        _, key = np.unique(key, return_inverse=True)
    _, key = np.unique(key, return_inverse=True)
    return Grouping(source, key.astype(np.intp), int(key.max(initial=-1)) + 1)


def constant_within(codes: Codes, grouping: Grouping) -> bool:
    """Whether every class of ``grouping`` carries a single value of ``codes``."""
    return grouped("both", grouping.codes, codes).count == grouping.count


def ground_of(table: PlotTable) -> Ground:
    """Work out the ground of a table from its labels alone, never from the number of rows.

    A treatment that does not change within the blocks (or within named whole plots) was given to
    those as wholes, whatever the table says of it. Unnamed whole plots are the combinations of a
    block and the whole-plot treatments; strips likewise. Block labels that repeat over seasons or
    sites are nested in them.

    Raises
    ------
    ComparisonRefused
        A named whole plot carries two levels of a whole-plot treatment, or rows are named
        without columns beside blocks.
    """
    n = table.y.size
    trial = _trial(table)
    block = _nested("block", table.block, trial)
    if block is None and (table.row is None) != (table.column is None):
        block = _nested("block", table.row or table.column, trial)
    if block is not None and block.count == n:
        block = None  # a block of one plot only names the plot
    within = block or trial
    row, column = (
        _nested(name, labels, within)
        for name, labels in (("row", table.row), ("column", table.column))
    )
    if (row is None) != (column is None) and table.block is not None:
        raise ComparisonRefused("Rows and columns go together. Name both, or neither.")
    if row is None or column is None:
        row = column = None
    incomplete = _nested("incomplete block", table.incomplete_block, within)
    if incomplete is not None and (
        incomplete.count == n or (block is not None and incomplete.count == block.count)
    ):
        incomplete = None
    season, site = _seasons_and_sites(table)
    ground = Ground(n, trial, block, row, column, incomplete, (), (), season=season, site=site)
    return _without_plot_sized(_with_units(ground, table))


def _trial(table: PlotTable) -> Grouping | None:
    named = [labels for labels in (table.season, table.site) if labels is not None]
    several = [labels for labels in named if np.ptp(labels.codes) > 0]
    if not several:
        return None
    name = " and ".join("season" if labels is table.season else "site" for labels in several)
    return grouped(name, *(labels.codes for labels in several))


def _seasons_and_sites(table: PlotTable) -> tuple[Grouping | None, Grouping | None]:
    both = table.season, table.site
    if any(labels is None or np.ptp(labels.codes) == 0 for labels in both):
        return None, None
    return (
        grouped("season", table.season.codes) if table.season is not None else None,
        grouped("site", table.site.codes) if table.site is not None else None,
    )


def _nested(source: str, labels: Labels | None, around: Grouping | None) -> Grouping | None:
    if labels is None:
        return None
    classes = grouped(source, *([] if around is None else [around.codes]), labels.codes)
    return None if classes.count == 1 else classes


def _with_units(ground: Ground, table: PlotTable) -> Ground:
    codes = [treatment.labels.codes for treatment in table.treatments]
    on = [treatment.applied_to for treatment in table.treatments]
    strips = [i for i, unit in enumerate(on) if unit is ON_STRIP]
    if len(strips) == 1:
        on[strips[0]] = ON_WHOLE  # strips need others to cross
        strips = []
    if ON_WHOLE not in on and ON_SPLIT in on:
        on = [ON_WHOLE if unit is ON_SPLIT else unit for unit in on]
    ground, whole, factors = _whole_plots(ground, table, codes, on)
    around = ground.block or ground.trial
    units: list[Unit] = []
    if whole is not None:
        units.append(Unit(whole.source, factors, factors, whole))
        around = whole
    split = tuple(i for i, unit in enumerate(on) if unit is ON_SPLIT and i not in factors)
    if split:
        pieces = _split_plots(table, around, split, [codes[i] for i in split])
        units.append(Unit("split plot", split, (*factors, *split), pieces))
        around = pieces
    for i in strips:
        name = f"strip of {table.treatments[i].name}"
        units.append(Unit("strip", (i,), (i,), _pieces(name, around, [codes[i]])))
    given = {i for unit in units for i in unit.factors}
    left = tuple(i for i in range(len(codes)) if i not in given)
    if len(strips) > 1 and left:
        crossing = _pieces("crossing of strips", around, [codes[i] for i in strips])
        units.append(Unit("crossing of strips", (), tuple(strips), crossing))
    return replace(ground, units=tuple(units), plot_factors=left)


def _pieces(name: str, around: Grouping | None, codes: list[Codes]) -> Grouping:
    return grouped(name, *([] if around is None else [around.codes]), *codes)


def _split_plots(
    table: PlotTable, around: Grouping | None, factors: tuple[int, ...], codes: list[Codes]
) -> Grouping:
    """The named split plots, or the combinations of the whole plot and its split-plot levels."""
    named = table.split_plot_unit
    if named is None:
        return _pieces("split plot", around, codes)
    pieces = _pieces("split plot", around, [named.codes])
    for i in factors:
        _require_one_level(table, pieces, named, i)
    return pieces


def _whole_plots(
    ground: Ground, table: PlotTable, codes: list[Codes], on: list[AppliedTo]
) -> tuple[Ground, Grouping | None, tuple[int, ...]]:
    """The whole plots and the factors given to them; blocks that are whole plots stop being so."""
    declared = tuple(i for i, unit in enumerate(on) if unit is ON_WHOLE)
    if table.whole_plot_unit is not None:
        return _named_whole_plots(ground, table, table.whole_plot_unit, codes, declared)
    for name, candidate in (("block", ground.block), ("incomplete block", ground.incomplete_block)):
        if candidate is None:
            continue
        held = tuple(i for i, code in enumerate(codes) if constant_within(code, candidate))
        if held and set(declared) <= set(held):
            left = replace(ground, incomplete_block=None)
            left = left if name == "incomplete block" else replace(left, block=None)
            return left, replace(candidate, source="block"), held
    if not declared:
        return ground, None, ()
    if ground.row is not None and ground.column is not None:
        place = grouped("whole plot", ground.row.codes, ground.column.codes)
        if place.count < ground.rows and all(constant_within(codes[i], place) for i in declared):
            return ground, place, declared
    pieces = _pieces("whole plot", ground.block or ground.trial, [codes[i] for i in declared])
    return ground, pieces, declared


def _named_whole_plots(
    ground: Ground,
    table: PlotTable,
    unit: Labels,
    codes: list[Codes],
    declared: tuple[int, ...],
) -> tuple[Ground, Grouping | None, tuple[int, ...]]:
    bare = _pieces("whole plot", ground.trial, [unit.codes])
    whole = bare
    if ground.block is not None:
        # One name met in several blocks is one piece of ground running through them where it
        # carries one treatment throughout; otherwise the blocks number their whole plots alike.
        through = [i for i in declared or range(len(codes)) if constant_within(codes[i], bare)]
        nested = grouped("whole plot", ground.block.codes, unit.codes)
        if nested.count > bare.count and (
            len(through) == len(declared) if declared else bool(through)
        ):
            ground = replace(ground, block=replace(nested, source="block"))
        else:
            whole = nested
    for i in declared:
        _require_one_level(table, whole, unit, i)
    if whole.count == ground.rows:
        return ground, replace(whole, source="whole plot"), declared
    held = tuple(i for i, code in enumerate(codes) if constant_within(code, whole))
    if held:
        return ground, whole, held
    # Every treatment changes inside these pieces of ground: they are blocks, or parts of blocks.
    if ground.block is None and whole.count > 1:
        return replace(ground, block=replace(whole, source="block")), None, ()
    if (
        ground.block is not None
        and ground.incomplete_block is None
        and ground.block.count < whole.count
    ):
        part = replace(whole, source="incomplete block")
        return replace(ground, incomplete_block=part), None, ()
    return ground, None, ()


def _require_one_level(table: PlotTable, whole: Grouping, unit: Labels, factor: int) -> None:
    labels = table.treatments[factor].labels
    if constant_within(labels.codes, whole):
        return
    for k in range(whole.count):
        rows = np.flatnonzero(whole.codes == k)
        carried = np.unique(labels.codes[rows])
        if carried.size > 1:
            both = " and ".join(labels.levels[code] for code in carried[:2])
            ground = whole.source if whole.source == "split plot" else "whole plot"
            raise ComparisonRefused(
                f"{ground.capitalize()} {unit.levels[unit.codes[rows[0]]]!r} carries {both} of "
                f"{labels.name}, which was to be given to {ground}s. Correct the labels, or "
                f"give {labels.name} as a treatment of plots."
            )


def _without_plot_sized(ground: Ground) -> Ground:
    """Where units hold one row each they are the plots: their factors are given to plots."""
    large = tuple(unit for unit in ground.units if unit.grouping.count < ground.rows)
    small = [unit for unit in ground.units if unit.grouping.count == ground.rows]
    if not small:
        return ground
    factors = {i for unit in small for i in unit.factors} | set(ground.plot_factors)
    name = ground.plot_unit if ground.plot_factors else small[-1].name
    return replace(ground, units=large, plot_factors=tuple(sorted(factors)), plot_unit=name)
