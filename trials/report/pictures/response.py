"""The response to a factor with numbers, such as a spacing: its means and the line through them."""

from __future__ import annotations

import numpy as np

from trials.drawing.inks import Ink
from trials.drawing.picture import Anchor, Dot, Line, Mark, Picture, Words
from trials.drawing.scales import scale_over
from trials.report.figures import Figures
from trials.report.pictures.frame import (
    EDGE_PX,
    LINE_PX,
    SMALL_PX,
    Sign,
    dot_sign,
    key,
    line_sign,
    room_for_ticks,
    titled,
    upwards,
)
from trials.report.tested_words import factor_heading, factor_words, level_words
from trials.report.trends import trend_words
from trials.stats.results import Comparison
from trials.stats.trends import numbers_of
from trials.stats.what_was_tested import Trend

HEIGHT_PX = 320.0
POINTS = 41


def response_picture(
    comparison: Comparison, factor: str, figures: Figures, width: int
) -> Picture | None:
    """The means over the factor's numbers with the fitted line; None where it has no trend.

    The line is straight, or bent where the bend is beyond doubt; without any trend beyond doubt
    it is dotted.
    """
    trend = next((each for each in comparison.trends if each.factor == factor), None)
    means = [mean for mean in comparison.means if mean.term == factor]
    read = numbers_of([level_words(mean.levels) for mean in means])
    if trend is None or read is None:
        return None
    x = read[0]
    y = np.array([mean.mean * figures.factor for mean in means])
    fitted, degree = fitted_line(trend, x, y, comparison.alpha)
    doubtful = trend.straight.p > comparison.alpha and degree == 1
    head, at = key(
        (
            (dot_sign(Ink.LEAF, Ink.LEAF), "mean with its interval"),
            (_sign(doubtful=doubtful), _line_words(degree, doubtful=doubtful)),
        ),
        width,
    )
    top, bottom = at + LINE_PX + 14, at + LINE_PX + 14 + HEIGHT_PX
    limits = [
        end * figures.factor for m in means for end in (m.mean, m.low, m.high) if end is not None
    ]
    up = scale_over([*limits, *fitted[1]], bottom, top)
    left = room_for_ticks(up)
    over = scale_over(x.tolist(), left + 14, width - 2 * EDGE_PX)
    line = tuple((over.at(float(a)), up.at(float(b))) for a, b in zip(*fitted, strict=True))
    ink, wide, dash = (Ink.STONE, 2.0, (2.0, 4.0)) if doubtful else (Ink.CLAY, 3.0, ())
    marks: list[Mark] = [
        *head,
        *upwards(up, left, width - EDGE_PX, titled(comparison.measure, figures.unit)),
        Line(line, ink, wide, dash),
    ]
    for mean, number in zip(means, x, strict=True):
        at_x = over.at(float(number))
        if mean.low is not None and mean.high is not None:
            ends = up.at(mean.low * figures.factor), up.at(mean.high * figures.factor)
            marks.append(Line(((at_x, ends[0]), (at_x, ends[1])), Ink.LEAF, 3))
        marks.append(Dot(at_x, up.at(mean.mean * figures.factor), 6, Ink.LEAF, Ink.LEAF))
        marks.append(Words(at_x, bottom + 14, f"{number:g}", SMALL_PX, Anchor.MIDDLE))
    marks.append(
        Words(left, bottom + 14 + LINE_PX, factor_heading(factor), SMALL_PX, ink=Ink.QUIET)
    )
    return Picture(
        name=f"response-to-{factor}".replace(" ", "-"),
        title=f"{comparison.measure.capitalize()} over {factor_words(factor)}",
        note=trend_words(comparison, factor, figures),
        alt="; ".join(f"{level_words(mean.levels)} {figures.number(mean.mean)}" for mean in means),
        width=width,
        height=bottom + 14 + 2 * LINE_PX,
        marks=tuple(marks),
        columns=(factor, f"mean ({figures.unit})", "low", "high", "fitted line"),
        rows=tuple(
            (
                float(number),
                mean.mean * figures.factor,
                None if mean.low is None else mean.low * figures.factor,
                None if mean.high is None else mean.high * figures.factor,
                float(np.interp(number, *fitted)),
            )
            for mean, number in zip(means, x, strict=True)
        ),
    )


def fitted_line(
    trend: Trend, x: np.ndarray, y: np.ndarray, alpha: float
) -> tuple[tuple[np.ndarray, np.ndarray], int]:
    """Places on the line through the means and its degree: 2 where the bend is beyond doubt.

    The means weigh alike, as in the trend's own contrasts (``trials.stats.trends``).
    """
    degree = 2 if trend.bend.p <= alpha else 1
    places = np.linspace(x.min(), x.max(), POINTS)
    centred = x - x.mean()
    return (places, np.polyval(np.polyfit(centred, y, degree), places - x.mean())), degree


def _sign(*, doubtful: bool) -> Sign:
    return line_sign(Ink.STONE, 2, (2, 4)) if doubtful else line_sign(Ink.CLAY)


def _line_words(degree: int, *, doubtful: bool) -> str:
    if doubtful:
        return "fitted line, not beyond doubt"
    return "fitted curve" if degree == 2 else "fitted line"
