"""The seed order as a CSV file that any spreadsheet opens, with no cell it could run."""

from __future__ import annotations

import csv
from io import StringIO
from typing import TYPE_CHECKING

from trials.model.formula_escaping import inert
from trials.model.trial import SoldAs

if TYPE_CHECKING:
    from trials.decide import SeedOrder

HEADINGS = (
    "house",
    "item",
    "variety",
    "sold_as",
    "packs",
    "seeds_per_pack",
    "grams_per_pack",
    "seeds",
    "currency",
    "price_each",
    "cost",
)


def order_csv(order: SeedOrder) -> str:
    """One row an order line, and one for the shipping of each house; figures bare, text quoted.

    A text that a spreadsheet would take for a formula gets a leading apostrophe (OWASP, CSV
    Injection).
    """
    text = StringIO(newline="")
    # Quoting every text keeps a stray carriage return inside its cell.
    writer = csv.writer(text, lineterminator="\n", quoting=csv.QUOTE_NONNUMERIC)
    writer.writerow(HEADINGS)
    currency = inert(order.currency or "")
    for parcel in order.parcels:
        house = inert(parcel.house)
        for line in parcel.lines:
            writer.writerow(
                (
                    house,
                    inert(line.item),
                    inert(line.variety),
                    (SoldAs.PLUGS if line.plugs else SoldAs.SEED).value,
                    line.packs,
                    line.seeds_per_pack,
                    "" if line.grams_per_pack is None else line.grams_per_pack,
                    line.seeds,
                    currency,
                    line.price_each,
                    line.cost,
                )
            )
        writer.writerow((house, "shipping", "", "", "", "", "", "", currency, "", parcel.shipping))
    return text.getvalue()
