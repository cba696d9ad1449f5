"""Two factors together: a line for each level of one over the levels of the other."""

from __future__ import annotations

from collections.abc import Sequence

from trials.drawing.picture import Anchor, Mark, Picture, Words
from trials.drawing.scales import lines_of, scale_over
from trials.report.comparison_tables import crossed, interplay_words
from trials.report.figures import Figures
from trials.report.pictures.frame import (
    EDGE_PX,
    LINE_PX,
    SMALL_PX,
    key,
    line_sign,
    room_for_ticks,
    titled,
    upwards,
)
from trials.report.pictures.named_lines import (
    QUIET,
    NamedLine,
    looks,
    named_lines,
    room_for_names,
)
from trials.stats.results import Comparison, Verdict

DIFFERS = "makes a difference"
UNSURE = "too close to call"
LEAST_HEIGHT_PX = 330.0


def interaction_picture(comparison: Comparison, term: str, figures: Figures, width: int) -> Picture:
    """A line for each level of the larger factor over the levels of the smaller one.

    Bold and in an ink of its own where the smaller one makes a difference, dotted where that is
    too close to call.
    """
    down, over = crossed(comparison, term)
    cells = {
        (dict(mean.levels)[down.name], dict(mean.levels)[over.name]): mean.mean * figures.factor
        for mean in comparison.means
        if mean.term == term
    }
    differing = [level for level in down.levels if level in _sure(comparison, down.name, over.name)]
    look_of = dict(zip(differing, looks(len(differing)), strict=True))
    signs = (
        [(line_sign(looks(1)[0].ink), f"{DIFFERS}, each in an ink of its own")] if differing else []
    )
    if len(differing) < len(down.levels):
        signs.append((line_sign(QUIET.ink, QUIET.width, QUIET.dash), UNSURE))
    head, at = key(signs, width)
    top = at + LINE_PX + 14
    bottom = top + max(LEAST_HEIGHT_PX, 18.0 * len(down.levels))
    scale = scale_over(list(cells.values()), bottom, top)
    names_px = room_for_names(down.levels, width)
    left = room_for_ticks(scale)
    order = rising(comparison, over.name, over.levels)
    room = width - names_px - left - 40
    xs = {level: left + 20 + room * n / (len(order) - 1) for n, level in enumerate(order)}
    lines = [
        NamedLine(
            level,
            tuple(
                (xs[other], scale.at(cells[level, other]))
                for other in order
                if (level, other) in cells
            ),
            look_of.get(level, QUIET),
        )
        for level in down.levels
    ]
    marks: list[Mark] = [
        *head,
        *upwards(scale, left, width - names_px, titled(comparison.measure, figures.unit)),
        *named_lines(lines, top, bottom, width, names_px),
    ]
    marks, height = _levels_below(marks, order, xs, room, bottom)
    words = interplay_words(comparison, term)
    return Picture(
        name=f"{over.name}-by-{down.name}".replace(" ", "-"),
        title=f"Is the effect of {over.name} the same for every {down.name}?",
        note=f"Parallel lines say yes. {words[:1].upper()}{words[1:]}." if words else "",
        alt="; ".join(
            f"{level}: "
            + ", ".join(
                f"{other} {figures.number(cells[level, other] / figures.factor)}"
                for other in order
                if (level, other) in cells
            )
            for level in down.levels
        ),
        width=width,
        height=height,
        marks=tuple(marks),
        columns=(down.name, over.name, f"mean ({figures.unit})", "effect"),
        rows=tuple(
            (level, other, cells[level, other], DIFFERS if level in look_of else UNSURE)
            for level in down.levels
            for other in order
            if (level, other) in cells
        ),
    )


def _sure(comparison: Comparison, down: str, over: str) -> set[str | None]:
    """The levels of ``down`` for which some levels of ``over`` differ."""
    return {
        dict(pair.within).get(down)
        for pair in comparison.all_pairs
        if pair.within and over in dict(pair.a) and pair.verdict in (Verdict.MORE, Verdict.LESS)
    }


def rising(comparison: Comparison, factor: str, levels: Sequence[str]) -> list[str]:
    """Two levels in words so that their means rise; numbers and longer rows as they are."""
    if len(levels) != 2 or all(level.replace(".", "").isdigit() for level in levels):
        return list(levels)
    means = {dict(m.levels)[factor]: m.mean for m in comparison.means if m.term == factor}
    return sorted(levels, key=lambda level: means.get(level, 0.0))


def _levels_below(
    marks: list[Mark], order: Sequence[str], xs: dict[str, float], room: float, bottom: float
) -> tuple[list[Mark], float]:
    each = room / (len(order) - 1)
    most = 1
    for level in order:
        lines = lines_of(level, max(each - EDGE_PX, 40), SMALL_PX)
        most = max(most, len(lines))
        marks += [
            Words(xs[level], bottom + 14 + n * LINE_PX, line, SMALL_PX, Anchor.MIDDLE)
            for n, line in enumerate(lines)
        ]
    return marks, bottom + 14 + most * LINE_PX
