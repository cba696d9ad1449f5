"""The seed order as a page of text: from beds to seeds, then house by house."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from trials.decide import (
    JointOrdering,
    Ordering,
    OrderLine,
    Packet,
    Parcel,
    PassedOver,
    StemsWanted,
    Substitute,
    VarietyNeed,
)
from trials.model.trial import SoldAs
from trials.model.units import UnitSystem, m_to_feet, per_m_to_per_foot
from trials.report.figures import capital, count, listed, per_cent
from trials.report.grid import Column, Table, wrapped
from trials.report.stock_words import stock_sentences, stock_table


def order_page(ordering: Ordering, system: UnitSystem = UnitSystem.METRIC) -> str:
    """The way from bed to seed, each house's lines, and the total."""
    order = ordering.order
    title = f"Seed order for {ordering.crop}, {ordering.next_season}"
    currency = order.currency or ""
    parts = [
        f"{title}\n{'═' * len(title)}",
        wrapped(beds_sentence(ordering, system), indent=""),
        needs_table(ordering, system).text(),
        *(_parcel(parcel, currency) for parcel in order.parcels),
        total_sentence(ordering),
    ]
    if ordering.shelf:
        parts.append(f"Seed in stock\n{stock_table(ordering.shelf).text()}")
    stock = stock_sentences(ordering.shelf, ordering.next_season)
    parts += [wrapped(words, "") for words in stock]
    if lists := lists_sentence(ordering):
        parts.append(wrapped(lists, ""))
    said = (left_out_sentence, short_sentence, unavailable_sentence)
    parts += [wrapped(words, "") for each in said if (words := each(ordering))]
    return "\n\n".join(parts) + "\n"


def joint_page(joint: JointOrdering, system: UnitSystem = UnitSystem.METRIC) -> str:
    """Each crop's way from bed to seed, then the one order of all of them."""
    first = joint.crops[0]
    title = f"Seed order for {listed([each.crop for each in joint.crops], most=20)}"
    title += f", {first.next_season}"
    currency = joint.order.currency or ""
    parts = [f"{title}\n{'═' * len(title)}"]
    for each in joint.crops:
        heading = capital(each.crop)
        beds = wrapped(beds_sentence(each, system), indent="")
        parts += [f"{heading}\n{beds}", needs_table(each, system).text()]
    parts += [_parcel(parcel, currency) for parcel in joint.order.parcels]
    parts.append(total_sentence(first))
    parts += [
        wrapped(words, "")
        for words in (together_sentence(joint), lists_sentence(first), left_out_sentence(first))
        if words
    ]
    lots = tuple(lot for each in joint.crops for lot in each.shelf)
    if lots:
        parts.append(f"Seed in stock\n{stock_table(lots).text()}")
    parts += [wrapped(words, "") for words in stock_sentences(lots, first.next_season)]
    said = (short_sentence, unavailable_sentence)
    parts += [wrapped(words, "") for each in joint.crops for say in said if (words := say(each))]
    return "\n\n".join(parts) + "\n"


def together_sentence(joint: JointOrdering) -> str:
    """What one order saves against an order for each crop; '' where that is not known."""
    if joint.apart is None:
        return ""
    currency = joint.order.currency or ""
    saved = joint.apart - joint.order.total
    apart = money(joint.apart, currency)
    if not saved:
        return f"Ordered crop by crop, it would cost as much: {apart}."
    return f"Ordered crop by crop, it would cost {apart}: one order saves {money(saved, currency)}."


def lists_sentence(ordering: Ordering) -> str:
    """By which price list each house of the order is; '' where nothing is ordered."""
    used = {parcel.house for parcel in ordering.order.parcels}
    by_year: dict[int, list[str]] = {}
    for house, year in ordering.price_lists:
        if house in used:
            by_year.setdefault(year, []).append(house)
    said = [f"{year} ({listed(houses, most=20)})" for year, houses in sorted(by_year.items())]
    return f"Price lists used: {listed(said, most=20)}." if said else ""


def left_out_sentence(ordering: Ordering) -> str:
    """Which houses are left out for their currency; '' where none is."""
    houses = ordering.order.left_out
    if not houses:
        return ""
    named = listed([f"{house.name} ({house.currency})" for house in houses], most=20)
    return (
        f"Left out, as their prices are in another currency: {named}. To buy there, place a "
        "second order in that currency."
    )


def short_sentence(ordering: Ordering) -> str:
    """Which ordered varieties are too short to sell; '' where none is."""
    if not ordering.too_short:
        return ""
    return f"Ordered although too short to sell: {listed(list(ordering.too_short), most=20)}."


