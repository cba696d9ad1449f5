"""The winter plan as a page of text: what it earns, what to plant where, the order, and the why."""

from __future__ import annotations

from math import ceil

from trials.decide.planted import Planting, WinterChoice
from trials.report.figures import count, listed
from trials.report.grid import wrapped
from trials.report.order_page import money, parcel_sentence, parcel_table, turn_to_sentence
from trials.report.stock_words import stock_sentences, stock_table
from trials.report.winter_tables import (
    PLUGS_NOTE,
    by_day,
    earned_table,
    grown,
    in_money,
    markets_table,
    needs_table,
    plantings_table,
)


def winter_page(found: WinterChoice) -> str:
    """The plan, the order by house, and each line's grounds."""
    title = f"Winter plan for {found.season}"
    order = found.order
    parts = [
        f"{title}\n{'═' * len(title)}",
        wrapped(earns_sentence(found), ""),
        plantings_table(found).text(),
        *([wrapped(PLUGS_NOTE, "")] if any(each.plugs for each in found.plantings) else []),
        f"What the markets get, in an average season\n{markets_table(found).text()}",
        *(wrapped(words, "") for words in vase_sentences(found)),
        f"What each variety earns {_per_season(found)}\n{earned_table(found).text()}",
        "Seed to sow\n" + needs_table(found).text(),
        *([f"Seed in stock\n{stock_table(found.shelf).text()}"] if found.shelf else []),
        *(wrapped(words, "") for words in stock_sentences(found.shelf, found.season)),
        *(
            f"{parcel.house}\n{parcel_table(parcel).text()}\n"
            f"  {parcel_sentence(parcel, order.currency or '')}"
            for parcel in order.parcels
        ),
        wrapped(order_sentence(found), ""),
        *([wrapped(words, "")] if (words := instead_sentence(found)) else []),
        "Why\n" + "\n".join(wrapped(line, "  ") for line in grounds(found)),
    ]
    parts += [wrapped(words, "") for words in not_grown_sentences(found)]
    return "\n\n".join(parts) + "\n"


def earns_sentence(found: WinterChoice) -> str:
    """What the plan earns on average and in poor seasons, and how near it is to the best plan."""
    plan = found.plan
    return (
        f"Over {len(plan.net)} simulated seasons the plan earns {in_money(plan.expected, found)} "
        f"on average, and {in_money(plan.poor, found)} in the worst fifth of them. "
        + gap_sentence(found)
    )


def gap_sentence(found: WinterChoice) -> str:
    """How near the plan is to the best plan, and what earnings are."""
    gap = ceil(1000 * found.plan.gap) / 10
    return (
        f"No other plan within the limits earns over {max(gap, 0.1):.1f}% more on average. "
        "Earnings are sales less seed, raising, planting, picking and bed, at your own prices and "
        "costs. Stems short of what you promise a market are subtracted."
    )


def _per_season(found: WinterChoice) -> str:
    return f"({found.currency} per season)" if found.currency else "per season"


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
        f"{gap.variety}: {gap.seeds_short:,} {'plugs' if gap.plugs else 'seeds'} not ordered, "
        f"because {gap.reason}."
        for gap in order.unfilled
    ]
    return " ".join(said)


def instead_sentence(found: WinterChoice) -> str:
    """What to turn to for what cannot be had; '' where all can."""
    said = [
        f"{each.missing} would be reordered, but no seed house has it and none is in stock. "
        + (
            "The plan grows no other variety of its crop in its place."
            if each.instead is None
            else f"The plan grows {each.instead} in its place: "
            + (
                "tied with it for the best."
                if each.tied
                else "the best of the plan in the ranking, though not tied with it."
            )
        )
        for each in found.substitutes
    ]
    sold_out = turn_to_sentence(found.passed_over, (), found.order.currency or "")
    return " ".join([*said, *([sold_out] if sold_out else [])])


def not_grown_sentences(found: WinterChoice) -> list[str]:
    """Which varieties the plan does without, and which it never had before it."""
    said = []
    if found.not_grown:
        named = listed(list(found.not_grown), most=20)
        said.append(f"Considered, but not in the plan: {named}.")
    if found.left_out:
        named = listed([f"{variety} ({why})" for variety, why in found.left_out], most=20)
        said.append(f"Not considered for the plan: {named}.")
    return said


def vase_sentences(found: WinterChoice) -> list[str]:
    """What each market that asks for a vase life does not take, and why."""
    said = []
    for each in found.not_taken:
        asks = f"{each.outlet} asks for {each.least:g} days in the vase."
        if each.too_short_lived:
            named = [
                f"{name} ({_below(days, each.least)} days)" for name, days in each.too_short_lived
            ]
            asks += f" Not sold there, as tests found less: {listed(named, most=20)}."
        if each.untested:
            named = list(each.untested)
            asks += (
                f" Not sold there, as no vase life is recorded: {listed(named, most=20)}. Test a "
                "jar of stems and record it as a score."
            )
        said.append(asks)
    return said


def _below(days: float, least: float | None) -> str:
    """Days in as many decimals as it takes not to round them up to what is asked for."""
    return f"{days:.1f}" if least is None or round(days, 1) < least else f"{days:.2f}"


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
