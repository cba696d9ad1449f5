"""Stems by week: when each level gave what could be sold, in each week and added up so far."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from trials.drawing.inks import STEPS, Ink
from trials.drawing.picture import Anchor, Box, Mark, Picture, Words
from trials.drawing.scales import scale_over, width_px
from trials.report.pictures.frame import (
    EDGE_PX,
    LINE_PX,
    SMALL_PX,
    TEXT_PX,
    Name,
    names_down,
    room_for_ticks,
    shaded,
    upwards,
)
from trials.report.pictures.named_lines import NamedLine, looks, named_lines, room_for_names
from trials.stats.season_views import WeekStems

FIGURE_PX = 12.0
HEIGHT_PX = 340.0
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day_words(day: date) -> str:
    """'3 Aug'."""
    return f"{day.day} {MONTHS[day.month - 1]}"


def _cells(found: Sequence[WeekStems]) -> dict[tuple[str, date], float]:
    return {(each.level, each.monday): each.stems_per_plant for each in found}


def weeks_picture(
    found: Sequence[WeekStems], factor: str, order: Sequence[str], width: int
) -> Picture:
    """A row for each level and a column for each week; a fuller week, a stronger ink."""
    cells = _cells(found)
    weeks = sorted({each.monday for each in found})
    levels = [level for level in order if any(each.level == level for each in found)]
    totals = {level: sum(cells[level, week] for week in weeks) for level in levels}
    head_px = 2 * LINE_PX + 6
    names = names_down([Name(level) for level in levels], width, head_px)
    total_px = max(width_px(f"{total:.1f}", TEXT_PX, bold=True) for total in totals.values()) + 12
    room = width - names.right - total_px - EDGE_PX
    each = room / len(weeks)
    marks: list[Mark] = [*names.marks]
    every = list(cells.values())
    for level, y in zip(levels, names.middles, strict=True):
        for n, week in enumerate(weeks):
            value = cells[level, week]
            x = names.right + n * each
            ink = STEPS[shaded([0.0, *every], value, len(STEPS))] if value else Ink.BAND
            marks.append(Box(x, y - 14, each, 28, ink, Ink.GROUND, 1))
            text = f"{value:.1f}"
            if value and width_px(text, FIGURE_PX) <= each - 2:
                marks.append(Words(x + each / 2, y, text, FIGURE_PX, Anchor.MIDDLE, on=ink))
        marks.append(
            Words(width - EDGE_PX, y, f"{totals[level]:.1f}", TEXT_PX, Anchor.END, bold=True)
        )
    marks += _week_heads(weeks, names.right, each, LINE_PX + 10)
    marks += [
        Words(names.right, LINE_PX / 2 + 1, "week of", SMALL_PX, ink=Ink.QUIET),
        Words(width - EDGE_PX, LINE_PX + 10, "in all", SMALL_PX, Anchor.END, ink=Ink.QUIET),
    ]
    return Picture(
        name=f"stems-by-week-and-{factor}".replace(" ", "-"),
        title=f"Stems by week and {factor}",
        note="Saleable stems per plant in each week, plain means of the plots. Stronger is more.",
        alt="; ".join(f"{level} {totals[level]:.1f} stems per plant in all" for level in levels),
        width=width,
        height=names.bottom + 4,
        marks=tuple(marks),
        columns=(factor, "week of", "stems per plant"),
        rows=tuple(
            (level, week.isoformat(), cells[level, week]) for level in levels for week in weeks
        ),
    )


def _week_heads(weeks: Sequence[date], left: float, each: float, y: float) -> list[Mark]:
    """The Mondays, as many as have room."""
    widest = max(width_px(day_words(week), SMALL_PX) for week in weeks) + 8
    step = -(-int(widest) // max(int(each), 1))
    return [
        Words(left + (n + 0.5) * each, y, day_words(week), SMALL_PX, Anchor.MIDDLE)
        for n, week in enumerate(weeks)
        if n % step == 0
    ]


def so_far_picture(
    found: Sequence[WeekStems], factor: str, order: Sequence[str], width: int
) -> Picture:
    """A line for each level: what it had given by the end of each week."""
    cells = _cells(found)
    weeks = sorted({each.monday for each in found})
    levels = [level for level in order if any(each.level == level for each in found)]
    so_far = {}
    for level in levels:
        total = 0.0
        for week in weeks:
            total += cells[level, week]
            so_far[level, week] = total
    top = LINE_PX + 16
    bottom = top + max(HEIGHT_PX, 18.0 * len(levels))
    scale = scale_over([0.0, *so_far.values()], bottom, top, room=0.02)
    left, names_px = room_for_ticks(scale), room_for_names(levels, width)
    each = (width - names_px - left - 20) / max(len(weeks) - 1, 1)
    xs = [left + 10 + n * each for n in range(len(weeks))]
    lines = [
        NamedLine(
            level,
            tuple((x, scale.at(so_far[level, week])) for x, week in zip(xs, weeks, strict=True)),
            look,
        )
        for level, look in zip(levels, looks(len(levels)), strict=True)
    ]
    marks: list[Mark] = [
        *upwards(scale, left, width - names_px, "saleable stems per plant so far"),
        *named_lines(lines, top, bottom, width, names_px),
        *_week_heads(weeks, left + 10 - each / 2, each, bottom + 14),
        Words(left, bottom + 14 + LINE_PX, "week of", SMALL_PX, ink=Ink.QUIET),
    ]
    return Picture(
        name=f"stems-so-far-by-week-and-{factor}".replace(" ", "-"),
        title=f"Stems so far by week and {factor}",
        note="Saleable stems per plant added up from the first week. A steep line is a full week.",
        alt="; ".join(
            f"{level} {so_far[level, weeks[-1]]:.1f} stems per plant by the last week"
            for level in levels
        ),
        width=width,
        height=bottom + 14 + 2 * LINE_PX,
        marks=tuple(marks),
        columns=(factor, "week of", "stems per plant so far"),
        rows=tuple(
            (level, week.isoformat(), so_far[level, week]) for level in levels for week in weeks
        ),
    )
