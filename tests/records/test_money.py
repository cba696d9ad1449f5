"""The farm's money: one currency of its own, weeks priced once, kinds of cost."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from trials.model.money import COST_UNITS, CostKind

if TYPE_CHECKING:
    from tests.records.conftest import Farm


def test_every_cost_says_per_what() -> None:
    assert set(COST_UNITS) == set(CostKind)


@pytest.mark.parametrize(
    ("file", "column", "cell", "problem", "remedy"),
    [
        ("currencies.csv", "own", "no", "No currency is marked as the farm's own", "Write yes"),
        ("currencies.csv", "rate", "1.2", "its rate is 1", "Write 1"),
        ("currencies.csv", "rate", "0", "'0' is out of range", "more than 0"),
        ("prices.csv", "to_week", "10", "last week is before the first", "two rows"),
        ("prices.csv", "crop", "Zinnia", "'Zinnia' is written 'zinnia'", "in one way"),
        ("prices.csv", "stem_price", "", "The cell is empty", "Write a number"),
        ("costs.csv", "cost", "labour", "'labour' is not one of", "Write one of: bed, plug"),
    ],
)
def test_what_cannot_be_is_refused_with_its_place(
    farm: Farm, file: str, column: str, cell: str, problem: str, remedy: str
) -> None:
    farm.spoil(file, 2, column, cell)
    fault = farm.faults()[0]
    assert (fault.file, fault.column) == (file, column)
    assert problem in fault.problem
    assert remedy in fault.remedy


def test_two_currencies_cannot_both_be_the_farms_own(farm: Farm) -> None:
    farm.spoil("currencies.csv", 3, "own", "yes")
    assert "Several currencies are marked as the farm's own: EUR, GBP" in farm.faults()[0].problem


def test_a_week_has_one_price_of_a_grade(farm: Farm) -> None:
    farm.add("prices.csv", "2026,florists,zinnia,40,28,40,0.4")
    assert "the same grade, market and weeks" in farm.faults()[0].problem
