"""Pictures of a winter plan: beds by week, stems against demand, and money by variety."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from trials.decide.planted import Planting, WinterChoice
from trials.decide.winter import Outlet
from trials.drawing.inks import Ink
from trials.drawing.picture import Anchor, Box, Line, Mark, Picture, Words
from trials.drawing.scales import Scale, lines_of, width_px
from trials.model.units import UnitSystem
from trials.report.pictures.frame import (
    EDGE_PX,
    LINE_PX,
    SMALL_PX,
    TEXT_PX,
    Name,
    across,
    box_sign,
    key,
    line_sign,
    names_down,
    room_for_ticks,
    titled,
    upwards,
)
from trials.report.pictures.weeks import day_words
from trials.report.winter_tables import by_day, grown, length, outlet_words

STEMS_PX = 190.0
BED_PX = 26.0  # the room for the name of a bed above its sowings
_LEAST, _MOST = (7.0, 4.0), (2.0, 3.0)  # dashes of what a market wants and takes


def beds_picture(found: WinterChoice, system: UnitSystem, width: int) -> Picture | None:
    """Each sowing as a bar in its bed: from planting to the first cut, and on to the last."""
    sowings = sorted(by_day(found), key=lambda one: one.bed)
    if not sowings:
        return None
    unit = "ft" if system is UnitSystem.US else "m"
    texts = [length(each.metres, system) for each in sowings]
    is_first = [not n or each.bed != sowings[n - 1].bed for n, each in enumerate(sowings)]
    signs = ((Ink.CARD, "growing"), (Ink.LEAF, "cut expected"))
    head, at = key(((box_sign(fill, Ink.LEAF), words) for fill, words in signs), width)
    top = at + LINE_PX + 4
    gaps = [BED_PX if first else 0.0 for first in is_first]
    rows = [
        Name(grown(each), gap_before=gap) for each, gap in zip(sowings, gaps, strict=True)
    ]  # fmt: skip
    names = names_down(rows, width, top)
    right = width - EDGE_PX
    room = 16 + max(width_px(text, TEXT_PX, bold=True) for text in texts)
    first = min(each.days.plant_out for each in sowings)
    last = max(each.days.last_cut for each in sowings) + timedelta(1)
    scale = Scale(first.toordinal(), last.toordinal(), names.right, right - room)
    marks: list[Mark] = [*head, *_months(scale, top, names.bottom, top - 10), *names.marks]
    marks.append(Words(right, top - 10, unit, SMALL_PX, Anchor.END, ink=Ink.QUIET))
    for each, text, y, heads in zip(sowings, texts, names.middles, is_first, strict=True):
        out, cut, end = (scale.at(day.toordinal()) for day in _turns(each))
        marks += [
            Box(out, y - 9, cut - out, 18, Ink.CARD, Ink.LEAF, 2),
            Box(cut, y - 9, end - cut, 18, Ink.LEAF, Ink.LEAF, 2),
            Words(right, y, text, TEXT_PX, Anchor.END, bold=True),
        ]
        if heads:
            over = y - LINE_PX * len(lines_of(grown(each), names.right - 16, TEXT_PX)) / 2 - 13
            bed = lines_of(each.bed, width / 2, TEXT_PX, most=1)[0]
            marks.append(Words(EDGE_PX, over, bed, TEXT_PX, bold=True))
    return Picture(
        name=f"winter-{found.season}-beds",
        title="Sowings in their beds",
        note="From planting out to the first cut, and on to the last.",
        alt="; ".join(
            f"{each.bed}: {grown(each)}, {text} {unit}, planted "
            f"{day_words(each.days.plant_out)}, cut from "
            f"{day_words(each.days.first_cut)} to {day_words(each.days.last_cut)}"
            for text, each in zip(texts, sowings, strict=True)
        ),
        width=width,
        height=names.bottom + EDGE_PX,
        marks=tuple(marks),
        columns=("bed", "variety", unit, "plant out", "first cut", "last cut", "stems expected"),
        rows=tuple(
            (
                each.bed,
                grown(each),
                float(length(each.metres, system)),
                each.days.plant_out.isoformat(),
                each.days.first_cut.isoformat(),
                each.days.last_cut.isoformat(),
                each.stems * each.metres,
            )
            for each in sowings
        ),
    )


def _turns(each: Planting) -> tuple[date, date, date]:
    """The days on which a sowing is planted out, first cut and over."""
    return each.days.plant_out, each.days.first_cut, each.days.last_cut + timedelta(1)


def stems_picture(found: WinterChoice, place: int, width: int) -> Picture | None:
    """One market's stems by week, next to the least it wants and the most it takes."""
    outlet = found.winter.outlets[place]
    weeks = _weeks(outlet)
    if not weeks:
        return None
    sold = [float(found.sold.stems[place, week]) for week in weeks]
    least, most = (
        [float(end[week]) for week in weeks] for end in (outlet.at_least, outlet.at_most)
    )
    wanted = max(least) > 0
    head, at = key(
        [
            (box_sign(Ink.LEAF), "sold"),
            *([(line_sign(Ink.CLAY, 2.5, _LEAST), "least it wants")] if wanted else []),
            (line_sign(Ink.STONE, 2, _MOST), "most it takes"),
        ],
        width,
    )
    top = at + LINE_PX + 10
    bottom = top + STEMS_PX
    upright = Scale(0.0, 1.05 * max(most), bottom, top)
    left = room_for_ticks(upright)
    mondays = [_monday(found.season, week) for week in weeks]
    level = Scale(
        mondays[0].toordinal(), mondays[-1].toordinal() + 7, left + 6, width - 2 * EDGE_PX
    )
    marks: list[Mark] = [*head, *upwards(upright, left, width - EDGE_PX, "stems per week")]
    for monday, stems, low, high in zip(mondays, sold, least, most, strict=True):
        marks += _week(level, upright, monday, (stems, low, high))
    marks += _months(level, bottom, bottom + 5, bottom + 15)
    return Picture(
        name=f"winter-{found.season}-stems-{place + 1}",
        title=outlet_words(outlet),
        note="",
        alt=f"{sum(sold):,.0f} stems sold of {sum(most):,.0f} at most, {len(weeks)} weeks",
        width=width,
        height=bottom + 15 + LINE_PX,
        marks=tuple(marks),
        columns=("week", "from", "stems sold", "least wanted", "most taken"),
        rows=tuple(
            (week + 1, monday.isoformat(), *figures)
            for week, monday, *figures in zip(weeks, mondays, sold, least, most, strict=True)
        ),
    )


