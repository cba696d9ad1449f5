"""The picture of the contest: how far each level may lie from the best of the others."""

from __future__ import annotations

from trials.drawing.inks import Ink
from trials.drawing.picture import Anchor, Box, Line, Mark, Picture, Words
from trials.drawing.scales import lines_of, scale_over
from trials.report.comparison_tables import ranked_means
from trials.report.figures import Figures
from trials.report.pictures.frame import (
    EDGE_PX,
    LINE_PX,
    SMALL_PX,
    Name,
    across,
    box_sign,
    key,
    names_down,
    titled,
)
from trials.report.pictures.means import COULD, RULED_OUT
from trials.report.tested_words import factor_words, level_words
from trials.stats.results import Comparison


def best_picture(
    comparison: Comparison, factor: str, figures: Figures, width: int
) -> Picture | None:
    """How far each level may lie from the best of the others; None where none was compared."""
    band = {level_words(item.levels): item for item in comparison.with_best if item.term == factor}
    names_of = [level_words(mean.levels) for mean in ranked_means(comparison, factor)]
    items = [band[name] for name in names_of if name in band]
    if not items:
        return None
    signs = {True: (Ink.LEAF, Ink.LEAF), False: (Ink.CARD, Ink.STONE)}
    head, at = key(
        [
            (box_sign(*signs[could]), COULD if could else RULED_OUT)
            for could in (True, False)
            if any(item.could_be_best is could for item in items)
        ],
        width,
    )
    top = at + LINE_PX + 4
    names = names_down([Name(level_words(item.levels)) for item in items], width, top)
    ends = [end * figures.factor for item in items for end in (item.low, item.high)]
    scale = scale_over([0.0, *ends], names.right + 6, width - 2 * EDGE_PX)
    title = titled("difference from the best of the others", figures.apart.unit)
    grid, bottom = across(scale, top, names.bottom, title, width, signed=True)
    marks: list[Mark] = [*head, *grid, *names.marks]
    for item, y in zip(items, names.middles, strict=True):
        low, high = scale.at(item.low * figures.factor), scale.at(item.high * figures.factor)
        fill, stroke = signs[item.could_be_best]
        marks.append(Box(low, y - 7, max(high - low, 1.5), 14, fill, stroke, 2))
    zero = scale.at(0.0)
    room = zero - EDGE_PX
    words = lines_of("as good as the best of the others", room, SMALL_PX, most=1)[0]
    marks += [
        Line(((zero, top), (zero, names.bottom)), Ink.TEXT, 2),
        Words(zero, top - LINE_PX / 2 - 2, words, SMALL_PX, Anchor.END, bold=True),
    ]
    return Picture(
        name=f"which-{factor}-could-be-best".replace(" ", "-"),
        title=f"Which {factor_words(factor)} could be the best",
        note=(
            "If a bar crosses the vertical line, that one could be the best. The bar's left end "
            "shows how far it may fall short."
        ),
        alt="; ".join(
            f"{level_words(item.levels)} {figures.interval(item.low, item.high)}, "
            f"{COULD if item.could_be_best else RULED_OUT}"
            for item in items
        ),
        width=width,
        height=bottom,
        marks=tuple(marks),
        columns=(factor, f"low ({figures.apart.unit})", "high", "standing"),
        rows=tuple(
            (
                level_words(item.levels),
                item.low * figures.factor,
                item.high * figures.factor,
                COULD if item.could_be_best else RULED_OUT,
            )
            for item in items
        ),
    )
