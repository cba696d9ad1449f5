"""Pictures of a winter plan: beds by week, stems against demand, and money by variety."""

from __future__ import annotations

from datetime import date, timedelta

import altair as alt

from dashboard.charts.style import (
    Row,
    entry_label,
    inline,
    measure_scale,
    room_for,
    row_axis,
    row_height,
    spanning,
    styled,
    titled,
    unit_axis,
)
from dashboard.theme.looks import CARD, CLAY, INK, LEAF, SAND, STONE
from dashboard.theme.text import for_chart
from trials.decide.planted import WinterChoice
from trials.decide.winter import Outlet
from trials.model.units import UnitSystem
from trials.report.winter_tables import by_day, grown, length

BEDS_KEY = (("frame-leaf", "growing"), ("bar", "cut expected"))
STEMS_KEY = (("bar", "sold"), ("dash", "least it wants"), ("dots", "most it takes"))
MONEY_KEY = (("bar", "sales"), ("frame", "costs"))
STEMS_PX = 190


def beds_chart(found: WinterChoice, system: UnitSystem) -> alt.LayerChart:
    """Each sowing as a bar in its bed: from planting to the first cut, and on to the last."""
    unit = "ft" if system is UnitSystem.US else "m"
    rows: list[Row] = []
    seen: dict[str, int] = {}
    for each in sorted(by_day(found), key=lambda one: one.bed):
        name = for_chart(f"{each.bed}: {grown(each)}, {length(each.metres, system)} {unit}")
        seen[name] = seen.get(name, 0) + 1
        entry = name if seen[name] == 1 else f"{name} ({seen[name]})"
        days = each.days
        for kind, start, end in (
            ("growing", days.plant_out, days.first_cut),
            ("cut", days.first_cut, days.last_cut + timedelta(1)),
        ):
            rows.append(
                {
                    "entry": entry,
                    "from": start.isoformat(),
                    "to": end.isoformat(),
                    "kind": kind,
                    "stems": f"{each.stems * each.metres:,.0f}",
                }
            )
    labels = list(dict.fromkeys(str(row["entry"]) for row in rows))
    time = alt.Scale(type="utc")
    axis = alt.Axis(title=None, format="%-d %b", tickCount="month", labelAngle=0)
    base = alt.Chart(inline(rows)).encode(
        x=alt.X("from:T", scale=time, axis=axis), x2="to:T", y=row_axis(labels)
    )
    bars = base.mark_bar(height={"band": 0.6}, strokeWidth=2, stroke=LEAF).encode(
        fill=alt.Fill(
            "kind:N", scale=alt.Scale(domain=["growing", "cut"], range=[CARD, LEAF]), legend=None
        ),
        tooltip=[
            alt.Tooltip("entry:N", title="sowing"),
            alt.Tooltip("kind:N", title="weeks of"),
            alt.Tooltip("from:T", title="from", format="%Y-%m-%d"),
            alt.Tooltip("to:T", title="to", format="%Y-%m-%d"),
            alt.Tooltip("stems:N", title="stems expected"),
        ],
    )
    return styled([bars], alt.Step(row_height(labels)))


def stems_chart(found: WinterChoice, place: int) -> alt.LayerChart:
    """One market's stems by week, next to the least it wants and the most it takes."""
    outlet = found.winter.outlets[place]
    rows: list[Row] = [
        {
            "week": _monday(found.season, week).isoformat(),
            "end": (_monday(found.season, week) + timedelta(6)).isoformat(),
            "sold": float(found.sold.stems[place, week]),
            "least": float(outlet.at_least[week]),
            "most": float(outlet.at_most[week]),
            "number": str(week + 1),
            "none": 0.0,
        }
        for week in _weeks(outlet)
    ]
    tallest = max((float(outlet.at_most[week]) for week in _weeks(outlet)), default=1.0)
    time = alt.Scale(type="utc")
    axis = alt.Axis(title=None, format="%-d %b", tickCount="month", labelAngle=0)
    base = alt.Chart(inline(rows)).encode(x=alt.X("week:T", scale=time, axis=axis), x2="end:T")
    stems = alt.Y(
        "sold:Q",
        scale=alt.Scale(domain=[0, 1.05 * tallest]),
        axis=alt.Axis(title="stems per week", tickCount=4),
    )
    bars = base.mark_bar(color=LEAF).encode(
        y=stems,
        y2="none:Q",
        tooltip=[
            alt.Tooltip("number:N", title="week"),
            alt.Tooltip("sold:Q", title="sold", format=",.0f"),
            alt.Tooltip("least:Q", title="least wanted", format=",.0f"),
            alt.Tooltip("most:Q", title="most taken", format=",.0f"),
        ],
    )
    ground = base.mark_bar(color=SAND).encode(y="most:Q", y2="none:Q")
    most = base.mark_rule(color=STONE, strokeWidth=2, strokeDash=[2, 3]).encode(y="most:Q")
    least = base.mark_rule(color=CLAY, strokeWidth=2.5, strokeDash=[7, 4]).encode(
        y="least:Q", opacity=alt.condition("datum.least > 0", alt.value(1), alt.value(0))
    )
    return styled([ground, bars, most, least], STEMS_PX)


def _weeks(outlet: Outlet) -> list[int]:
    return [week for week, most in enumerate(outlet.at_most) if most > 0]


def _monday(season: int, week: int) -> date:
    """The first day of a week by its place; week 53 follows week 52 in every year."""
    return date.fromisocalendar(season, 1, 1) + timedelta(7 * week)


def money_chart(found: WinterChoice) -> alt.LayerChart:
    """What each variety's stems bring, what it costs, and in figures what is left."""
    rows: list[Row] = [
        {
            "entry": entry_label(each.variety, None),
            "sales": each.sales,
            "costs": each.costs,
            "shown": f"{each.net:,.0f}",
            "sold": f"{each.sales:,.0f}",
            "paid": f"{each.costs:,.0f}",
        }
        for each in found.earned
    ]
    labels = [str(row["entry"]) for row in rows]
    most = max((max(each.sales, each.costs) for each in found.earned), default=1.0)
    scale = measure_scale(
        spanning([0.0, most], left=0.0, right=0.02), room_for([str(row["shown"]) for row in rows])
    )
    axis = unit_axis(titled("sales and costs per season", found.currency))
    base = alt.Chart(inline(rows)).encode(y=row_axis(labels))
    tooltip = [
        alt.Tooltip("entry:N", title="variety"),
        alt.Tooltip("sold:N", title="sales"),
        alt.Tooltip("paid:N", title="costs"),
        alt.Tooltip("shown:N", title="net"),
    ]
    sales = base.mark_bar(height={"band": 0.66}, color=LEAF, cornerRadiusEnd=3).encode(
        x=alt.X("sales:Q", scale=scale, axis=axis), tooltip=tooltip
    )
    costs = base.mark_bar(height={"band": 0.3}, color=CARD, stroke=STONE, strokeWidth=2.5).encode(
        x=alt.X("costs:Q", scale=scale), tooltip=tooltip
    )
    texts = base.mark_text(align="right", dx=-2, fontWeight=600, color=INK).encode(
        x=alt.value("width"), text="shown:N"
    )
    return styled([sales, costs, texts], alt.Step(row_height(labels)))
