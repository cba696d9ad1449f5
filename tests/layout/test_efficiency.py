"""Efficiency factors: textbook designs, a published layout, and bounds no design exceeds."""

from __future__ import annotations

import json
from itertools import combinations, pairwise
from pathlib import Path

import numpy as np
import pytest

from trials.layout.designs.efficiency import (
    average_efficiency,
    efficiency_bound,
    incidence,
)
from trials.layout.designs.random_numbers import Lot

REFERENCE = Path(__file__).parent.parent / "reference"

# The projective plane of order 2 (Fano): 7 entries, blocks of 3, every pair once.
FANO = [(0, 1, 3), (1, 2, 4), (2, 3, 5), (3, 4, 6), (4, 5, 0), (5, 6, 1), (6, 0, 2)]


def published_oats() -> list[list[int]]:
    """The blocks of John & Williams 1995, p. 146."""
    held: dict[tuple[str, str], list[int]] = {}
    for replicate, block, variety, _ in json.loads(
        (REFERENCE / "oats_alpha.json").read_text(encoding="utf-8")
    )["rows"]:
        held.setdefault((replicate, block), []).append(int(variety[1:]) - 1)
    return list(held.values())


def test_balanced_blocks_have_the_efficiency_of_the_formula() -> None:
    """v (k - 1) / (k (v - 1)) (Yates 1936; Cochran & Cox 1957, chapter 9): 7/9 for the plane."""
    assert average_efficiency(FANO, 7) == pytest.approx(7 / 9)
    pairs = list(combinations(range(6), 2))
    assert average_efficiency(pairs, 6) == pytest.approx(6 / (2 * 5))


def test_complete_blocks_lose_nothing() -> None:
    assert average_efficiency([range(5)] * 3, 5) == pytest.approx(1)


def test_a_ring_of_pairs_has_the_efficiency_of_its_roots_of_unity() -> None:
    """Blocks {i, i + 1} of v entries: canonical factors 1 - cos^2(pi h / v)."""
    v = 7
    ring = [*pairwise(range(v)), (v - 1, 0)]
    factors = 1 - np.cos(np.pi * np.arange(1, v) / v) ** 2
    assert average_efficiency(ring, v) == pytest.approx((v - 1) / np.sum(1 / factors))


def test_blocks_that_do_not_connect_compare_nothing() -> None:
    assert average_efficiency([(0, 1), (2, 3)] * 2, 4) == 0.0


def test_efficiency_is_the_mean_variance_of_a_difference_by_least_squares() -> None:
    """Against a plain regression of plots on blocks and entries, blocks of 4 and 3."""
    lot = Lot.of(1, "blocks")
    entries, replicates = 11, 3
    blocks = [
        part
        for _ in range(replicates)
        for order in [lot.shuffled(range(entries))]
        for part in (order[:4], order[4:8], order[8:])
    ]
    rows = [(entry, b) for b, block in enumerate(blocks) for entry in block]
    design = np.array(
        [[*(e == i for i in range(entries)), *(b == j for j in range(9))] for e, b in rows],
        dtype=float,
    )
    covariance = np.linalg.pinv(design.T @ design)[:entries, :entries]
    variances = [
        covariance[i, i] + covariance[j, j] - 2 * covariance[i, j]
        for i, j in combinations(range(entries), 2)
    ]
    expected = (2 / replicates) / np.mean(variances)
    assert average_efficiency(blocks, entries) == pytest.approx(expected)


def test_the_published_oats_are_a_resolvable_design_below_its_bound() -> None:
    oats = published_oats()
    assert len(oats) == 18
    stands = incidence(oats, 24)
    met = stands @ stands.T
    assert met[~np.eye(24, dtype=bool)].max() == 1
    assert average_efficiency(oats, 24) < efficiency_bound(24, 3, (4,) * 6)


@pytest.mark.parametrize(
    ("entries", "replicates", "sizes", "bound"),
    [
        (9, 4, (3, 3, 3), 3 / 4),  # balanced square lattice: k / (k + 1)
        (16, 5, (4,) * 4, 4 / 5),
        # Simple and triple lattices, (k + 1)(r - 1) / ((k + 1)(r - 1) + r): Cochran & Cox 1957,
        # chapter 10; they reach the bound of Patterson & Williams 1976.
        (25, 2, (5,) * 5, 6 / 8),
        (25, 3, (5,) * 5, 12 / 15),
        (64, 3, (8,) * 8, 18 / 21),
        (6, 5, (2, 2, 2), 3 / 5),  # every pair once: 6 x 1 / (2 x 5)
        (8, 2, (8,), 1.0),
    ],
)
def test_bounds_are_those_of_designs_that_reach_them(
    entries: int, replicates: int, sizes: tuple[int, ...], bound: float
) -> None:
    assert efficiency_bound(entries, replicates, sizes) == pytest.approx(bound)


def test_no_resolvable_design_exceeds_its_bound() -> None:
    lot = Lot.of(2, "blocks")
    for _ in range(1500):
        blocks, replicates = 2 + lot.below(4), 2 + lot.below(4)
        entries = blocks * (2 + lot.below(3)) + lot.below(blocks)
        size, over = divmod(entries, blocks)
        sizes = [size + 1] * over + [size] * (blocks - over)
        cuts = [sum(sizes[:i]) for i in range(blocks + 1)]
        design = [
            order[a:b]
            for _ in range(replicates)
            for order in [lot.shuffled(range(entries))]
            for a, b in pairwise(cuts)
        ]
        bound = efficiency_bound(entries, replicates, sizes)
        assert average_efficiency(design, entries) <= bound + 1e-9