def _week(
    level: Scale, upright: Scale, monday: date, figures: tuple[float, float, float]
) -> list[Mark]:
    """One week: the room there is, the stems sold in it, and its two limits."""
    sold, least, most = figures
    start, end = level.at(monday.toordinal()), level.at(monday.toordinal() + 7)
    floor = upright.at(0.0)
    stems, low, high = (upright.at(figure) for figure in (sold, least, most))
    marks: list[Mark] = [
        Box(start + 1, high, end - start - 2, floor - high, Ink.BAND),
        Box(start + 3, stems, end - start - 6, floor - stems, Ink.LEAF),
        Line(((start, high), (end, high)), Ink.STONE, 2, _MOST),
    ]
    if least > 0:
        marks += [
            # It crosses the bars, so it stands on a lighter line of its own.
            Line(((start, low), (end, low)), Ink.CARD, 5),
            Line(((start, low), (end, low)), Ink.CLAY, 2.5, _LEAST),
        ]
    return marks


def _weeks(outlet: Outlet) -> list[int]:
    return [week for week, most in enumerate(outlet.at_most) if most > 0]


def _monday(season: int, week: int) -> date:
    """The first day of a week by its place; week 53 follows week 52 in every year."""
    return date.fromisocalendar(season, 1, 1) + timedelta(7 * week)


def _months(scale: Scale, top: float, bottom: float, words_at: float) -> list[Mark]:
    """An upright line at the first of each month within the scale; words where they have room."""
    marks: list[Mark] = []
    free_from = float("-inf")
    for day in _firsts(date.fromordinal(int(scale.low)), date.fromordinal(int(scale.high))):
        x, words = scale.at(day.toordinal()), day_words(day)
        half = width_px(words, SMALL_PX) / 2
        marks.append(Line(((x, top), (x, bottom)), Ink.RULE))
        if x - half >= free_from:
            marks.append(Words(x, words_at, words, SMALL_PX, Anchor.MIDDLE))
            free_from = x + half + 2
    return marks


def _firsts(first: date, last: date) -> Sequence[date]:
    """The first days of the months between two days."""
    days = (first + timedelta(n) for n in range((last - first).days + 1))
    return [day for day in days if day.day == 1]


def money_picture(found: WinterChoice, width: int) -> Picture | None:
    """What each variety's stems bring, what it costs, and in figures what is left."""
    if not found.earned:
        return None
    head, at = key(((box_sign(Ink.LEAF), "sales"), (box_sign(Ink.CARD, Ink.STONE), "costs")), width)
    top = at + LINE_PX + 4
    names = names_down([Name(each.variety) for each in found.earned], width, top)
    texts = [f"{each.net:,.0f}".replace("-", "\u2212") for each in found.earned]
    room = 14 + max(width_px(text, TEXT_PX, bold=True) for text in (*texts, "net"))
    most = max(max(each.sales, each.costs) for each in found.earned) or 1.0
    scale = Scale(0.0, 1.02 * most, names.right, width - EDGE_PX - room)
    axis = titled("sales and costs per season", found.currency)
    grid, bottom = across(scale, top, names.bottom, axis, width)
    right = width - EDGE_PX
    marks: list[Mark] = [*head, *grid, *names.marks]
    marks.append(Words(right, top - 8, "net", SMALL_PX, Anchor.END, ink=Ink.QUIET))
    for each, text, y in zip(found.earned, texts, names.middles, strict=True):
        sales, costs = (max(scale.at(n) - names.right, 1.5) for n in (each.sales, each.costs))
        marks += [
            Box(names.right, y - 10, sales, 20, Ink.LEAF),
            Box(names.right, y - 5, costs, 10, Ink.CARD, Ink.STONE, 2.5),
            Words(right, y, text, TEXT_PX, Anchor.END, bold=True),
        ]
    return Picture(
        name=f"winter-{found.season}-money",
        title="Sales and costs of each variety",
        note="Figures at the right show what is left: the net.",
        alt="; ".join(
            f"{each.variety}: sales {each.sales:,.0f}, costs {each.costs:,.0f}, net {text}"
            for each, text in zip(found.earned, texts, strict=True)
        ),
        width=width,
        height=bottom,
        marks=tuple(marks),
        columns=("variety", "crop", "sales", "costs", "net"),
        rows=tuple(
            (each.variety, each.crop, each.sales, each.costs, each.net) for each in found.earned
        ),
    )
