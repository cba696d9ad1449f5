"""This season beside earlier ones: the means of what was grown in more than one trial."""

from __future__ import annotations

from collections.abc import Sequence

from trials.drawing.inks import Ink
from trials.drawing.picture import Anchor, Mark, Picture, Words
from trials.drawing.scales import scale_over
from trials.report.figures import Figures
from trials.report.pictures.frame import (
    LINE_PX,
    SMALL_PX,
    room_for_ticks,
    titled,
    upwards,
)
from trials.report.pictures.named_lines import NamedLine, looks, named_lines, room_for_names
from trials.stats.season_views import SeasonMean

LEAST_HEIGHT_PX = 320.0


def seasons_picture(
    found: Sequence[SeasonMean], measure: str, factor: str, figures: Figures, width: int
) -> Picture | None:
    """A line for each level over the trials it was grown in; None with one trial only."""
    trials = sorted({(each.season, each.trial) for each in found})
    if len(trials) < 2:
        return None
    value = {(each.level, each.trial): each.mean * figures.factor for each in found}
    last = {level: mean for (level, trial), mean in value.items() if trial == trials[-1][1]}
    levels = sorted(last, key=lambda level: -last[level])
    top = LINE_PX + 16
    bottom = top + max(LEAST_HEIGHT_PX, 18.0 * len(levels))
    scale = scale_over(list(value.values()), bottom, top)
    left, names_px = room_for_ticks(scale), room_for_names(levels, width)
    each = (width - names_px - left - 40) / (len(trials) - 1)
    xs = {trial: left + 20 + n * each for n, (_, trial) in enumerate(trials)}
    lines = [
        NamedLine(
            level,
            tuple(
                (xs[trial], scale.at(value[level, trial]))
                for _, trial in trials
                if (level, trial) in value
            ),
            look,
        )
        for level, look in zip(levels, looks(len(levels)), strict=True)
    ]
    marks: list[Mark] = [
        *upwards(scale, left, width - names_px, titled(measure, figures.unit)),
        *named_lines(lines, top, bottom, width, names_px),
    ]
    for season, trial in trials:
        marks.append(Words(xs[trial], bottom + 14, str(season), SMALL_PX, Anchor.MIDDLE))
    marks.append(Words(left, bottom + 14 + LINE_PX, "season", SMALL_PX, ink=Ink.QUIET))
    return Picture(
        name=f"{measure}-over-seasons".replace(" ", "-"),
        title="This season next to earlier ones",
        note=(
            "Each trial's own means of what was grown this season and before. Seasons differ in "
            "weather, planting and layout: compare within a season, and look for lines that cross."
        ),
        alt="; ".join(
            f"{level}: "
            + ", ".join(
                f"{season} {figures.number(value[level, trial] / figures.factor)}"
                for season, trial in trials
                if (level, trial) in value
            )
            for level in levels
        ),
        width=width,
        height=bottom + 14 + 2 * LINE_PX,
        marks=tuple(marks),
        columns=(factor, "season", "trial", f"mean ({figures.unit})", "low", "high"),
        rows=tuple(
            (
                item.level,
                item.season,
                item.trial,
                item.mean * figures.factor,
                None if item.low is None else item.low * figures.factor,
                None if item.high is None else item.high * figures.factor,
            )
            for item in found
        ),
    )
