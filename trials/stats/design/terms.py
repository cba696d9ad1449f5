"""The terms of a factorial: which cells each averages, and the contrasts that are its effect."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import prod

import numpy as np

from trials.stats.design.linear_model import Grouping
from trials.stats.design.table import Codes, Floats, Treatment
from trials.stats.what_was_tested import Levels


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """The combinations of treatment levels that were planted and recorded.

    ``codes`` (c, f): the level of each of the f factors in each of the c cells, in the order of
    the levels, the last factor changing fastest. ``grouping`` tells the plots' cells.
    """

    factors: tuple[str, ...]
    levels: tuple[tuple[str, ...], ...]
    codes: Codes
    grouping: Grouping

    @property
    def every_combination(self) -> bool:
        return len(self.codes) == prod(len(levels) for levels in self.levels)


@dataclass(frozen=True, slots=True, eq=False)
class Term:
    """A main effect or an interaction.

    ``codes`` (m, k): the combinations of its k factors' levels whose mean over all levels of the
    other factors exists, with those means as ``weights`` (m, c) of the cells. ``contrasts``
    (d, c) are its effect: what is left of the means after all lower terms, zero rows where the
    cells that are missing leave nothing. ``whole`` where no combination is missing.
    """

    name: str
    factors: tuple[int, ...]
    codes: Codes
    weights: Floats
    contrasts: Floats
    whole: bool


def cells_of(treatments: tuple[Treatment, ...]) -> Cells:
    """The planted cells of the treatment columns; levels that no row carries are left out."""
    kept = [np.unique(treatment.labels.codes, return_inverse=True) for treatment in treatments]
    levels = tuple(
        tuple(treatment.labels.levels[code] for code in present)
        for treatment, (present, _) in zip(treatments, kept, strict=True)
    )
    key = np.zeros(kept[0][1].size, dtype=np.intp)
    for names, (_, codes) in zip(levels, kept, strict=True):
        key = key * len(names) + codes
    numbers, first, place = np.unique(key, return_index=True, return_inverse=True)
    codes = np.stack([codes[first] for _, codes in kept], axis=1).astype(np.intp)
    return Cells(
        tuple(treatment.name for treatment in treatments),
        levels,
        codes,
        Grouping("treatment", place.astype(np.intp), numbers.size),
    )


def terms_of(cells: Cells) -> tuple[Term, ...]:
    """All main effects, then all interactions, of the factors of ``cells``."""
    count = len(cells.factors)
    return tuple(
        _term(cells, factors)
        for size in range(1, count + 1)
        for factors in combinations(range(count), size)
    )


def levels_of(cells: Cells, factors: tuple[int, ...], codes: Codes) -> Levels:
    """The names of one combination ``codes`` (k,) of the levels of ``factors`` (k,)."""
    return tuple(
        (cells.factors[factor], cells.levels[factor][code])
        for factor, code in zip(factors, codes, strict=True)
    )


def _term(cells: Cells, factors: tuple[int, ...]) -> Term:
    sizes = [len(cells.levels[factor]) for factor in factors]
    key = np.zeros(cells.codes.shape[0], dtype=np.intp)
    for factor, size in zip(factors, sizes, strict=True):
        key = key * size + cells.codes[:, factor]
    others = _other_combinations(cells, factors)
    held = np.bincount(key, minlength=prod(sizes))
    there = np.flatnonzero(held == others)
    weights = (key == there[:, None]) / others
    codes = np.stack(np.unravel_index(there, sizes), axis=1).astype(np.intp)
    whole = there.size == held.size
    name = ":".join(cells.factors[factor] for factor in factors)
    effect = _crossed_steps(sizes) if whole else _left_after_lower(codes)
    return Term(name, factors, codes, weights, effect @ weights, whole)


def _other_combinations(cells: Cells, factors: tuple[int, ...]) -> int:
    """How many combinations of the other factors were planted at all.

    A mean is over those: two other factors that always went together count once.
    """
    left = [i for i in range(len(cells.factors)) if i not in factors]
    if not left:
        return 1
    if cells.every_combination:
        return prod(len(cells.levels[i]) for i in left)
    return len(np.unique(cells.codes[:, left], axis=0))


def _crossed_steps(sizes: list[int]) -> Floats:
    """Products of the steps between neighbouring levels: a basis of the full interaction."""
    effect: Floats = np.ones((1, 1))
    for size in sizes:
        steps: Floats = np.eye(size)[:-1] - np.eye(size)[1:]
        effect = np.asarray(np.kron(effect, steps), dtype=np.float64)
    return effect


def _left_after_lower(codes: Codes) -> Floats:
    """Contrasts of the existing combinations (m, k) that vanish wherever no k-way term exists.

    With empty cells an interaction keeps the contrasts free of all lower terms (Milliken &
    Johnson 2009, Analysis of Messy Data 1, chapter 14, estimable interaction contrasts).
    """
    count, size = codes.shape
    if count == 0 or size == 1:
        return np.zeros((0, count))
    lower = []
    for subset in combinations(range(size), size - 1):
        _, place = np.unique(codes[:, list(subset)], axis=0, return_inverse=True)
        lower.append(np.eye(int(place.max()) + 1)[place])
    left, singular, _ = np.linalg.svd(np.hstack(lower), full_matrices=True)
    return np.asarray(left[:, int(np.count_nonzero(singular > 1e-9 * singular[0])) :].T)
