"""Standings and seed orders as JSON documents: what a page says, for programs."""

from __future__ import annotations

from datetime import datetime

from trials.decide import Choice, Ordering
from trials.report.history_page import as_known_document
from trials.report.plain import Plain, plain


def choice_document(choice: Choice, as_known_at: datetime | int | None = None) -> Plain:
    """The standings and what they were drawn from, without the draws themselves.

    ``as_known_at`` is the time, or the entry, of which the records are; None: of now.
    """
    outlook = choice.outlook
    return plain(
        {
            "crop": choice.crop,
            "next_season": choice.next_season,
            "as_known_at": as_known_document(as_known_at),
            "measure": choice.measure.key,
            "unit": choice.measure.unit,
            "check": choice.check,
            "shortest_length_cm": choice.shortest_length_cm,
            "trials": choice.trials,
            "rules": choice.rules,
            "swing": outlook.swing,
            "length_swing": outlook.length_swing,
            "draws": outlook.draws,
            "seed": outlook.seed,
            "standings": choice.standings,
        }
    )


def ordering_document(ordering: Ordering) -> Plain:
    """The order, house by house, with the needs it covers and its totals."""
    order = ordering.order
    return plain(
        {
            "crop": ordering.crop,
            "next_season": ordering.next_season,
            "sowing": ordering.sowing,
            "plants_per_metre": ordering.plants_per_metre,
            "needs": ordering.needs,
            "currency": order.currency,
            "parcels": [
                {
                    "house": parcel.house,
                    "lines": [
                        {
                            "item": line.item,
                            "variety": line.variety,
                            "packs": line.packs,
                            "seeds_per_pack": line.seeds_per_pack,
                            "grams_per_pack": line.grams_per_pack,
                            "seeds": line.seeds,
                            "price_each": line.price_each,
                            "cost": line.cost,
                        }
                        for line in parcel.lines
                    ],
                    "goods": parcel.goods,
                    "carriage": parcel.carriage,
                    "total": parcel.total,
                }
                for parcel in order.parcels
            ],
            "unfilled": order.unfilled,
            "unavailable": order.unavailable,
            "passed_over": ordering.passed_over,
            "substitutes": ordering.substitutes,
            "budget": order.budget,
            "total": order.total,
            "cost_in_full": order.cost_in_full,
        }
    )
