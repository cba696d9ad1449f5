"""The seed order as a page of text: from beds to seeds, then house by house."""

from __future__ import annotations

from decimal import Decimal

from trials.decide import Ordering, OrderLine, Packet, Parcel, PassedOver, StemsWanted, Substitute
from trials.report.figures import count, listed, per_cent
from trials.report.grid import Column, Table, wrapped
from trials.units import UnitSystem, m_to_feet, per_m_to_per_foot


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
    if said := unavailable_sentence(ordering):
        parts.append(wrapped(said, ""))
    return "\n\n".join(parts) + "\n"


def unavailable_sentence(ordering: Ordering) -> str:
    """What cannot be had, and what to turn to instead; '' where all can be had."""
    said = [_passed_over(each) for each in ordering.passed_over]
    said += [_instead_of(each, ordering.order.currency or "") for each in ordering.substitutes]
    return " ".join(said)


def _passed_over(each: PassedOver) -> str:
    gone, instead = each.gone, each.instead
    head = f"Passed over, as {gone.house} has none: {gone.item} ({gone.variety}, {_by_100(gone)})."
    if instead is None:
        return f"{head} Nobody else has {gone.variety}."
    where = "the same house has it" if instead.house == gone.house else f"{instead.house} has it"
    return f"{head} Cheapest instead, {where}: {instead.item}, {_by_100(instead)}."


def _by_100(packet: Packet) -> str:
    figure = Decimal(f"{packet.price_of_100:.2f}")
    return f"{packet.seeds:,} seeds at {money(figure, packet.currency)} a hundred"


def _instead_of(each: Substitute, currency: str) -> str:
    if each.instead is None or each.seed_price is None:
        return f"No other candidate of the trials can be had in place of {each.missing}."
    how = (
        "tied with it for the best"
        if each.tied
        else f"the next of the standings, though not tied with {each.missing}"
    )
    price = money(Decimal(f"{100 * each.seed_price:.2f}"), currency)
    return (
        f"In place of {each.missing} you could order {each.instead}, {how} (from {price} a hundred "
        "seeds). It is not in this order: to have it, name it among the varieties you want."
    )


def beds_sentence(ordering: Ordering, system: UnitSystem = UnitSystem.METRIC) -> str:
    """What is sown and how seed turns into plants."""
    sowing = ordering.sowing
    shared = listed([need.variety for need in ordering.needs if need.bed_metres is not None])
    again = [need.variety for need in ordering.needs if need.bed_metres is None]
    plots = (
        f" For next season's trial, {sowing.trial_plants} plants each of {listed(again)}."
        if again
        else ""
    )
    return _wanted(sowing.wanted) + (
        f"{_length(sowing.bed_metres, system)} of bed, sown {count(sowing.successions, 'time')}, "
        f"shared by {shared}. {_density(ordering.plants_per_metre, system)}; "
        f"{per_cent(sowing.usable)} of the seedlings usable; "
        f"{per_cent(sowing.overage)} more seed to be safe.{plots}"
    )


def _wanted(wanted: StemsWanted | None) -> str:
    """From the stems wanted to the plants set; '' where the bed was named."""
    if wanted is None:
        return ""
    return (
        f"{wanted.stems:,.0f} stems take {wanted.plants:,} plants at {wanted.stems_per_plant:.1f} "
        f"stems each, what a poor season still gives, and {wanted.plants_set:,} to set, as "
        f"{per_cent(wanted.survival)} lived in the newest trial. "
    )


def _length(metres: float, system: UnitSystem) -> str:
    return f"{m_to_feet(metres):.0f} ft" if system is UnitSystem.US else f"{metres:.4g} m"


def _density(per_metre: float, system: UnitSystem) -> str:
    if system is UnitSystem.US:
        return f"{per_m_to_per_foot(per_metre):.2f} plants a foot of bed"
    return f"{per_metre:.1f} plants a metre of bed"


def needs_table(ordering: Ordering, system: UnitSystem = UnitSystem.METRIC) -> Table:
    """One row a variety, from its bed to the seeds ordered for it."""
    columns = (
        Column("variety"),
        Column("bed each time", right=True),
        Column("plants", right=True),
        Column("germination", right=True),
        Column("seeds to sow", right=True),
        Column("seeds ordered", right=True),
    )
    rows = tuple(
        (
            need.variety,
            "trial plots" if need.bed_metres is None else _length(need.bed_metres, system),
            f"{need.plants_set:,}",
            per_cent(need.germination) + (" assumed" if need.germination_assumed else ""),
            f"{need.seeds:,}" + (f" ({need.on_hand:,} on hand)" if need.on_hand else ""),
            f"{ordering.order.seeds_of(need.variety):,}",
        )
        for need in ordering.needs
    )
    return Table(columns, rows)


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
        Column("packs", right=True),
        Column("seeds a pack", right=True),
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
    """The seeds of a pack, with its weight where it is sold by weight."""
    weight = "" if line.grams_per_pack is None else f" ({line.grams_per_pack:g} g)"
    return f"{line.seeds_per_pack:,}{weight}"


def parcel_sentence(parcel: Parcel, currency: str) -> str:
    """What one house's parcel costs."""
    carriage = "free" if not parcel.carriage else money(parcel.carriage, currency)
    return (
        f"goods {money(parcel.goods, currency)}, carriage {carriage}, "
        f"together {money(parcel.total, currency)}"
    )


def total_sentence(ordering: Ordering) -> str:
    """What it all costs, and what a budget had to leave out."""
    order = ordering.order
    currency = order.currency or ""
    if not order.parcels:
        lines = ["Nothing is ordered."]
    else:
        houses = count(len(order.parcels), "house")
        lines = [
            f"Total {money(order.total, currency)} from {houses}, carriage included: the cheapest "
            "mix of packets that covers these seeds."
            if not order.unfilled
            else f"Total {money(order.total, currency)} from {houses}, carriage included."
        ]
    lines += [
        f"{short.variety}: {short.seeds_short:,} of {short.seeds_wanted:,} seeds not ordered, "
        f"because {short.reason}."
        for short in order.unfilled
    ]
    if order.cost_of_the_rest > 0:
        lines.append(
            f"Ordering the rest would cost {money(order.cost_of_the_rest, currency)} more."
        )
    return "\n".join(lines)
