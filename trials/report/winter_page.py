"""The winter plan as a page of text: what it earns, what to plant where, the order, and the why."""

from __future__ import annotations

from decimal import Decimal

from trials.decide.germination import Germination
from trials.decide.planted import Planting, WinterChoice
from trials.report.figures import count, listed, per_cent
from trials.report.grid import Column, Table, wrapped
from trials.report.order_page import money, parcel_sentence, parcel_table


def winter_page(found: WinterChoice) -> str:
    """The plan, the order by house, and each line's grounds."""
    title = f"Winter plan for {found.season}"
    order = found.order
    parts = [
        f"{title}\n{'═' * len(title)}",
        wrapped(earns_sentence(found), ""),
        plantings_table(found).text(),
        "Seed to sow\n" + needs_table(found).text(),
        *(wrapped(germination_sentence(lot, test), "") for lot, test in found.tests),
        *(
            f"{parcel.house}\n{parcel_table(parcel).text()}\n"
            f"  {parcel_sentence(parcel, order.currency or '')}"
            for parcel in order.parcels
        ),
        wrapped(order_sentence(found), ""),
        "Why\n" + "\n".join(wrapped(line, "  ") for line in grounds(found)),
    ]
    if found.left_out:
        named = [f"{variety} ({why})" for variety, why in found.left_out]
        parts.append(wrapped(f"No candidates: {listed(named, most=20)}.", ""))
    return "\n\n".join(parts) + "\n"


def earns_sentence(found: WinterChoice) -> str:
    """What the plan earns on average and in poor seasons, and how near it is to the best plan."""
    plan = found.plan
    return (
        f"Over {len(plan.net)} drawn seasons the plan earns {_money(plan.expected, found)} on "
        f"average, and {_money(plan.poor, found)} in the worst fifth of them. No plan within the "
        f"limits earns more than {100 * plan.gap:.1f}% above it on average. Earnings are sales "
        "less seed, raising, planting, picking and bed at the farm's own prices and costs; stems "
        "missing from what a market wants at least are taken off."
    )


def plantings_table(found: WinterChoice) -> Table:
    """One row per sowing and bed, in the order of planting."""
    columns = (
        Column("sow"),
        Column("plant out"),
        Column("bed"),
        Column("variety"),
        Column("crop"),
        Column("metres", right=True),
        Column("plants", right=True),
        Column("first cut"),
        Column("stems expected", right=True),
    )
    rows = tuple(
        (
            "not known" if each.days.sow is None else each.days.sow.isoformat(),
            each.days.plant_out.isoformat(),
            each.bed,
            grown(each),
            each.crop,
            f"{each.metres:.1f}",
            f"{each.plants:,}",
            each.days.first_cut.isoformat(),
            f"{each.stems * each.metres:,.0f}",
        )
        for each in by_day(found)
    )
    return Table(columns, rows)


def by_day(found: WinterChoice) -> tuple[Planting, ...]:
    """The plantings in the order in which they are planted out."""
    return tuple(
        sorted(
            found.plantings, key=lambda one: (one.days.plant_out, one.bed, one.crop, one.variety)
        )
    )


def grown(each: Planting) -> str:
    """The variety and how it is grown."""
    return f"{each.variety}, {each.treatment}" if each.treatment else each.variety


def needs_table(found: WinterChoice) -> Table:
    """One row per variety: its plants and seeds over all sowings."""
    columns = (
        Column("variety"),
        Column("plants", right=True),
        Column("germination", right=True),
        Column("seeds to sow", right=True),
        Column("on hand", right=True),
        Column("to buy", right=True),
        Column("ordered", right=True),
    )
    rows = tuple(
        (
            need.variety,
            f"{need.plants_set:,}",
            per_cent(need.germination) + (" assumed" if need.germination_assumed else ""),
            f"{need.seeds:,}",
            f"{need.on_hand:,}",
            f"{need.to_buy:,}",
            f"{found.order.seeds_of(need.variety):,}",
        )
        for need in found.needs
    )
    return Table(columns, rows)


def germination_sentence(lot: str, test: Germination) -> str:
    """A lot's tested rate with its limits, and whether its replicates agree."""
    said = (
        f"Seed lot {lot}: {test.germinated:,} of {test.seeds:,} seeds germinated, "
        f"{per_cent(test.rate)} (95% limits {per_cent(test.low)} to {per_cent(test.high)})."
    )
    if test.agree is None:
        return f"{said} One replicate only, so nothing shows whether it repeats."
    if test.agree:
        return f"{said} The replicates agree."
    return f"{said} The replicates differ more than chance explains: test the lot again."


def order_sentence(found: WinterChoice) -> str:
    """What the whole order costs and what it lacks."""
    order, currency = found.order, found.order.currency or ""
    if not order.parcels:
        said = ["No seed is to be bought."]
    else:
        proof = (
            "the cheapest mix of packets for all crops together"
            if not order.most_above_cheapest
            else f"at most {money(order.most_above_cheapest, currency)} above the cheapest mix"
        )
        houses = count(len(order.parcels), "house")
        said = [f"Total {money(order.total, currency)} from {houses}, shipping included: {proof}."]
    said += [
        f"{gap.variety}: {gap.seeds_short:,} seeds not ordered, because {gap.reason}."
        for gap in order.unfilled
    ]
    return " ".join(said)


def grounds(found: WinterChoice) -> list[str]:
    """What each variety's line rests on, down to its plots and cuts."""
    seen: set[tuple[str, str, bool]] = set()
    lines = []
    for each in by_day(found):
        curve = each.curve
        key = (each.variety, each.treatment, curve.assumed)
        if key in seen:
            continue
        seen.add(key)
        low, high = _between(each)
        lines.append(
            f"{grown(each)}: {each.stems:.0f} stems per metre expected, in 8 of 10 seasons "
            f"{low:.0f} to {high:.0f}. From {count(curve.cuts, 'recorded cut')} on "
            f"{count(len(curve.plots), 'plot')} of {listed(list(curve.trials), most=20)}: "
            f"{listed(list(curve.plots), most=40)}."
            + (
                " Assumed: no plot was planted within three weeks of this day, so other planting "
                "days stand in, cut for the weeks until frost."
                if curve.assumed
                else ""
            )
        )
    return lines


def _between(each: Planting) -> tuple[float, float]:
    import numpy as np

    whole = each.curve.stems.sum(axis=(1, 2))
    ratio = each.stems / whole.mean() if whole.mean() > 0 else 0.0
    low, high = np.quantile(whole * ratio, [0.1, 0.9])
    return float(low), float(high)


def _money(amount: float, found: WinterChoice) -> str:
    return money(Decimal(f"{amount:.2f}"), found.currency)
