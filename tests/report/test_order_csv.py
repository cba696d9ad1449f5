from __future__ import annotations

import csv
from dataclasses import replace
from decimal import Decimal
from io import StringIO

import pytest

from trials.decide import Need, OrderLine, Parcel, SeedOrder
from trials.model.formula_escaping import inert
from trials.report.order_csv import HEADINGS, order_csv
from trials.report.order_page import parcel_table


def an_order(
    house: str = "Hollow Lane", item: str = "p1", variety: str = "Rosé, tall"
) -> SeedOrder:
    line = OrderLine(house, item, variety, 3, 50, Decimal("4.35"))
    parcel = Parcel(house, (line,), Decimal("6.90"))
    return SeedOrder((parcel,), (Need(variety, 140),), (), (), "EUR", None, Decimal("19.95"))


def test_one_row_a_line_and_one_for_shipping() -> None:
    rows = list(csv.DictReader(StringIO(order_csv(an_order()))))
    assert rows == [
        {
            "house": "Hollow Lane",
            "item": "p1",
            "variety": "Rosé, tall",
            "sold_as": "seed",
            "packs": "3",
            "seeds_per_pack": "50",
            "grams_per_pack": "",
            "seeds": "150",
            "currency": "EUR",
            "price_each": "4.35",
            "cost": "13.05",
        },
        {
            "house": "Hollow Lane",
            "item": "shipping",
            "variety": "",
            "sold_as": "",
            "packs": "",
            "seeds_per_pack": "",
            "grams_per_pack": "",
            "seeds": "",
            "currency": "EUR",
            "price_each": "",
            "cost": "6.90",
        },
    ]
    costs = sum(Decimal(row["cost"]) for row in rows)
    assert costs == an_order().total


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_no_cell_can_be_run_by_a_spreadsheet(start: str) -> None:
    risky = f"{start}HYPERLINK(1)"
    text = order_csv(an_order(house=risky, item=risky, variety=risky))
    rows = list(csv.reader(StringIO(text, newline="")))
    assert rows[0] == list(HEADINGS)
    assert rows[1][:3] == [f"'{risky}"] * 3
    assert rows[2][0] == f"'{risky}"
    assert not any(cell.startswith(start) for row in rows for cell in row if cell)


def test_plain_text_is_left_as_it_is() -> None:
    assert inert("Zinnia 'Tall' = best") == "Zinnia 'Tall' = best"
    assert inert("") == ""


def test_an_empty_order_is_a_heading() -> None:
    empty = SeedOrder((), (), (), (), None, None, Decimal("0.00"))
    assert order_csv(empty) == ",".join(f'"{heading}"' for heading in HEADINGS) + "\n"


def test_seed_sold_by_weight_says_what_a_pack_weighs() -> None:
    order = an_order()
    line = replace(order.lines[0], grams_per_pack=2.5)
    parcel = replace(order.parcels[0], lines=(line,))
    (first, _) = csv.DictReader(StringIO(order_csv(replace(order, parcels=(parcel,)))))
    assert (first["seeds_per_pack"], first["grams_per_pack"]) == ("50", "2.5")
    assert parcel_table(parcel).rows[0][3] == "50 (2.5 g)"
    assert parcel_table(order.parcels[0]).rows[0][3] == "50"
