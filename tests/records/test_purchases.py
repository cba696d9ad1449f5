"""Packets by number and by weight: what a row of seed items may say, and what it comes to."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from trials.model.rows import Known, Sheet

if TYPE_CHECKING:
    from tests.records.conftest import Farm

HEADING = "house,item,variety,seeds,price,from_packs,available,grams,seeds_per_gram"
BY_NUMBER = ("Barn Seeds,E50,Ember,50,3.40,1,yes,,", "Barn Seeds,F50,Frost Fern,50,3.90,1,no,,")


def sell(farm: Farm, *rows: str) -> None:
    farm.write("seed_items.csv", "\n".join([HEADING, *BY_NUMBER, *rows]) + "\n")


@pytest.mark.parametrize(
    ("row", "seeds"),
    [
        ("Barn Seeds,T1,Tallow,,9.00,1,yes,2.5,320", 800),
        ("Barn Seeds,T1,Tallow,,9.00,1,yes,0.7,430", 301),  # 0.7 x 430 is 301 less a stray digit
        ("Barn Seeds,T1,Tallow,,9.00,1,yes,0.3,105", 31),  # half a seed is none
        ("Barn Seeds,T1,Tallow,800,9.00,1,yes,2.5,320", 800),
        ("Barn Seeds,T1,Tallow,800,9.00,1,yes,2.5,", 800),  # as the house counts them
        ("Barn Seeds,T1,Tallow,800,9.00,1,yes,,320", 800),
    ],
)
def test_seeds_of_a_packet_are_said_or_worked_out(farm: Farm, row: str, seeds: int) -> None:
    sell(farm, row)
    items = farm.read().frames[Sheet.SEED_ITEMS].set_index("item")
    assert items.loc["T1", "seeds"] == seeds


@pytest.mark.slow
@pytest.mark.parametrize(
    ("row", "column", "problem"),
    [
        ("Barn Seeds,T1,Tallow,,9.00,1,yes,,", "seeds", "number of seeds"),
        ("Barn Seeds,T1,Tallow,,9.00,1,yes,2.5,", "seeds", "number of seeds"),
        ("Barn Seeds,T1,Tallow,,9.00,1,yes,,320", "seeds", "number of seeds"),
        (
            "Barn Seeds,T1,Tallow,700,9.00,1,yes,2.5,320",
            "seeds",
            "2.5 g of 320 seeds per gram are 800 seeds, not 700.",
        ),
        ("Barn Seeds,T1,Tallow,,9.00,1,yes,0.001,320", "grams", "make 0.32 seeds per packet"),
        ("Barn Seeds,T1,Tallow,,9.00,1,yes,0,320", "grams", "more than 0"),
        ("Barn Seeds,T1,Tallow,,9.00,1,yes,2.5,-3", "seeds_per_gram", "more than 0"),
    ],
)
def test_a_packet_that_does_not_say_its_seeds_is_refused(
    farm: Farm, row: str, column: str, problem: str
) -> None:
    sell(farm, row)
    fault = farm.fault()
    assert (fault.row, fault.column) == (4, column)
    assert problem in f"{fault.problem} {fault.remedy}"


def test_price_breaks_are_of_one_weight(farm: Farm) -> None:
    first = "Barn Seeds,T1,Tallow,,9.00,1,yes,2.5,320"
    sell(farm, first, "Barn Seeds,T1,Tallow,800,8.00,4,yes,,320")
    fault = farm.fault()
    assert (fault.row, fault.column) == (5, "grams")
    assert "says grams 2.5" in fault.problem


@pytest.mark.slow
def test_loading_packets_by_weight_twice_adds_nothing(farm: Farm) -> None:
    sell(farm, "Barn Seeds,T1,Tallow,,9.00,1,yes,2.5,320")
    batch = farm.read()
    again = farm.read(Known(batch.frames, frozenset()))
    assert Sheet.SEED_ITEMS not in again.frames
    assert again.already_held[Sheet.SEED_ITEMS] == 3