def unavailable_sentence(ordering: Ordering) -> str:
    """What cannot be had, and what to turn to instead; '' where all can be had."""
    currency = ordering.order.currency or ""
    return turn_to_sentence(ordering.passed_over, ordering.substitutes, currency)


def turn_to_sentence(
    passed_over: Iterable[PassedOver], substitutes: Iterable[Substitute], currency: str
) -> str:
    """What to turn to for items sold out and for varieties that cannot be had."""
    said = [_passed_over(each) for each in passed_over]
    said += [_instead_of(each, currency) for each in substitutes]
    return " ".join(said)


def _passed_over(each: PassedOver) -> str:
    gone, instead = each.gone, each.instead
    head = f"{gone.house} is sold out of {gone.item} ({gone.variety}, {_by_100(gone)})."
    if instead is None:
        return f"{head} No other house has {gone.variety}."
    where = "the same house" if instead.house == gone.house else instead.house
    return f"{head} The lowest price per seed now: {instead.item} from {where}, {_by_100(instead)}."


def _by_100(packet: Packet) -> str:
    figure = Decimal(f"{packet.price_of_100:.2f}")
    what = "plugs" if packet.sold_as is SoldAs.PLUGS else "seeds"
    return f"{packet.seeds:,} {what} at {money(figure, packet.currency)} per 100"


def _instead_of(each: Substitute, currency: str) -> str:
    if each.instead is None or each.seed_price is None:
        return f"No other variety that did well enough can replace {each.missing}."
    how = (
        "tied with it for the best"
        if each.tied
        else f"the next in the ranking, though not tied with {each.missing}"
    )
    price = money(Decimal(f"{100 * each.seed_price:.2f}"), currency)
    return (
        f"You could order {each.instead} instead of {each.missing}: {how} (from {price} per 100 "
        f"{'plugs' if each.plugs else 'seeds'}). It is not in this order. To order it, add it to "
        "the varieties you want."
    )


def _times(successions: int) -> str:
    return "sown once" if successions == 1 else f"sown {successions} times"


def beds_sentence(ordering: Ordering, system: UnitSystem = UnitSystem.METRIC) -> str:
    """What is sown and how seed turns into plants."""
    sowing = ordering.sowing
    shared = listed([need.variety for need in ordering.needs if need.bed_metres is not None])
    again = [need.variety for need in ordering.needs if need.bed_metres is None]
    plots = (
        f" For next season's trial, {sowing.trial_plants} plants each of {listed(again)}."
        if again
        else " No seed for trial plots is in this order."
        if sowing.trial_plants
        else ""
    )
    return _wanted(sowing.wanted) + (
        f"{_length(sowing.bed_metres, system)} of bed, {_times(sowing.successions)}, "
        f"shared by {shared}. {_density(ordering.plants_per_metre, system)}. "
        f"{per_cent(sowing.usable)} of the seedlings are usable, and "
        f"{per_cent(sowing.overage)} extra seed is sown to be safe.{plots}"
        + plugs_sentence(ordering.needs)
    )


def plugs_sentence(needs: Iterable[VarietyNeed]) -> str:
    """Which varieties are bought as plants, with a space before it; '' where none is."""
    plugs = [need.variety for need in needs if need.plugs]
    if not plugs:
        return ""
    return (
        f" Bought as plugs (young plants), one for each plant set, so nothing is sown of them: "
        f"{listed(plugs, most=20)}."
    )


def _wanted(wanted: StemsWanted | None) -> str:
    """From the stems wanted to the plants set; '' where the bed was named."""
    if wanted is None:
        return ""
    return (
        f"{wanted.stems:,.0f} stems take {wanted.plants:,} plants at {wanted.stems_per_plant:.1f} "
        f"stems each, a poor season's yield. Set {wanted.plants_set:,}, as "
        f"{per_cent(wanted.survival)} survived in the newest trial. {_shares(wanted)}"
    )


def _shares(wanted: StemsWanted) -> str:
    """What later sowings give; '' where there is one."""
    if len(wanted.shares) == 1:
        return ""
    each = listed([per_cent(share) for share in wanted.shares], most=20)
    said = f"The sowings yield {each} of a full season's stems, as later ones have fewer weeks. "
    later = wanted.recorded[1:]
    if any(later):
        said += f"The records say so: {count(sum(later), 'plot')} planted as late. "
    if not all(later):
        which = "Assumed" if not any(later) else "Assumed of the others"
        said += (
            f"{which}: each starts later by as many days as it is sown later, and all end when the "
            "trials ended. "
        )
    return said


def _length(metres: float, system: UnitSystem) -> str:
    return f"{m_to_feet(metres):.0f} ft" if system is UnitSystem.US else f"{metres:.4g} m"


