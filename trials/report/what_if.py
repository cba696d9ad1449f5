"""What a choice, an order or a winter plan would be under other prices and limits, next to now."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from trials.decide import Ordering, Standing
from trials.decide.planted import WinterChoice
from trials.decide.winter import Floats, Winter, WinterPlan, metres_by_crop
from trials.model.units import UnitSystem, m_to_feet
from trials.report.figures import Figures, count
from trials.report.grid import Column, Table
from trials.report.order_page import money
from trials.report.winter_tables import in_money, length

NOT_STORED = "This stores nothing: prices, costs and the page above stay as they are."
SHORTEST_SHOWN_M = 0.05


def choice_sentence(now: Sequence[Standing], then: Sequence[Standing]) -> str:
    """How many verdicts are different."""
    before = {standing.entry: standing.verdict for standing in now}
    other = sum(before[standing.entry] is not standing.verdict for standing in then)
    every = count(len(then), "variety", "varieties")
    if not other:
        return f"All {every} keep their verdict."
    return f"{other} of {every} would get another verdict."


def choice_table(now: Sequence[Standing], then: Sequence[Standing], figures: Figures) -> Table:
    """One row per variety, best first under the other prices: its verdict and net, now and then."""
    before = {standing.entry: standing for standing in now}
    unit = f" ({figures.unit})" if figures.unit else ""
    columns = (
        Column("variety"),
        Column("verdict now"),
        Column("verdict then"),
        Column(f"next season now{unit}", right=True),
        Column("then", right=True),
    )
    rows = tuple(
        (
            standing.entry,
            before[standing.entry].verdict.value,
            standing.verdict.value,
            figures.number(before[standing.entry].mean),
            figures.number(standing.mean),
        )
        for standing in then
    )
    return Table(columns, rows)


def order_if_table(now: Ordering, then: Ordering, system: UnitSystem) -> Table:
    """The order as it is and as it would be: bed, plants, seed, what is missing and the total.

    Plugs have columns of their own, where either order has any.
    """
    unit = "ft" if system is UnitSystem.US else "m"
    plugs = {need.plugs for each in (now, then) for need in each.needs}
    kinds = [(kind, name) for kind, name in ((False, "seeds"), (True, "plugs")) if kind in plugs]
    columns = (
        Column(""),
        Column(f"bed per sowing ({unit})", right=True),
        Column("plants", right=True),
        *(
            Column(f"{name} {what}", right=True)
            for _, name in kinds
            for what in ("ordered", "not ordered")
        ),
        Column("total", right=True),
    )
    of_kinds = [kind for kind, _ in kinds]
    rows = (
        _order_row("now", now, of_kinds, system),
        _order_row("then", then, of_kinds, system),
    )
    return Table(columns, rows)


def _order_row(
    words: str, ordering: Ordering, of_plugs: Sequence[bool], system: UnitSystem
) -> tuple[str, ...]:
    metres = ordering.sowing.bed_metres
    order = ordering.order
    return (
        words,
        f"{m_to_feet(metres) if system is UnitSystem.US else metres:.1f}",
        f"{sum(need.plants_set for need in ordering.needs):,}",
        *(
            f"{number:,}"
            for plugs in of_plugs
            for number in (
                sum(order.seeds_of(n.variety) for n in ordering.needs if n.plugs == plugs),
                sum(gap.seeds_short for gap in order.unfilled if gap.plugs == plugs),
            )
        ),
        money(order.total, order.currency or ""),
    )


def winter_if_sentence(found: WinterChoice, then: WinterPlan) -> str:
    """What the other plan earns next to the plan."""
    more = then.expected - found.plan.expected
    much = money(Decimal(f"{abs(more):.2f}"), found.currency)
    earns = f"{in_money(then.expected, found)} in an average season"
    poor = f"{in_money(then.poor, found)} in the worst fifth of seasons"
    # Each plan may fall short of the best by its gap, so a difference below that says nothing.
    gaps = found.plan.gap * abs(found.plan.expected) + then.gap * abs(then.expected)
    if abs(more) <= gaps:
        return f"The plan would earn {earns}, about as now, and {poor}."
    way = "more" if more > 0 else "less"
    return f"The plan would earn {earns}, {much} {way} than now, and {poor}."


def winter_if_table(found: WinterChoice, then: WinterPlan, system: UnitSystem) -> Table:
    """One row per variety that either plan grows: its length of bed now and then."""
    now = _by_variety(found.winter, metres_by_crop(found.winter, found.plan.lines))
    other = _by_variety(then.winter, then.metres)
    unit = "ft" if system is UnitSystem.US else "m"
    columns = (
        Column("variety"),
        Column("crop"),
        Column(f"{unit} now", right=True),
        Column(f"{unit} then", right=True),
    )
    grown = [
        each for each in now if max(now[each], other.get(each, 0.0)) >= SHORTEST_SHOWN_M
    ]  # fmt: skip
    rows = tuple(
        (variety, crop, length(now[variety, crop], system), length(other[variety, crop], system))
        for variety, crop in sorted(grown, key=lambda each: (each[1], -now[each], each[0]))
    )
    return Table(columns, rows)


def _by_variety(winter: Winter, metres: Floats) -> dict[tuple[str, str], float]:
    found: dict[tuple[str, str], float] = {}
    for crop, length_m in zip(winter.crops, metres, strict=True):
        key = (crop.variety, crop.crop)
        found[key] = found.get(key, 0.0) + float(length_m)
    return found
