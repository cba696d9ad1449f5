"""Stems by length grade as a picture: what can be sold to the right, what is short to the left."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

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
    unit_axis,
)
from dashboard.theme.looks import CARD, CLAY, CLAY_PALE, INK, STRAW_TO_LEAF
from trials.model.saleable import shortest_grade
from trials.stats.length_grades import GradeShare


def grade_colours(grades_cm: Sequence[float], shortest_cm: float) -> dict[float, str]:
    """A colour for each grade: clay below the shortest saleable length, straw to leaf above."""
    steps, lowest = sorted(set(grades_cm)), shortest_grade(shortest_cm)
    saleable = [grade for grade in steps if grade >= lowest]
    short = [grade for grade in steps if grade < lowest]
    colours = {grade: CLAY_PALE[min(i, 1)] for i, grade in enumerate(reversed(short))}
    last = len(STRAW_TO_LEAF) - 2
    for i, grade in enumerate(saleable):
        at = 0 if len(saleable) == 1 else round(i * last / max(len(saleable) - 1, 1))
        colours[grade] = STRAW_TO_LEAF[at]
    return colours


def grades_chart(
    found: Sequence[GradeShare],
    shortest_cm: float,
    words: Mapping[float, str],
    order: Sequence[str],
    check: str | None,
    *,
    as_shares: bool,
) -> alt.LayerChart:
    """Stems by grade of each level, in ``order``; the upright rule is the shortest length sold."""
    colours = grade_colours([item.grade_cm for item in found], shortest_cm)
    rows: list[Row] = []
    for level in order:
        of_level = sorted((i for i in found if i.level == level), key=lambda i: i.grade_cm)
        rows += _bar(of_level, shortest_cm, words, colours, check, as_shares=as_shares)
    labels = list(dict.fromkeys(str(row["entry"]) for row in rows))
    ends = [number(row, key) for row in rows for key in ("from", "to")]
    shown = [str(row["total"]) for row in rows if row["total"] is not None]
    domain = spanning([0.0, *ends], left=0.02, right=0.0)
    scale = measure_scale(domain, room_for(shown))
    rule_leans_right = -domain[0] > 0.45 * (domain[1] - domain[0])
    title = "stems, % of all graded" if as_shares else "stems per plant"
    axis = unit_axis(title, "abs(datum.value)")
    bars = (
        alt.Chart(inline(rows))
        .mark_bar(height={"band": 0.68}, stroke=CARD, strokeWidth=1)
        .encode(
            x=alt.X("from:Q", scale=scale, axis=axis),
            x2="to:Q",
            y=row_axis(labels),
            fill=alt.Fill("colour:N", scale=None, legend=None),
            tooltip=[
                alt.Tooltip("entry:N", title="entry"),
                alt.Tooltip("words:N", title="length"),
                alt.Tooltip("shown:N", title="stems"),
            ],
        )
    )
    totals = (
        alt.Chart(inline([row for row in rows if row["total"] is not None]))
        .mark_text(align="left", dx=6, fontWeight=600)
        .encode(x=alt.X("to:Q", scale=scale), y=row_axis(labels), text="total:N")
    )
    rule = (
        alt.Chart(inline([{"at": 0.0}]))
        .mark_rule(stroke=CLAY, strokeWidth=2.5)
        .encode(x=alt.X("at:Q", scale=scale))
    )
    mark = (
        alt.Chart(inline([{"at": 0.0, "words": "long enough to sell →"}]))
        .mark_text(
            align="right" if rule_leans_right else "left",
            baseline="bottom",
            dx=0 if rule_leans_right else -2,
            color=INK,
            fontWeight=600,
        )
        .encode(
            x=alt.value("width") if rule_leans_right else alt.X("at:Q", scale=scale),
            y=alt.value(-4),
            text="words:N",
        )
    )
    return styled([bars, totals, rule, mark], alt.Step(row_height(labels)))


def _bar(
    of_level: Sequence[GradeShare],
    shortest_cm: float,
    words: Mapping[float, str],
    colours: Mapping[float, str],
    check: str | None,
    *,
    as_shares: bool,
) -> list[Row]:
    """The pieces of one level's bar, laid from the rule outwards on both sides."""
    rows: list[Row] = []
    lowest = shortest_grade(shortest_cm)

    def lay(items: Sequence[GradeShare], direction: int) -> None:
        at = 0.0
        for item in items:
            size = (item.share or 0.0) * 100 if as_shares else item.stems_per_plant
            rows.append(
                {
                    "entry": entry_label(item.level, check),
                    "grade": item.grade_cm,
                    "colour": colours[item.grade_cm],
                    "words": words[item.grade_cm],
                    "from": at,
                    "to": at + direction * size,
                    "shown": f"{size:.0f} %" if as_shares else f"{size:.1f} a plant",
                    "total": None,
                }
            )
            at += direction * size

    lay([item for item in reversed(of_level) if item.grade_cm < lowest], -1)
    saleable = [item for item in of_level if item.grade_cm >= lowest]
    lay(saleable, 1)
    if saleable:
        total = number(rows[-1], "to")
        rows[-1]["total"] = f"{total:.0f} %" if as_shares else f"{total:.1f}"
    return rows