def _density(per_metre: float, system: UnitSystem) -> str:
    if system is UnitSystem.US:
        return f"{per_m_to_per_foot(per_metre):.2f} plants per foot of bed"
    return f"{per_metre:.1f} plants per metre of bed"


def needs_table(ordering: Ordering, system: UnitSystem = UnitSystem.METRIC) -> Table:
    """One row a variety, from its bed to the seeds ordered for it.

    Seed in stock may germinate worse than seed bought, so what is to buy is said beside it.
    """
    stocked = any(need.on_hand for need in ordering.needs)
    columns = (
        Column("variety"),
        Column("bed per sowing", right=True),
        Column("plants", right=True),
        Column("germination", right=True),
        Column("seeds to sow", right=True),
        *((Column("in stock", right=True), Column("to buy", right=True)) if stocked else ()),
        Column("seeds ordered", right=True),
    )
    rows = tuple(
        (
            need.variety,
            "trial plots" if need.bed_metres is None else _length(need.bed_metres, system),
            f"{need.plants_set:,}",
            germination_words(need),
            "none" if need.plugs else f"{need.seeds:,}",
            *(_stocked_cells(need) if stocked else ()),
            units_words(ordering.order.seeds_of(need.variety), plugs=need.plugs),
        )
        for need in ordering.needs
    )
    return Table(columns, rows)


def germination_words(need: VarietyNeed) -> str:
    """The germination that a variety's seed is counted at; that plugs need none."""
    if need.plugs:
        return "bought as plugs"
    return per_cent(need.germination) + (" assumed" if need.germination_assumed else "")


def units_words(number: int, *, plugs: bool) -> str:
    """A number of seeds as a bare figure, of plugs with their name."""
    return f"{number:,} plugs" if plugs else f"{number:,}"


def _stocked_cells(need: VarietyNeed) -> tuple[str, str]:
    return f"{need.on_hand:,}", units_words(need.to_buy, plugs=need.plugs)


def money(amount: Decimal, currency: str) -> str:
    """An amount to the cent with its currency."""
    return f"{amount:,.2f} {currency}".strip()


def _parcel(parcel: Parcel, currency: str) -> str:
    table = parcel_table(parcel).text()
    return f"{parcel.house}\n{table}\n  {parcel_sentence(parcel, currency)}"


def parcel_table(parcel: Parcel) -> Table:
    """What is ordered at one house, one row an item."""
    columns = (
        Column("item"),
        Column("variety"),
        Column("packets", right=True),
        Column("seeds per packet", right=True),
        Column("each", right=True),
        Column("cost", right=True),
    )
    rows = tuple(
        (
            line.item,
            line.variety,
            str(line.packs),
            seeds_a_pack(line),
            f"{line.price_each:,.2f}",
            f"{line.cost:,.2f}",
        )
        for line in parcel.lines
    )
    return Table(columns, rows)


def seeds_a_pack(line: OrderLine) -> str:
    """The seeds of a pack, with its weight where it is sold by weight; the plugs of a tray."""
    weight = "" if line.grams_per_pack is None else f" ({line.grams_per_pack:g} g)"
    return f"{units_words(line.seeds_per_pack, plugs=line.plugs)}{weight}"


def parcel_sentence(parcel: Parcel, currency: str) -> str:
    """What one house's parcel costs."""
    shipping = "free" if not parcel.shipping else money(parcel.shipping, currency)
    return (
        f"goods {money(parcel.goods, currency)}, shipping {shipping}, "
        f"together {money(parcel.total, currency)}"
    )


def total_sentence(ordering: Ordering) -> str:
    """What it all costs, and what a budget had to leave out."""
    order = ordering.order
    currency = order.currency or ""
    if not order.parcels:
        lines = ["Nothing is ordered."]
    else:
        houses = count(len(order.parcels), "seed house")
        total = f"Total {money(order.total, currency)} from {houses}, shipping included"
        if order.unfilled:  # an order that lacks seed is compared with no other
            lines = [f"{total}."]
        elif order.most_above_cheapest:
            gap = money(order.most_above_cheapest, currency)
            lines = [f"{total}: at most {gap} above the cheapest packets."]
        else:
            lines = [f"{total}: the cheapest packets that give enough seed."]
    lines += [
        f"{short.variety}: {short.seeds_short:,} of {short.seeds_wanted:,} "
        f"{'plugs' if short.plugs else 'seeds'} not ordered, because {short.reason}."
        for short in order.unfilled
    ]
    if order.cost_of_the_rest > 0:
        lines.append(
            f"Ordering the rest would cost {money(order.cost_of_the_rest, currency)} more."
        )
    return "\n".join(lines)
