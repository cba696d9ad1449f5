"""The picture of a network: each variety's lead with its limits over farms and at a new farm."""

from __future__ import annotations

from collections.abc import Sequence

import altair as alt

from dashboard.charts.style import (
    Row,
    entry_label,
    inline,
    measure_scale,
    number,
    room_for,
    row_axis,
    row_height,
    spanning,
    styled,
    titled,
    unit_axis,
)
from dashboard.theme.looks import CARD, LEAF, STONE
from trials.pool.network import AcrossFarms


def lead_chart(varieties: Sequence[AcrossFarms], unit: str) -> alt.LayerChart:
    """Leads over the mean of all varieties: thick over farms like these, thin at one new farm."""
    rows: list[Row] = [
        {
            "entry": entry_label(each.variety, None),
            "value": each.lead,
            "low": each.low,
            "high": each.high,
            "new_low": each.low if each.new_low is None else each.new_low,
            "new_high": each.high if each.new_high is None else each.new_high,
            "shown": f"{each.lead:+.1f}",
        }
        for each in varieties
    ]
    labels = [str(row["entry"]) for row in rows]
    ends = [number(row, name) for row in rows for name in ("low", "high", "new_low", "new_high")]
    scale = measure_scale(spanning([0.0, *ends]), room_for([str(row["shown"]) for row in rows]) + 8)
    base = alt.Chart(inline(rows)).encode(y=row_axis(labels))
    axis = unit_axis(titled("lead over the mean of all varieties", unit))
    at = alt.X("value:Q", scale=scale, axis=axis)
    none = alt.Chart(inline([{"at": 0.0}])).mark_rule(stroke=STONE, strokeDash=[4, 4])
    texts = base.mark_text(align="right", dx=-2, fontWeight=600)
    layers = [
        none.encode(x=alt.X("at:Q", scale=scale)),
        base.mark_rule(stroke=STONE, strokeWidth=2).encode(
            x=alt.X("new_low:Q", scale=scale, axis=axis), x2="new_high:Q"
        ),
        base.mark_rule(stroke=LEAF, strokeWidth=6).encode(
            x=alt.X("low:Q", scale=scale, axis=axis), x2="high:Q"
        ),
        base.mark_point(size=110, strokeWidth=2.5, fillOpacity=1, fill=CARD, stroke=LEAF).encode(
            x=at
        ),
        texts.encode(x=alt.value("width"), text="shown:N"),
    ]
    return styled(layers, alt.Step(row_height(labels)))
