"""The winter plan's tables: what is planted, what each market gets, and what each variety earns."""

from __future__ import annotations

from decimal import Decimal

from trials.decide.planted import Planting, WinterChoice
from trials.decide.winter import Outlet
from trials.model.units import UnitSystem, m_to_feet
from trials.report.figures import listed
from trials.report.grid import Column, Table
from trials.report.order_page import germination_words, money, units_words

PLUGS_NOTE = (
    "Plugs are young plants that are bought. They arrive a few days before they are planted out, "
    "to harden off (common practice); nothing is sown of them."
)


def plantings_table(found: WinterChoice, system: UnitSystem = UnitSystem.METRIC) -> Table:
    """One row per sowing and bed, in the order of planting."""
    columns = (
        Column("sow, or plugs arrive" if any(e.plugs for e in found.plantings) else "sow"),
        Column("plant out"),
        Column("bed"),
        Column("variety"),
        Column("crop"),
        Column("feet" if system is UnitSystem.US else "metres", right=True),
        Column("plants", right=True),
        Column("first cut"),
        Column("stems expected", right=True),
    )
    rows = tuple(
        (
            begins_words(each) or "not known",
            each.days.plant_out.isoformat(),
            each.bed,
            grown(each),
            each.crop,
            length(each.metres, system),
            f"{each.plants:,}",
            each.days.first_cut.isoformat(),
            f"{each.stems * each.metres:,.0f}",
        )
        for each in by_day(found)
    )
    return Table(columns, rows)


def begins_words(each: Planting) -> str:
    """The day on which a planting is sown, or on which its plugs arrive; '' where not known."""
    day = each.days.begins
    if day is None:
        return ""
    return f"plugs {day.isoformat()}" if each.plugs else day.isoformat()


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


def length(metres: float, system: UnitSystem = UnitSystem.METRIC) -> str:
    """A length of bed as a bare figure."""
    return f"{m_to_feet(metres) if system is UnitSystem.US else metres:.1f}"


def needs_table(found: WinterChoice) -> Table:
    """One row per variety: its plants and seeds over all sowings."""
    columns = (
        Column("variety"),
        Column("plants", right=True),
        Column("germination", right=True),
        Column("seeds to sow", right=True),
        Column("in stock", right=True),
        Column("to buy", right=True),
        Column("ordered", right=True),
    )
    rows = tuple(
        (
            need.variety,
            f"{need.plants_set:,}",
            germination_words(need),
            "none" if need.plugs else f"{need.seeds:,}",
            f"{need.on_hand:,}",
            units_words(need.to_buy, plugs=need.plugs),
            units_words(found.order.seeds_of(need.variety), plugs=need.plugs),
        )
        for need in found.needs
    )
    return Table(columns, rows)


def markets_table(found: WinterChoice) -> Table:
    """One row per wish of a market: its stems over all weeks, in an average season."""
    columns = (
        Column("market"),
        Column("weeks"),
        Column("stems sold", right=True),
        Column("market takes", right=True),
        Column("short of promise", right=True),
    )
    rows = []
    for place, outlet in enumerate(found.winter.outlets):
        weeks = [week + 1 for week, most in enumerate(outlet.at_most) if most > 0]
        rows.append(
            (
                outlet_words(outlet),
                f"{weeks[0]} to {weeks[-1]}" if weeks else "none",
                f"{found.sold.stems[place].sum():,.0f}",
                f"{outlet.at_most.sum():,.0f}",
                f"{found.sold.missing[place].sum():,.0f}",
            )
        )
    return Table(columns, tuple(rows))


def outlet_words(outlet: Outlet) -> str:
    """A market with the crops, and the colours if not all, that it takes here."""
    crops = listed(sorted(outlet.prices), most=20)
    colours = f" ({listed(sorted(outlet.colours), most=20)})" if outlet.colours else ""
    return f"{outlet.market}: {crops}{colours}"


def earned_table(found: WinterChoice) -> Table:
    """One row per variety: what its stems bring, what it costs, and what is left; then the sum."""
    columns = (
        Column("variety"),
        Column("crop"),
        Column("sales", right=True),
        Column("costs", right=True),
        Column("net", right=True),
    )
    earned, charges = found.earned, found.sold.charges
    rows = [_earned_row(each.variety, each.crop, each.sales, each.costs) for each in earned]
    if charges >= 0.5:
        rows.append(_earned_row("stems short of what you promise", "", 0.0, charges))
    sales, costs = sum(each.sales for each in earned), sum(each.costs for each in earned)
    rows.append(_earned_row("total", "", sales, costs + charges))
    return Table(columns, tuple(rows))


def _earned_row(of: str, crop: str, sales: float, costs: float) -> tuple[str, ...]:
    amounts = (f"{round(n):,}".replace("-", "−") for n in (sales, costs, sales - costs))
    return (of, crop, *amounts)


def in_money(amount: float, found: WinterChoice) -> str:
    """An amount in the farm's own currency."""
    return money(Decimal(f"{amount:.2f}"), found.currency)
