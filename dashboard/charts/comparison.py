"""Pictures of a comparison: results in, charts out; nothing here knows the page or the store."""

from __future__ import annotations

from collections.abc import Sequence

import altair as alt

from dashboard.charts.style import (
    LINE_PX,
    REST,
    SPLIT_LINES,
    STRONG,
    Row,
    entry_label,
    inline,
    measure_scale,
    number,
    role_fill,
    role_shape,
    role_stroke,
    room_for,
    row_axis,
    row_height,
    spanning,
    styled,
    titled,
    unit_axis,
)
from dashboard.theme.looks import CLAY, INK, LEAF, STONE
from dashboard.theme.text import for_chart
from trials.report.comparison_tables import ranked_means
from trials.report.figures import Figures
from trials.report.tested_words import level_words
from trials.stats.results import Comparison

DIFFERS = "makes a difference"
UNSURE = "cannot tell yet"

SIGNED = (
    "(datum.value > 0 ? '+' : datum.value < 0 ? '\u2212' : '') + format(abs(datum.value), '~g')"
)

# What the signs of each picture mean: (sign, words).
MEANS_KEY = (("dot", STRONG), ("diamond", REST))
BEST_KEY = (("bar", STRONG), ("frame", REST))
INTERPLAY_KEY = (("line", DIFFERS), ("dots", UNSURE))


def means_chart(comparison: Comparison, factor: str, figures: Figures) -> alt.LayerChart:
    """Each level's adjusted mean with its interval, best first; the check as a dashed rule."""
    rows, labels = _mean_rows(comparison, factor, figures)
    ends = [number(row, key) for row in rows for key in ("low", "high", "mean")]
    scale = measure_scale(spanning(ends), room_for([str(row["shown"]) for row in rows]))
    data = inline(rows)
    y = row_axis(labels)
    axis = unit_axis(titled(comparison.measure, figures.unit))
    interval = (
        alt.Chart(data)
        .mark_rule(strokeWidth=4, strokeCap="round")
        .encode(
            x=alt.X("low:Q", scale=scale, axis=axis),
            x2="high:Q",
            y=y,
            stroke=role_stroke(),
        )
    )
    points = (
        alt.Chart(data)
        .mark_point(size=150, strokeWidth=2.5, fillOpacity=1)
        .encode(
            x=alt.X("mean:Q", scale=scale),
            y=y,
            tooltip=_tooltip(),
            stroke=role_stroke(),
            fill=role_fill(),
            shape=role_shape(),
        )
    )
    figures_text = (
        alt.Chart(data)
        .mark_text(align="right", fontWeight=600, dx=-2)
        .encode(x=alt.value("width"), y=y, text="shown:N")
    )
    layers: list[alt.Chart] = [interval, points, figures_text]
    check = next((row for row in rows if row["check"]), None)
    if check is not None:
        layers = [*_check_rule(check, scale, comparison.check or "", ends), *layers]
    return styled(layers, alt.Step(row_height(labels)))


def _mean_rows(
    comparison: Comparison, factor: str, figures: Figures
) -> tuple[list[Row], list[str]]:
    best = {
        level_words(item.levels): item.could_be_best
        for item in comparison.with_best
        if item.term == factor and not item.within
    }
    short = {each.level for each in comparison.too_short if each.factor == factor}
    rows: list[Row] = []
    for mean in ranked_means(comparison, factor):
        name = level_words(mean.levels)
        rows.append(
            {
                "entry": entry_label(name, comparison.check, too_short=name in short),
                "mean": mean.mean * figures.factor,
                "low": (mean.mean if mean.low is None else mean.low) * figures.factor,
                "high": (mean.mean if mean.high is None else mean.high) * figures.factor,
                "role": STRONG if best.get(name, name not in short) else REST,
                "shown": figures.number(mean.mean),
                "range": figures.interval(mean.low, mean.high),
                "check": name == comparison.check,
            }
        )
    return rows, [str(row["entry"]) for row in rows]


def _tooltip() -> list[alt.Tooltip]:
    return [
        alt.Tooltip("entry:N", title="entry"),
        alt.Tooltip("shown:N", title="mean"),
        alt.Tooltip("range:N", title="interval"),
    ]


