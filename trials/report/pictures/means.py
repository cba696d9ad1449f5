"""The picture of the answer: each level's mean with its limits, those too short to sell apart."""

from __future__ import annotations

from dataclasses import dataclass

from trials.drawing.inks import Ink
from trials.drawing.picture import Anchor, Box, Dot, Line, Mark, Picture, Shape, Words
from trials.drawing.scales import Scale, scale_over, width_px
from trials.report.comparison_tables import ranked_means, without_mean_note
from trials.report.figures import Figures, per_cent
from trials.report.pictures.frame import (
    EDGE_PX,
    LINE_PX,
    SMALL_PX,
    TEXT_PX,
    Name,
    across,
    dot_sign,
    key,
    names_down,
    titled,
)
from trials.report.tested_words import factor_words, level_words
from trials.stats.results import Comparison, Mean

COULD = "could be the best"
RULED_OUT = "ruled out as the best"
TOO_SHORT = "too short to sell"
PLAIN = "from one plot only"


@dataclass(frozen=True, slots=True)
class _Row:
    name: str
    mean: Mean
    standing: str
    sold_share: float | None = None

    @property
    def is_short(self) -> bool:
        return self.standing == TOO_SHORT


_SIGNS = {
    COULD: (Ink.LEAF, Ink.LEAF, Shape.CIRCLE),
    RULED_OUT: (Ink.CARD, Ink.STONE, Shape.DIAMOND),
    TOO_SHORT: (None, Ink.CLAY, Shape.CROSS),
    PLAIN: (Ink.CARD, Ink.STONE, Shape.CIRCLE),
}


def means_picture(comparison: Comparison, factor: str, figures: Figures, width: int) -> Picture:
    """Each level's adjusted mean with its interval, best first, and the check as a dashed rule.

    Levels too short to sell lie apart below, crossed. Without intervals there are dots alone.
    """
    rows = _rows(comparison, factor)
    tested = any(row.mean.low is not None for row in rows)
    used = [each for each in _SIGNS if any(row.standing == each for row in rows)]
    head, at = key(((dot_sign(*_SIGNS[each]), each) for each in used), width)
    check = next((row for row in rows if row.name == comparison.check), None)
    top = at + (LINE_PX + 4 if check is not None else 0)
    first_short = next((n for n, row in enumerate(rows) if row.is_short), None)
    names = names_down(
        [
            Name(
                f"{row.name} (check)" if row is check else row.name,
                row.is_short,
                LINE_PX + 12 if n == first_short else 0,
            )
            for n, row in enumerate(rows)
        ],
        width,
        top,
    )
    figures_px = max(width_px(figures.number(row.mean.mean), TEXT_PX, bold=True) for row in rows)
    scale = _scale(rows, figures, names.right, width - figures_px - 2 * EDGE_PX, tested=tested)
    title = titled(comparison.measure, figures.unit)
    grid, bottom = across(scale, top, names.bottom, title, width)
    marks: list[Mark] = [*head, *grid]
    if check is not None and not check.is_short:
        marks += _check_rule(scale.at(check.mean.mean * figures.factor), top, names.bottom, width)
    if first_short is not None:
        marks += _band(names.middles[first_short], names.bottom, width)
    marks += names.marks
    for row, y in zip(rows, names.middles, strict=True):
        marks += _row_marks(row, y, scale, figures, width)
    return Picture(
        name=f"{comparison.measure} by {factor}".replace(" ", "-"),
        title=f"{comparison.measure.capitalize()} by {factor_words(factor)}",
        note=_note(comparison, factor, tested=tested),
        alt=_alt(comparison, factor, figures, rows),
        width=width,
        height=bottom,
        marks=tuple(marks),
        columns=(factor, f"mean ({figures.unit})", "low", "high", "plots", "standing"),
        rows=tuple(
            (
                row.name,
                row.mean.mean * figures.factor,
                None if row.mean.low is None else row.mean.low * figures.factor,
                None if row.mean.high is None else row.mean.high * figures.factor,
                row.mean.n,
                row.standing,
            )
            for row in rows
        ),
    )


