"""Which comparisons were made, and why the others were not: facts for every claim about all."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np

from trials.stats.design.structure import Structure
from trials.stats.design.table import Codes, PlotTable
from trials.stats.design.terms import Cells
from trials.stats.results import Layout, Pair
from trials.stats.what_was_tested import FactorTested, Levels, TermTest, WhatWasTested, Why


def tested(
    table: PlotTable,
    structure: Structure,
    tests: Sequence[TermTest],
    pairs: Sequence[Pair],
    *,
    constant: bool,
) -> WhatWasTested:
    """What the lists of tests and pairs hold, next to what the recorded levels would allow.

    ``constant`` says that all plots have the same figure.
    """
    cells = structure.cells
    done = {test.term for test in tests}
    return WhatWasTested(
        factors=tuple(
            _of_factor(table, structure, place, pairs, constant=constant)
            for place in range(len(cells.factors))
        ),
        empty=_empty(cells),
        untested=tuple(term.name for term in structure.terms if term.name not in done),
        always_together=_always_together(structure),
    )


def _of_factor(
    table: PlotTable, structure: Structure, place: int, pairs: Sequence[Pair], *, constant: bool
) -> FactorTested:
    name, levels = structure.cells.factors[place], structure.cells.levels[place]
    main = [pair for pair in pairs if pair.term == name]
    held = _levels(main)
    labels = table.treatments[place].labels
    planted = [labels.levels[code] for code in np.unique(labels.codes)]
    possible = len(levels) * (len(levels) - 1) // 2
    left_out = tuple(level for level in levels if level not in held) if possible else ()
    term, within = _within(pairs, name, set(left_out))
    return FactorTested(
        factor=name,
        possible=possible,
        compared=len(main),
        within=within,
        within_term=term,
        left_out=left_out,
        no_figure=tuple(level for level in planted if level not in levels),
        why=None if len(main) == possible else _why(structure, place, constant=constant),
    )


def _levels(pairs: Sequence[Pair]) -> set[str]:
    return {levels[0][1] for pair in pairs for levels in (pair.a, pair.b)}


def _within(pairs: Sequence[Pair], name: str, wanted: set[str]) -> tuple[str | None, int]:
    """The term of fewest factors whose pairs of ``name`` reach most of the ``wanted`` levels."""
    by_term: dict[str, list[Pair]] = {}
    for pair in pairs:
        if pair.within and pair.a[0][0] == name:
            by_term.setdefault(pair.term, []).append(pair)
    if not by_term:
        return None, 0
    term = min(by_term, key=lambda term: (-len(wanted & _levels(by_term[term])), term.count(":")))
    return term, len(by_term[term])


def _why(structure: Structure, place: int, *, constant: bool) -> Why:
    cells, layout = structure.cells, structure.layout
    name = cells.factors[place]
    if constant:
        return Why.CONSTANT
    if any(item.factor == name for item in layout.not_replicated):
        return Why.NOT_REPLICATED
    if partners(layout, cells.factors, name):
        return Why.TOGETHER
    return Why.NEVER_MET if structure.terms[place].whole else Why.EMPTY


def partners(layout: Layout, factors: Sequence[str], name: str) -> tuple[str, ...]:
    """The other treatments whose effects cannot be separated from those of ``name``."""
    return tuple(
        other
        for names in layout.confounded
        if name in names
        for other in names
        if other != name and other in factors
    )


def _always_together(structure: Structure) -> tuple[tuple[str, str], ...]:
    cells = structure.cells
    pairs = [
        (names[0], names[1])
        for names in structure.layout.confounded
        if set(names) <= set(cells.factors)
    ]
    return tuple(
        (first, second)
        for first, second in pairs
        if _one_to_one(
            cells.codes[:, cells.factors.index(first)], cells.codes[:, cells.factors.index(second)]
        )
    )


def _one_to_one(a: Codes, b: Codes) -> bool:
    met = np.unique(np.stack([a, b], axis=1), axis=0)
    return len(met) == len(np.unique(a)) == len(np.unique(b))


def _empty(cells: Cells) -> tuple[Levels, ...]:
    """Combinations of recorded levels that no plot with a figure carries."""
    if cells.every_combination:
        return ()
    seen = {tuple(codes) for codes in cells.codes.tolist()}
    every = product(*(range(len(levels)) for levels in cells.levels))
    return tuple(
        tuple(
            (name, levels[code])
            for name, levels, code in zip(cells.factors, cells.levels, codes, strict=True)
        )
        for codes in every
        if codes not in seen
    )