def _check_rule(check: Row, scale: alt.Scale, name: str, ends: Sequence[float]) -> list[alt.Chart]:
    at = number(check, "mean")
    leans_left = at > (min(ends) + max(ends)) / 2
    words = for_chart(f"check: {name}", 26)
    data = inline([{"at": at, "words": words}])
    rule = (
        alt.Chart(data)
        .mark_rule(stroke=CLAY, strokeDash=[7, 5], strokeWidth=2)
        .encode(x=alt.X("at:Q", scale=scale))
    )
    label = (
        alt.Chart(data)
        .mark_text(
            align="right" if leans_left else "left",
            baseline="bottom",
            color=CLAY,
            fontWeight=600,
            lineBreak="\n",
            dx=4 if leans_left else -4,
            dy=-LINE_PX * words.count("\n"),
        )
        .encode(x=alt.X("at:Q", scale=scale), y=alt.value(-3), text="words:N")
    )
    return [rule, label]


def best_chart(comparison: Comparison, factor: str, figures: Figures) -> alt.LayerChart:
    """How far each level may lie from the best of the others, in the order of the means."""
    band = {
        level_words(item.levels): item
        for item in comparison.with_best
        if item.term == factor and not item.within
    }
    rows: list[Row] = []
    for mean in ranked_means(comparison, factor):
        name = level_words(mean.levels)
        if name in band:
            item = band[name]
            rows.append(
                {
                    "entry": entry_label(name, comparison.check),
                    "low": item.low * figures.factor,
                    "high": item.high * figures.factor,
                    "role": STRONG if item.could_be_best else REST,
                    "shown": figures.interval(item.low, item.high),
                }
            )
    labels = [str(row["entry"]) for row in rows]
    ends = [0.0, *(number(row, key) for row in rows for key in ("low", "high"))]
    scale = measure_scale(spanning(ends))
    axis = unit_axis(
        titled("difference from the best of the others", figures.apart.unit),
        SIGNED,
    )
    data = inline(rows)
    bars = (
        alt.Chart(data)
        .mark_bar(height=15, strokeWidth=2.5, cornerRadius=3)
        .encode(
            x=alt.X("low:Q", scale=scale, axis=axis),
            x2="high:Q",
            y=row_axis(labels),
            tooltip=[
                alt.Tooltip("entry:N", title="entry"),
                alt.Tooltip("shown:N", title="difference from the best of the others"),
            ],
            stroke=role_stroke(),
            fill=role_fill(),
        )
    )
    best = alt.Chart(inline([{"at": 0.0, "words": "as good as the best of the others"}]))
    rule = best.mark_rule(stroke=INK, strokeWidth=2).encode(x=alt.X("at:Q", scale=scale))
    # Right-aligned with the picture: the rule may stand anywhere.
    label = best.mark_text(align="right", baseline="bottom", fontWeight=600).encode(
        x=alt.value("width"), y=alt.value(-3), text="words:N"
    )
    return styled([bars, rule, label], alt.Step(row_height(labels)))


def halves_chart(comparison: Comparison, factor: str, figures: Figures) -> alt.LayerChart:
    """Without replication: each level's plain figure as a dot, and nothing that claims more."""
    rows, labels = _mean_rows(comparison, factor, figures)
    most = spanning([0.0, *(number(row, "mean") for row in rows)])[1]
    scale = measure_scale([0.0, most], room_for([str(row["shown"]) for row in rows]) + 12)
    base = alt.Chart(inline(rows)).encode(
        x=alt.X(
            "mean:Q",
            scale=scale,
            axis=unit_axis(titled(comparison.measure, figures.unit)),
        ),
        y=row_axis(labels),
    )
    dots = base.mark_point(
        size=260, shape="circle", filled=False, stroke=STONE, strokeWidth=3.5, opacity=1
    )
    texts = base.mark_text(align="left", dx=16, fontWeight=600).encode(text="shown:N")
    return styled([dots, texts], alt.Step(max(56, row_height(labels))))


def interplay_chart(
    comparison: Comparison, across: str, down: str, figures: Figures
) -> alt.LayerChart:
    """A line for each level of ``down`` over the levels of ``across``, named at its end.

    Strong and whole where the levels of ``across`` differ for it, thin and dotted where that
    cannot be told.
    """
    across_levels = next(f.levels for f in comparison.layout.factors if f.name == across)
    sure = {
        dict(pair.within).get(down)
        for pair in comparison.all_pairs
        if pair.verdict in {"more", "less"} and dict(pair.a).keys() >= {across} and pair.within
    }
    rows: list[Row] = []
    for mean in comparison.means:
        levels = dict(mean.levels)
        if levels.keys() == {across, down}:
            rows.append(
                {
                    "entry": for_chart(levels[down]),
                    "across": for_chart(levels[across]),
                    "mean": mean.mean * figures.factor,
                    "shown": figures.number(mean.mean),
                    "role": DIFFERS if levels[down] in sure else UNSURE,
                }
            )
    order = [for_chart(level) for level in _rising(comparison, across, across_levels)]
    last = [row for row in rows if row["across"] == order[-1]]
    height = max(380, 22 * len(last))
    domain = spanning([number(row, "mean") for row in rows])
    _spread_labels(last, domain, height)
    scale = alt.Scale(domain=domain, zero=False, nice=False)
    title = titled(comparison.measure, figures.unit)
    return styled(_slopes(rows, last, order, scale, title), height)


