"""The seed order on paper: a section for each house to order by, a box to tick beside each line."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from pathlib import Path

from trials.decide import OrderLine, Parcel, SeedOrder, UnfilledReason
from trials.model.units import PaperSize
from trials.model.work_safety import ORDERING, cautions
from trials.paper.page import TICK_BOX, Column, Sheet

WHY_UNFILLED = {
    UnfilledReason.NOT_LISTED: "no price list used here has it",
    UnfilledReason.NOT_AVAILABLE: "it is listed, but not available",
    UnfilledReason.OTHER_CURRENCY: "only seed houses in another currency have it",
    UnfilledReason.OVER_BUDGET: "cut to stay within the budget",
}


def write_order_sheet(
    order: SeedOrder,
    title: str,
    farm: str,
    path: Path,
    *,
    on: date,
    size: PaperSize = PaperSize.A4,
) -> None:
    """Write ``order`` as a PDF to print and order by.

    One section a house with its lines, goods, shipping and total; then the whole sum, what was
    left out and why, and items that are not available. ``on`` is the date printed on it.
    A place that cannot be written is a `FileRefused`.
    """
    sheet = Sheet(title, farm, on, size)
    currency = order.currency or ""
    for parcel in order.parcels:
        _parcel(sheet, parcel, currency)
    if order.parcels:
        sheet.ln(2)
        sheet.say(" ".join(cautions(*ORDERING)))
    else:
        sheet.say("Nothing is ordered.")
    _sum(sheet, order, currency)
    _left_out(sheet, order)
    sheet.save(path)


def _parcel(sheet: Sheet, parcel: Parcel, currency: str) -> None:
    sheet.section(parcel.house)
    sheet.say("Ordered on ____________________     Arrived on ____________________")
    sheet.ln(2)
    rows = [
        (
            TICK_BOX,
            _item(line),
            line.variety,
            f"{line.packs}",
            f"{line.seeds_per_pack:,}",
            f"{line.seeds:,}",
            _money(line.price_each),
            _money(line.cost),
        )
        for line in parcel.lines
    ]
    what = "Seeds or plugs" if any(line.plugs for line in parcel.lines) else "Seeds"
    shipping = "free" if not parcel.shipping else _money(parcel.shipping)
    sheet.grid(
        (
            Column("", 3),
            Column("Item", 12),
            Column("Variety", 16),
            Column("Packets", 6, figures=True),
            Column(f"{what} per packet", 7, figures=True),
            Column(what, 7, figures=True),
            Column("Price each", 7, figures=True),
            Column(f"Cost {currency}".strip(), 8, figures=True),
        ),
        rows,
        (
            ("", "Goods", "", "", "", "", "", _money(parcel.goods)),
            ("", "Shipping", "", "", "", "", "", shipping),
            ("", "To pay", "", "", "", "", "", _money(parcel.total)),
        ),
    )


def _item(line: OrderLine) -> str:
    """The item, with its weight where it is sold by weight, and whether it is plugs."""
    if line.plugs:
        return f"{line.item} (plugs)"
    return line.item if line.grams_per_pack is None else f"{line.item} ({line.grams_per_pack:g} g)"


def _sum(sheet: Sheet, order: SeedOrder, currency: str) -> None:
    sheet.section("The whole order")
    sheet.grid(
        (
            Column("Seed house", 20),
            Column("Goods", 8, figures=True),
            Column("Shipping", 8, figures=True),
            Column(f"To pay {currency}".strip(), 8, figures=True),
        ),
        [(p.house, _money(p.goods), _money(p.shipping), _money(p.total)) for p in order.parcels],
        [("Total", _money(order.goods), _money(order.shipping), _money(order.total))],
    )
    if order.budget is not None:
        sheet.ln(2)
        sheet.say(
            f"Budget {_money(order.budget)} {currency}; left "
            f"{_money(order.budget - order.total)} {currency}."
        )
        if order.cost_of_the_rest > 0:
            sheet.say(
                f"The order in full would cost {_money(order.cost_in_full)} {currency}, "
                f"{_money(order.cost_of_the_rest)} {currency} more."
            )


def _left_out(sheet: Sheet, order: SeedOrder) -> None:
    if order.unfilled:
        sheet.section("Not ordered in full")
        sheet.grid(
            (
                Column("Variety", 18),
                Column("Why", 16),
                Column("Seeds wanted", 8, figures=True),
                Column("Ordered", 8, figures=True),
                Column("Missing", 8, figures=True),
            ),
            [
                (
                    gap.variety,
                    WHY_UNFILLED[gap.reason],
                    f"{gap.seeds_wanted:,}",
                    f"{gap.seeds_ordered:,}",
                    f"{gap.seeds_short:,}",
                )
                for gap in order.unfilled
            ],
        )
    passed_over = sorted({(i.house, i.item, i.variety) for i in order.unavailable})
    if passed_over:
        sheet.section("Not available this season")
        sheet.grid(
            (Column("Seed house", 12), Column("Item", 12), Column("Variety", 16)), passed_over
        )


def _money(amount: Decimal) -> str:
    return f"{amount:,.2f}"
