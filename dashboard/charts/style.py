"""What all pictures share: type that is read in sunlight, quiet axes, rows with whole names."""

from __future__ import annotations

import json
from collections.abc import Sequence

import altair as alt

from dashboard.theme.device import is_dark
from dashboard.theme.looks import FONT, INK, LINE, SOFT_INK, STONE, in_dark
from dashboard.theme.text import for_chart

ROW_PX = 34
LINE_PX = 18
LABEL_PX = 16
SMALL_PX = 15

TITLE_WIDTH = 30  # characters that fit under a picture on a phone
SPLIT_LINES = "split(datum.label, '\\n')"

# A label of several lines hangs from its first one; this moves it up to the middle of its row.
CENTRED = {
    "condition": [
        {"test": f"length(split(datum.label, '\\n')) == {n}", "value": -(n - 1) * LINE_PX / 2}
        for n in (2, 3, 4)
    ],
    "value": 0,
}

Row = dict[str, str | float | bool | None]


def inline(rows: Sequence[Row]) -> alt.InlineData:
    """The rows as they go into the picture."""
    return alt.InlineData(values=[dict(row) for row in rows])


def row_height(labels: Sequence[str]) -> int:
    """Pixels for each row so that the longest name has room for its lines."""
    most = max((label.count("\n") for label in labels), default=0) + 1
    return max(ROW_PX, LINE_PX * most + 10)


def row_axis(labels: Sequence[str]) -> alt.Y:
    """A row for each name, in the order given."""
    return alt.Y(
        "entry:N",
        sort=list(labels),
        title=None,
        axis=alt.Axis(
            labelExpr=SPLIT_LINES,
            labelLimit=0,
            labelOffset=CENTRED,
            ticks=False,
            domain=False,
            labelPadding=10,
        ),
    )


def unit_axis(title: str, label_expr: str | None = None) -> alt.Axis:
    """The axis of the measure, with its unit; ``label_expr`` rewrites its numbers."""
    return alt.Axis(
        title=for_chart(title, TITLE_WIDTH).split("\n"),
        tickCount=5,
        labelFlush=True,
        labelAngle=0,
        labelExpr=alt.Undefined if label_expr is None else label_expr,
    )


def spanning(values: Sequence[float], left: float = 0.06, right: float = 0.06) -> list[float]:
    """The span of the values with room at both ends, as shares of the span."""
    low, high = min(values), max(values)
    span = (high - low) or abs(high) or 1.0
    return [low - left * span, high + right * span]


def room_for(texts: Sequence[str]) -> int:
    """Pixels that the widest of the figures needs beside the picture."""
    return 16 + 9 * max((len(text) for text in texts), default=0)


def measure_scale(domain: Sequence[float], room_px: int = 0) -> alt.Scale:
    """The scale of the measure; ``room_px`` at its right end are kept for figures."""
    right = alt.ExprRef(f"width - {room_px}")
    return alt.Scale(domain=list(domain), range=[0, right], zero=False, nice=False)


def titled(measure: str, unit: str) -> str:
    """An axis title: what it is, and in what."""
    return measure if not unit or unit in measure else f"{measure} ({unit})"


def entry_label(name: str, check: str | None, *, too_short: bool = False) -> str:
    """A name as the rows show it, with whether it is the check or too short to sell."""
    said = [words for words, true in (("check", name == check), ("too short", too_short)) if true]
    return for_chart(f"{name} ({', '.join(said)})" if said else name)


def styled(layers: Sequence[alt.Chart], height: int | alt.Step) -> alt.LayerChart:
    """The layers over one another, in our type and colours, as wide as their place."""
    chart: alt.LayerChart = alt.LayerChart(layer=list(layers), width="container", height=height)
    # A reader saves the picture; its specification is of no use to them.
    chart.usermeta = {"embedOptions": {"actions": {"export": True, "source": False}}}
    chart.config = alt.Config(
        background="transparent",
        font=FONT,
        padding={"left": 2, "right": 6, "top": 4, "bottom": 2},
        view=alt.ViewConfig(stroke=None),
        axis=alt.AxisConfig(
            labelFontSize=LABEL_PX,
            titleFontSize=SMALL_PX,
            titleFontWeight="normal",
            labelColor=INK,
            titleColor=SOFT_INK,
            gridColor=LINE,
            domainColor=STONE,
            tickColor=STONE,
            titlePadding=8,
            titleLimit=0,
        ),
        axisX=alt.AxisConfig(labelFontSize=SMALL_PX),
        text=alt.MarkConfig(fontSize=SMALL_PX, color=INK),
    )
    if is_dark():
        chart = alt.LayerChart.from_dict(json.loads(in_dark(json.dumps(chart.to_dict()))))
    return chart


def number(row: Row, field: str) -> float:
    """A number of a row."""
    value = row[field]
    if not isinstance(value, float):
        raise TypeError(f"{field} is {value!r}, no number")
    return value
