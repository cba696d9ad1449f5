"""Sowings shared out among beds that are free in the same weeks."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from trials.decide.beds import laid_out
from trials.decide.winter import Bed

WEEKS = 6
WHOLE = np.ones(WEEKS, dtype=bool)


def beds(**metres: float) -> list[Bed]:
    return [Bed(name, long, WHOLE) for name, long in metres.items()]


def pieces(*sown: float, pool: list[Bed], least: float = 0.0) -> list[tuple[str, Any]]:
    lines = laid_out([(i, WHOLE, metres) for i, metres in enumerate(sown)], pool, least)
    return [(line.bed, pytest.approx(line.metres)) for line in lines]


def test_a_sowing_goes_into_the_smallest_bed_that_holds_it_whole() -> None:
    assert pieces(8, pool=beds(A=20, B=9)) == [("B", 8)]


def test_what_no_bed_holds_whole_is_parted() -> None:
    assert pieces(25, pool=beds(A=20, B=9)) == [("A", 20), ("B", 5)]


def test_no_piece_is_shorter_than_the_shortest_sowing() -> None:
    assert pieces(20.1, pool=beds(A=20, B=9)) == [("A", 20), ("B", 0.1)]
    assert pieces(20.1, pool=beds(A=20, B=9), least=2) == [("A", 18.1), ("B", 2)]


def test_what_is_too_short_for_two_such_pieces_is_parted_once_as_well_as_it_can_be() -> None:
    assert pieces(3, pool=beds(A=2.9, B=2.5), least=2) == [("A", 2), ("B", 1)]


def test_a_shorter_piece_stands_where_nothing_else_is_free() -> None:
    assert pieces(20.1, pool=beds(A=20, B=1), least=2) == [("A", 20), ("B", 0.1)]


def test_all_that_fits_the_beds_together_finds_its_place() -> None:
    rng = np.random.default_rng(5)
    for _ in range(200):
        pool = beds(**{f"B{i}": float(m) for i, m in enumerate(rng.uniform(2, 30, 4))})
        shares = rng.dirichlet(np.ones(5)) * sum(bed.metres for bed in pool)
        lines = laid_out([(i, WHOLE, float(m)) for i, m in enumerate(shares)], pool, 2.0)
        for place, metres in enumerate(shares):
            assert sum(li.metres for li in lines if li.place == place) == pytest.approx(metres)
        for bed in pool:
            assert sum(li.metres for li in lines if li.bed == bed.name) <= bed.metres + 1e-6
