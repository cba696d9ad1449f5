"""Pictures of a choice: how likely each variety is the best, its expected loss, if it is tall."""

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
    styled,
    titled,
    unit_axis,
)
from dashboard.theme.looks import CARD, CLAY, LEAF, PAPER, STONE
from trials.decide import Choice, Standing
from trials.report.figures import Figures, chance, per_cent

KINDS = ("reorder", "grow again", "drop")
CHOICE_KEY = (("bar", "reorder"), ("frame-leaf", "grow again"), ("frame", "drop"))
TALL_KEY = (("dot", "long enough"), ("diamond-clay", "too short to sell: dropped"))


def chance_chart(choice: Choice) -> alt.LayerChart:
    """The chance of each variety that is long enough to be the best next season."""
    rows = [
        _row(standing, choice, 100 * (standing.chance_best or 0.0), chance(standing.chance_best))
        for standing in _candidates(choice)
    ]
    axis = unit_axis("chance to be the best next season (%)")
    return _bars(rows, axis)


def shortfall_chart(choice: Choice, figures: Figures) -> alt.LayerChart:
    """How far each variety falls short of the best on average; ties end at the line."""
    rows = [
        _row(
            standing,
            choice,
            (standing.expected_shortfall or 0.0) * figures.factor,
            figures.number(standing.expected_shortfall),
        )
        for standing in _candidates(choice)
    ]
    tied = [
        (standing.expected_shortfall - standing.extra_cost + reason.limit) * figures.factor
        for standing in choice.standings
        for reason in standing.reasons
        if reason.code.value == "tied with the best"
        and standing.expected_shortfall is not None
        and standing.extra_cost is not None
        and reason.limit is not None
    ]
    axis = unit_axis(titled("expected loss", figures.apart.unit))
    return _bars(rows, axis, tied[0] if tied else None)


def _candidates(choice: Choice) -> list[Standing]:
    return [standing for standing in choice.standings if standing.chance_best is not None]


def _row(standing: Standing, choice: Choice, value: float, shown: str) -> Row:
    return {
        "entry": entry_label(standing.entry, choice.check),
        "value": value,
        "shown": shown,
        "role": standing.verdict.value,
    }


def _bars(rows: Sequence[Row], axis: alt.Axis, limit: float | None = None) -> alt.LayerChart:
    labels = [str(row["entry"]) for row in rows]
    ends = [0.0, *(number(row, "value") for row in rows)]
    scale = measure_scale([0.0, max(ends) or 1.0], room_for([str(r["shown"]) for r in rows]) + 8)
    base = alt.Chart(inline(rows)).encode(
        x=alt.X("value:Q", scale=scale, axis=axis), y=row_axis(labels)
    )
    bars = base.mark_bar(height={"band": 0.62}, strokeWidth=2.5, cornerRadiusEnd=3).encode(
        stroke=alt.Stroke(
            "role:N", scale=alt.Scale(domain=KINDS, range=[LEAF, LEAF, STONE]), legend=None
        ),
        fill=alt.Fill(
            "role:N", scale=alt.Scale(domain=KINDS, range=[LEAF, CARD, CARD]), legend=None
        ),
    )
    texts = base.mark_text(align="left", dx=8, fontWeight=600).encode(text="shown:N")
    halo = base.mark_text(
        align="left", dx=8, fontWeight=600, stroke=PAPER, strokeWidth=5, strokeJoin="round"
    ).encode(text="shown:N")
    layers = [bars, halo, texts]
    if limit is not None:
        layers = [*_limit(limit, "tied up to here", scale, "left"), *layers]
    return styled(layers, alt.Step(row_height(labels)))


def _limit(at: float, words: str, scale: alt.Scale, align: str) -> list[alt.Chart]:
    """A dashed rule with its words above it, leaning to the side given."""
    base = alt.Chart(inline([{"at": at, "words": words}]))
    rule = base.mark_rule(stroke=CLAY, strokeDash=[7, 5], strokeWidth=2).encode(
        x=alt.X("at:Q", scale=scale)
    )
    label = base.mark_text(
        align="left" if align == "left" else "right",
        baseline="bottom",
        dx=-4 if align == "left" else 4,
        color=CLAY,
        fontWeight=600,
    ).encode(x=alt.X("at:Q", scale=scale), y=alt.value(-3), text="words:N")
    return [rule, label]


def tall_chart(choice: Choice) -> alt.LayerChart:
    """The chance that each variety's stems reach the length that sells; too short ones below."""
    known = [standing for standing in choice.standings if standing.chance_tall is not None]
    rows: list[Row] = [
        {
            "entry": entry_label(standing.entry, choice.check),
            "value": 100 * (standing.chance_tall or 0.0),
            "shown": chance(standing.chance_tall),
            "role": "short" if standing.chance_best is None else "tall",
        }
        for standing in known
    ]
    labels = [str(row["entry"]) for row in rows]
    scale = measure_scale([-3, 103], room_for([str(row["shown"]) for row in rows]) + 8)
    axis = alt.Axis(
        title=["chance of stems long", "enough to sell (%)"],
        values=[0, 25, 50, 75, 100],
        labelAngle=0,
    )
    base = alt.Chart(inline(rows)).encode(
        x=alt.X("value:Q", scale=scale, axis=axis), y=row_axis(labels)
    )
    domain = ["tall", "short"]
    points = base.mark_point(size=150, strokeWidth=2.5, fillOpacity=1).encode(
        shape=alt.Shape(
            "role:N", scale=alt.Scale(domain=domain, range=["circle", "diamond"]), legend=None
        ),
        stroke=alt.Stroke(
            "role:N", scale=alt.Scale(domain=domain, range=[LEAF, CLAY]), legend=None
        ),
        fill=alt.Fill("role:N", scale=alt.Scale(domain=domain, range=[LEAF, CARD]), legend=None),
    )
    texts = base.mark_text(align="right", dx=-2, fontWeight=600).encode(
        x=alt.value("width"), text="shown:N"
    )
    wanted = 100 * choice.rules.tall_chance
    rule = _limit(wanted, f"{per_cent(wanted / 100)} wanted", scale, "right")
    return styled([*rule, points, texts], alt.Step(row_height(labels)))
