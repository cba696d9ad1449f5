"""The picture of a network: each variety's lead with its limits over farms and at a new farm."""

from __future__ import annotations

from collections.abc import Sequence

from trials.drawing.inks import Ink
from trials.drawing.picture import Anchor, Dot, Line, Mark, Picture, Words
from trials.drawing.scales import scale_over, width_px
from trials.pool.network import AcrossFarms
from trials.report.figures import MINUS
from trials.report.pictures.frame import (
    EDGE_PX,
    TEXT_PX,
    Name,
    across,
    key,
    line_sign,
    names_down,
    titled,
)


def lead_picture(varieties: Sequence[AcrossFarms], unit: str, width: int) -> Picture:
    """Leads over the mean of all varieties: thick over farms like these, thin at one new farm."""
    texts = [f"{each.lead:+.1f}".replace("-", MINUS) for each in varieties]
    limits = [(each.low, each.high, *_new(each)) for each in varieties]
    head, top = key(
        (
            (line_sign(Ink.LEAF, 6), "mean over farms like these"),
            (line_sign(Ink.STONE, 2), "one new farm"),
        ),
        width,
    )
    names = names_down([Name(each.variety) for each in varieties], width, top)
    room = max(width_px(text, TEXT_PX, bold=True) for text in texts) + 14
    scale = scale_over(
        [0.0, *(end for ends in limits for end in ends)], names.right, width - EDGE_PX - room
    )
    axis = titled("lead over the mean of all varieties", unit)
    grid, bottom = across(scale, top, names.bottom, axis, width, signed=True)
    zero = scale.at(0.0)
    marks: list[Mark] = [
        *head,
        *grid,
        *names.marks,
        Line(((zero, top), (zero, names.bottom)), Ink.STONE, 2, (4, 4)),
    ]
    for each, ends, text, y in zip(varieties, limits, texts, names.middles, strict=True):
        low, high, new_low, new_high = (scale.at(end) for end in ends)
        marks += [
            Line(((new_low, y), (new_high, y)), Ink.STONE, 2),
            Line(((low, y), (high, y)), Ink.LEAF, 6),
            Dot(scale.at(each.lead), y, 6, Ink.CARD, Ink.LEAF, line=2.5),
            Words(width - EDGE_PX, y, text, TEXT_PX, Anchor.END, bold=True),
        ]
    return Picture(
        name="lead-over-farms",
        title="Lead over the mean of all varieties",
        note="Thick: the mean over farms like these. Thin: one new farm. 95% limits.",
        alt="; ".join(
            f"{each.variety} {text}" for each, text in zip(varieties, texts, strict=True)
        ),
        width=width,
        height=bottom,
        marks=tuple(marks),
        columns=("variety", axis, "low", "high", "low at a new farm", "high at a new farm"),
        rows=tuple(
            (each.variety, each.lead, *ends) for each, ends in zip(varieties, limits, strict=True)
        ),
    )


def _new(each: AcrossFarms) -> tuple[float, float]:
    """The limits at a new farm; those over farms where no others are known."""
    low = each.low if each.new_low is None else each.new_low
    high = each.high if each.new_high is None else each.new_high
    return low, high