def _rising(comparison: Comparison, factor: str, levels: Sequence[str]) -> list[str]:
    """Two levels in words so that their means rise; numbers and longer rows as they are."""
    if len(levels) != 2 or all(level.replace(".", "").isdigit() for level in levels):
        return list(levels)
    means = {dict(m.levels)[factor]: m.mean for m in comparison.means if m.term == factor}
    return sorted(levels, key=lambda level: means.get(level, 0.0))


def _spread_labels(ends: list[Row], domain: Sequence[float], height: int) -> None:
    """Give each end a place for its name, as near its line as names without overlap allow."""
    gap = 19 / height * (domain[1] - domain[0])
    ends.sort(key=lambda row: number(row, "mean"))
    places: list[float] = []
    for row in ends:
        wanted = number(row, "mean")
        places.append(wanted if not places else max(wanted, places[-1] + gap))
    # Pushed up past the top, they are moved down together, and those below give way.
    for i in range(len(places) - 1, -1, -1):
        ceiling = domain[1] if i == len(places) - 1 else places[i + 1] - gap
        places[i] = min(places[i], ceiling)
    for row, place in zip(ends, places, strict=True):
        row["place"] = place


def _slopes(
    rows: list[Row], ends: list[Row], order: list[str], scale: alt.Scale, title: str
) -> list[alt.Chart]:
    longest = max(len(line) for row in ends for line in str(row["entry"]).split("\n"))
    room_px = 24 + 8 * longest  # at the right of the last level, for the names
    domain = [DIFFERS, UNSURE]
    stroke = alt.Scale(domain=domain, range=[LEAF, STONE])
    x = alt.X(
        "across:N",
        sort=order,
        title=None,
        scale=alt.Scale(type="point", range=[24, alt.ExprRef(f"width - {room_px}")]),
        axis=alt.Axis(labelAngle=0, labelLimit=0, labelExpr=SPLIT_LINES, ticks=False, domain=False),
    )
    y = alt.Y("mean:Q", scale=scale, axis=_upright_axis(title))
    lines = (
        alt.Chart(inline(rows))
        .mark_line(strokeCap="round")
        .encode(
            x=x,
            y=y,
            detail="entry:N",
            stroke=alt.Stroke("role:N", scale=stroke, legend=None),
            strokeDash=alt.StrokeDash(
                "role:N", scale=alt.Scale(domain=domain, range=[[1, 0], [2, 5]]), legend=None
            ),
            strokeWidth=alt.StrokeWidth(
                "role:N", scale=alt.Scale(domain=domain, range=[3, 2.5]), legend=None
            ),
        )
    )
    dots = (
        alt.Chart(inline(rows))
        .mark_point(filled=True, size=70, opacity=1)
        .encode(
            x=x,
            y=y,
            fill=alt.Fill("role:N", scale=stroke, legend=None),
            tooltip=[
                alt.Tooltip("entry:N", title="entry"),
                alt.Tooltip("across:N", title="at"),
                alt.Tooltip("shown:N", title="mean"),
            ],
        )
    )
    leads = (
        alt.Chart(inline(ends))
        .mark_rule(stroke=STONE, strokeWidth=1, xOffset=6, x2Offset=20)
        .encode(x=x, x2="across:N", y=y, y2="place:Q")
    )
    names = (
        alt.Chart(inline(ends))
        .mark_text(align="left", dx=24, lineBreak="\n", baseline="middle")
        .encode(x=x, y=alt.Y("place:Q", scale=scale), text="entry:N")
    )
    return [lines, dots, leads, names]


def _upright_axis(title: str) -> alt.Axis:
    """A vertical axis whose title lies level above it."""
    return alt.Axis(
        title=title,
        tickCount=5,
        titleAngle=0,
        titleAlign="left",
        titleAnchor="end",
        titleBaseline="bottom",
        titleX=-34,
        titleY=-10,
    )
