"""Standings and seed orders as JSON documents: what a page says, for programs."""

from __future__ import annotations

from datetime import datetime

from trials.decide import Choice, JointOrdering, Ordering, SeedOrder
from trials.decide.planted import WinterChoice
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
            "minimum_length_cm": choice.minimum_length_cm,
            "trials": choice.trials,
            "rules": choice.rules,
            "lacking_for_money": choice.lacking,
            "season_to_season": outlook.variation,
            "length_season_to_season": outlook.length_variation,
            "draws": outlook.draws,
            "seed": outlook.seed,
            "standings": choice.standings,
            "growing": choice.growing,
            "vase_life": choice.vase_life,
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
            "parcels": _parcels(order),
            "unfilled": order.unfilled,
            "price_lists": _price_lists(ordering),
            "left_out": order.left_out,
            "too_short": ordering.too_short,
            "unavailable": order.unavailable,
            "passed_over": ordering.passed_over,
            "substitutes": ordering.substitutes,
            "seed_in_stock": ordering.shelf,
            "budget": order.budget,
            "total": order.total,
            "cost_in_full": order.cost_in_full,
        }
    )


def joint_document(joint: JointOrdering) -> Plain:
    """One order for several crops: each crop's needs, then the order house by house."""
    order, first = joint.order, joint.crops[0]
    return plain(
        {
            "next_season": first.next_season,
            "crops": [
                {
                    "crop": each.crop,
                    "sowing": each.sowing,
                    "plants_per_metre": each.plants_per_metre,
                    "needs": each.needs,
                    "too_short": each.too_short,
                    "passed_over": each.passed_over,
                    "substitutes": each.substitutes,
                    "seed_in_stock": each.shelf,
                }
                for each in joint.crops
            ],
            "currency": order.currency,
            "parcels": _parcels(order),
            "unfilled": order.unfilled,
            "price_lists": _price_lists(first),
            "left_out": order.left_out,
            "unavailable": order.unavailable,
            "budget": order.budget,
            "total": order.total,
            "cost_in_full": order.cost_in_full,
            "cost_crop_by_crop": joint.apart,
        }
    )


def _price_lists(ordering: Ordering) -> list[dict[str, object]]:
    return [{"house": house, "price_year": year} for house, year in ordering.price_lists]


def _parcels(order: SeedOrder) -> list[dict[str, object]]:
    return [
        {
            "house": parcel.house,
            "lines": [
                {
                    "item": line.item,
                    "variety": line.variety,
                    "packs": line.packs,
                    "seeds_per_pack": line.seeds_per_pack,
                    "sold_as": "plugs" if line.plugs else "seed",
                    "grams_per_pack": line.grams_per_pack,
                    "seeds": line.seeds,
                    "price_each": line.price_each,
                    "cost": line.cost,
                }
                for line in parcel.lines
            ],
            "goods": parcel.goods,
            "shipping": parcel.shipping,
            "total": parcel.total,
        }
        for parcel in order.parcels
    ]


def winter_document(found: WinterChoice) -> Plain:
    """The winter plan as ``winter --json`` prints it; money in the farm's and the order's own."""
    plan, order = found.plan, found.order
    return plain(
        {
            "season": found.season,
            "currency": found.currency,
            "expected_net": plan.expected,
            "poor_season_net": plan.poor,
            "gap": plan.gap,
            "seasons_drawn": len(plan.net),
            "plantings": [
                {
                    "crop": each.crop,
                    "variety": each.variety,
                    "treatment": each.treatment,
                    "bed": each.bed,
                    "metres": each.metres,
                    "plants": each.plants,
                    "seeds": each.seeds,
                    "plugs": each.plugs,
                    "stems_per_metre": each.stems,
                    "days": each.days,
                    "plots": each.curve.plots,
                    "trials": each.curve.trials,
                    "cuts": each.curve.cuts,
                    "assumed": each.curve.assumed,
                }
                for each in found.plantings
            ],
            "needs": found.needs,
            "seed_in_stock": found.shelf,
            "order": {
                "currency": order.currency,
                "parcels": _parcels(order),
                "unfilled": order.unfilled,
                "total": order.total,
                "most_above_cheapest": order.most_above_cheapest,
            },
            "markets": [
                {
                    "market": outlet.market,
                    "crops": sorted(outlet.prices),
                    "colours": sorted(outlet.colours),
                    "refused": sorted(outlet.refused),
                    "stems_by_week": found.sold.stems[place].tolist(),
                    "at_least": outlet.at_least.tolist(),
                    "at_most": outlet.at_most.tolist(),
                    "missing_by_week": found.sold.missing[place].tolist(),
                }
                for place, outlet in enumerate(found.winter.outlets)
            ],
            "earned": [
                {
                    "crop": each.crop,
                    "variety": each.variety,
                    "metres": each.metres,
                    "sales": each.sales,
                    "costs": each.costs,
                    "net": each.net,
                }
                for each in found.earned
            ],
            "vase_life": found.not_taken,
            "passed_over": found.passed_over,
            "substitutes": found.substitutes,
            "no_candidates": [{"variety": name, "why": why} for name, why in found.left_out],
        }
    )
