"""Incomplete blocks: resolvable, as even as can be, and as efficient as published designs."""

from __future__ import annotations

import json
from itertools import chain
from pathlib import Path

import numpy as np
import pytest

from trials.layout.designs.efficiency import average_efficiency, incidence
from trials.layout.designs.finite_field import finite_field
from trials.layout.designs.incomplete import block_sizes, incomplete_blocks
from trials.layout.designs.squares import best_shifts, columns_bound

REFERENCE = Path(__file__).parent.parent / "reference"


def meetings(blocks: tuple[tuple[int, ...], ...], entries: int) -> tuple[int, int]:
    stands = incidence(blocks, entries)
    met = (stands @ stands.T)[~np.eye(entries, dtype=bool)]
    return int(met.min()), int(met.max())


@pytest.mark.parametrize(
    ("entries", "most", "sizes"),
    [
        (24, 4, (4,) * 6),
        (23, 4, (4, 4, 4, 4, 4, 3)),
        (20, 7, (7, 7, 6)),
        (30, 5, (5,) * 6),
        (13, 4, (4, 3, 3, 3)),
    ],
)
def test_blocks_are_as_equal_as_can_be(entries: int, most: int, sizes: tuple[int, ...]) -> None:
    assert block_sizes(entries, most) == sizes


@pytest.mark.usefixtures("short_search")
@pytest.mark.parametrize(
    ("entries", "replicates", "most"),
    [(24, 3, 4), (30, 4, 5), (23, 3, 4), (20, 3, 7), (12, 2, 3), (11, 5, 4), (40, 2, 7)],
)
def test_every_replicate_holds_every_entry_once(entries: int, replicates: int, most: int) -> None:
    found = incomplete_blocks(entries, replicates, most)
    assert len(found.replicates) == replicates
    for replicate in found.replicates:
        assert sorted(chain.from_iterable(replicate)) == list(range(entries))
        assert tuple(len(block) for block in replicate) == block_sizes(entries, most)
    assert found.efficiency == pytest.approx(average_efficiency(found.blocks, entries))
    assert found.efficiency <= found.bound + 1e-9


@pytest.mark.parametrize(
    ("entries", "replicates", "most", "efficiency"),
    [
        (9, 4, 3, 3 / 4),  # balanced square lattices, k / (k + 1): Yates 1936
        (16, 5, 4, 4 / 5),
        (25, 6, 5, 5 / 6),
        (49, 8, 7, 7 / 8),
        (64, 9, 8, 8 / 9),
        (81, 10, 9, 9 / 10),
        (6, 5, 2, 3 / 5),  # the fifteen pairs of six, in five rounds
        (8, 7, 4, 6 / 7),  # all quadruples of the affine space of 8 points: 8 x 3 / (4 x 7)
    ],
)
def test_balanced_designs_that_exist_are_found(
    entries: int, replicates: int, most: int, efficiency: float
) -> None:
    found = incomplete_blocks(entries, replicates, most)
    assert found.efficiency == pytest.approx(efficiency, abs=1e-12)
    low, high = meetings(found.blocks, entries)
    assert low == high


@pytest.mark.parametrize(
    ("k", "replicates"), [(5, 2), (5, 3), (6, 2), (6, 3), (7, 4), (8, 3), (10, 2), (10, 3)]
)
def test_square_lattices_have_their_efficiency(k: int, replicates: int) -> None:
    """(k + 1)(r - 1) / ((k + 1)(r - 1) + r) (Cochran & Cox 1957, Experimental Designs, ch. 10)."""
    found = incomplete_blocks(k * k, replicates, k)
    part = (k + 1) * (replicates - 1)
    assert found.efficiency == pytest.approx(part / (part + replicates), abs=1e-12)
    assert found.bound == pytest.approx(found.efficiency, abs=1e-9)
    assert meetings(found.blocks, k * k) == (0, 1)


@pytest.mark.slow
def test_at_least_as_efficient_as_the_published_oats_design() -> None:
    """24 entries, 3 replicates, blocks of 4: John & Williams 1995, p. 146."""
    held: dict[tuple[str, str], list[int]] = {}
    for replicate, block, variety, _ in json.loads(
        (REFERENCE / "oats_alpha.json").read_text(encoding="utf-8")
    )["rows"]:
        held.setdefault((replicate, block), []).append(int(variety[1:]) - 1)
    found = incomplete_blocks(24, 3, 4)
    assert found.efficiency >= average_efficiency(list(held.values()), 24)
    assert meetings(found.blocks, 24) == (0, 1)


@pytest.mark.slow
def test_thirty_entries_in_blocks_of_five_come_near_the_bound() -> None:
    found = incomplete_blocks(30, 4, 5)
    assert found.efficiency > 0.99 * found.bound
    assert meetings(found.blocks, 30) == (0, 1)


@pytest.mark.parametrize("order", [2, 3, 4, 5, 7, 8, 9, 13, 16, 25, 27, 32])
def test_finite_fields_are_fields(order: int) -> None:
    field = finite_field(order)
    assert field is not None
    elements = range(order)
    for a in elements:
        assert field.times(a, 0) == 0
        assert field.minus(a, a) == 0
        assert sorted(field.minus(x, a) for x in elements) == list(elements)
        if a:
            assert sorted(field.times(a, x) for x in elements) == list(elements)
    a, b, c = 1, order - 1, order // 2
    assert field.times(c, field.minus(a, b)) == field.minus(field.times(c, a), field.times(c, b))


@pytest.mark.parametrize("order", [1, 6, 10, 12, 14, 15])
def test_there_is_no_field_of_other_orders(order: int) -> None:
    assert finite_field(order) is None


@pytest.mark.parametrize(
    ("size", "rows", "efficiency"),
    [
        (
            7,
            3,
            7 / 9,
        ),  # difference sets make columns balanced (Youden squares): v (k-1) / (k (v-1))
        (7, 4, 7 * 3 / (4 * 6)),
        (13, 4, 13 * 3 / (4 * 12)),
        (5, 4, 5 * 3 / (4 * 4)),
        (6, 6, 1.0),
    ],
)
def test_columns_of_shifts_are_balanced_where_a_difference_set_exists(
    size: int, rows: int, efficiency: float
) -> None:
    """Cochran & Cox 1957, chapter 13: incomplete Latin squares of one row too few or many."""
    shifts, found = best_shifts(size, rows)
    assert len(shifts) == rows
    assert found == pytest.approx(efficiency)
    assert columns_bound(size, rows) == pytest.approx(efficiency)
    columns = [tuple((c + shift) % size for shift in shifts) for c in range(size)]
    assert average_efficiency(columns, size) == pytest.approx(efficiency)


@pytest.mark.parametrize(("size", "rows"), [(8, 3), (10, 4), (6, 8), (5, 7), (40, 5)])
def test_the_efficiency_of_columns_is_that_of_their_blocks(size: int, rows: int) -> None:
    shifts, found = best_shifts(size, rows)
    columns = [tuple((c + shift) % size for shift in shifts) for c in range(size)]
    counts = np.zeros((size, size))
    for b, column in enumerate(columns):
        for entry in column:
            counts[entry, b] += 1
    factors = np.linalg.eigvalsh(np.eye(size) - counts @ counts.T / rows**2)[1:]
    assert found == pytest.approx(factors.size / np.sum(1 / factors))
    assert found <= columns_bound(size, rows) + 1e-9