def _rows(comparison: Comparison, factor: str) -> list[_Row]:
    best = {
        level_words(item.levels): item.could_be_best
        for item in comparison.with_best
        if item.term == factor and not item.within
    }
    short = {e.level: e.share for e in comparison.too_short if e.factor == factor}
    rows = []
    for mean in ranked_means(comparison, factor):
        name = level_words(mean.levels)
        standing = PLAIN if mean.se is None else COULD if best.get(name, True) else RULED_OUT
        standing = TOO_SHORT if name in short else standing
        rows.append(_Row(name, mean, standing, short.get(name)))
    return rows


def _scale(rows: list[_Row], figures: Figures, left: float, right: float, *, tested: bool) -> Scale:
    """Over what can be sold, so that the rest does not crowd it."""
    running = [row for row in rows if not row.is_short] or rows
    ends = [
        end * figures.factor
        for row in running
        for end in (row.mean.mean, row.mean.low, row.mean.high)
        if end is not None
    ]
    return scale_over(ends if tested else [0.0, *ends], left + 6, right)


def _row_marks(row: _Row, y: float, scale: Scale, figures: Figures, width: float) -> list[Mark]:
    fill, stroke, shape = _SIGNS[row.standing]
    ink = Ink.QUIET if row.is_short else Ink.TEXT
    text = figures.number(row.mean.mean)
    figure = Words(width - EDGE_PX, y, text, TEXT_PX, Anchor.END, bold=not row.is_short, ink=ink)
    if row.sold_share is not None:
        words = f"{per_cent(row.sold_share)} long enough"
        return [
            Dot(scale.start + 4, y, 5, fill, stroke, shape, 2.5),
            Words(scale.start + 16, y, words, SMALL_PX, ink=ink),
            figure,
        ]
    marks: list[Mark] = []
    if row.mean.low is not None and row.mean.high is not None:
        ends = (scale.at(row.mean.low * figures.factor), scale.at(row.mean.high * figures.factor))
        line = Ink.LEAF if row.standing == COULD else Ink.STONE
        marks.append(Line(((ends[0], y), (ends[1], y)), line, 3.5))
    marks.append(Dot(scale.at(row.mean.mean * figures.factor), y, 6.5, fill, stroke, shape, 2.5))
    return [*marks, figure]


def _band(first: float, bottom: float, width: float) -> list[Mark]:
    """The place apart, under its own heading."""
    top = first - 15 - LINE_PX - 10
    return [
        Box(0, top, width, bottom - top, Ink.BAND),
        Line(((0, top), (width, top)), Ink.CLAY, 2),
        Words(
            EDGE_PX, top + LINE_PX / 2 + 5, "Too short to sell", SMALL_PX, bold=True, ink=Ink.CLAY
        ),
    ]


def _check_rule(x: float, top: float, bottom: float, width: float) -> list[Mark]:
    leans_left = x > 0.6 * width
    return [
        Line(((x, top), (x, bottom)), Ink.CLAY, 2, (7, 5)),
        Words(
            x,
            top - LINE_PX / 2 - 2,
            "the check",
            SMALL_PX,
            Anchor.END if leans_left else Anchor.START,
            bold=True,
            ink=Ink.CLAY,
        ),
    ]


def _note(comparison: Comparison, factor: str, *, tested: bool) -> str:
    if not tested:
        return "One plot of each: the figures carry no interval, and nothing is tested."
    sure = 100 * (1 - comparison.alpha)
    said = f"Best at the top. With {sure:g}% confidence the true mean lies on the line."
    return f"{said} {without_mean_note(comparison, factor)}".strip()


def _alt(comparison: Comparison, factor: str, figures: Figures, rows: list[_Row]) -> str:
    said = "; ".join(f"{row.name} {figures.number(row.mean.mean)}, {row.standing}" for row in rows)
    return f"{titled(comparison.measure, figures.unit)} by {factor}: {said}"
