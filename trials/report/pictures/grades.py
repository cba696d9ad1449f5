"""Stems by length grade: what can be sold right of the line, what is too short left of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from trials.drawing.inks import SHORTS, STEPS, Ink
from trials.drawing.picture import Anchor, Box, Line, Mark, Picture, Words
from trials.drawing.scales import scale_over, width_px
from trials.model.saleable import shortest_grade
from trials.model.units import UnitSystem
from trials.report.length_grades import grade_words, length_words
from trials.report.pictures.frame import (
    EDGE_PX,
    LINE_PX,
    SMALL_PX,
    TEXT_PX,
    Name,
    across,
    box_sign,
    key,
    names_down,
)
from trials.report.tested_words import factor_words
from trials.stats.length_grades import GradeShare


def grade_inks(grades_cm: Sequence[float], shortest_cm: float) -> dict[float, Ink]:
    """An ink for each grade: clay below the shortest saleable length, straw to leaf above."""
    grades, lowest = sorted(set(grades_cm)), shortest_grade(shortest_cm)
    short = [grade for grade in grades if grade < lowest][::-1]
    saleable = [grade for grade in grades if grade >= lowest]
    inks = {grade: SHORTS[min(n + 1, 2)] for n, grade in enumerate(short)}
    for n, grade in enumerate(saleable):
        inks[grade] = STEPS[min(1 + n, len(STEPS) - 1)]
    return inks


def grades_picture(
    found: Sequence[GradeShare],
    shortest_cm: float,
    system: UnitSystem,
    factor: str,
    order: Sequence[str],
    width: int,
    *,
    as_shares: bool = False,
) -> Picture:
    """Stems by grade of each level, in ``order``; the upright line is the shortest length sold."""
    words = grade_words([item.grade_cm for item in found], system)
    inks = grade_inks(list(words), shortest_cm)
    lowest = shortest_grade(shortest_cm)
    levels = [level for level in order if any(item.level == level for item in found)]
    head, at = key(((box_sign(inks[grade]), words[grade]) for grade in sorted(words)), width)
    top = at + LINE_PX + 4
    names = names_down([Name(level) for level in levels], width, top)
    sizes = {
        (item.level, item.grade_cm): (item.share or 0.0) * 100
        if as_shares
        else item.stems_per_plant
        for item in found
    }
    sold = {
        level: sum(size for (at_, grade), size in sizes.items() if at_ == level and grade >= lowest)
        for level in levels
    }
    short = {
        level: sum(size for (at_, grade), size in sizes.items() if at_ == level and grade < lowest)
        for level in levels
    }
    texts = {
        level: f"{sold[level]:.0f}%" if as_shares else f"{sold[level]:.1f}" for level in levels
    }
    right = width - EDGE_PX - 8 - max(width_px(text, TEXT_PX, bold=True) for text in texts.values())
    scale = scale_over(
        [-max(short.values()), max(sold.values()), 0.0], names.right + 6, right, room=0.02
    )
    title = "share of all graded stems (%)" if as_shares else "stems per plant"
    grid, bottom = across(scale, top, names.bottom, title, width)
    marks: list[Mark] = [*head, *(_unsigned(mark) for mark in grid), *names.marks]
    for level, y in zip(levels, names.middles, strict=True):
        marks += _bar(level, sorted(words), lowest, sizes, inks, scale.at, y)
        end = scale.at(sold[level]) + 7
        marks.append(Words(end, y, texts[level], TEXT_PX, bold=True))
    zero = scale.at(0.0)
    leans_left = zero > 0.6 * width
    marks += [
        Line(((zero, top), (zero, names.bottom)), Ink.CLAY, 2.5),
        Words(
            zero,
            top - LINE_PX / 2 - 2,
            "long enough to sell →",
            SMALL_PX,
            Anchor.END if leans_left else Anchor.START,
            bold=True,
        ),
    ]
    shortest = length_words(shortest_cm, system)
    return Picture(
        name=f"stems-by-length-and-{factor}".replace(" ", "-"),
        title=f"Stems by length and {factor_words(factor)}",
        note=(
            f"Right of the line: {shortest} and longer, which you can sell, with their number. "
            "Left of it: too short."
        ),
        alt="; ".join(f"{level} {texts[level]} long enough to sell" for level in levels),
        width=width,
        height=bottom,
        marks=tuple(marks),
        columns=(factor, "length", "stems per plant", "share of graded stems"),
        rows=tuple(
            (item.level, words[item.grade_cm], item.stems_per_plant, item.share)
            for level in levels
            for item in found
            if item.level == level
        ),
    )


def _bar(
    level: str,
    grades: Sequence[float],
    lowest: int,
    sizes: Mapping[tuple[str, float], float],
    inks: Mapping[float, Ink],
    place: Callable[[float], float],
    y: float,
) -> list[Mark]:
    """The pieces of one level's bar, laid from the line outwards on both sides."""
    marks: list[Mark] = []
    for direction, of_side in (
        (-1, [grade for grade in reversed(grades) if grade < lowest]),
        (1, [grade for grade in grades if grade >= lowest]),
    ):
        at = 0.0
        for grade in of_side:
            to = at + direction * sizes.get((level, grade), 0.0)
            left, right = sorted((place(at), place(to)))
            if right > left:
                marks.append(Box(left, y - 10, right - left, 20, inks[grade], Ink.CARD, 1))
            at = to
    return marks


def _unsigned(mark: Mark) -> Mark:
    """Figures left of the line count stems as those right of it do."""
    if isinstance(mark, Words) and mark.text.startswith("−"):
        return replace(mark, text=mark.text[1:])
    return mark
