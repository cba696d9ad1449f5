"""Pictures of a choice: the chance to be the best, the expected loss, and who is long enough."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trials.decide import Choice, Standing
from trials.drawing.inks import Ink
from trials.drawing.picture import Anchor, Box, Dot, Line, Mark, Picture, Shape, Words
from trials.drawing.scales import Scale, width_px
from trials.report.figures import Figures, chance, per_cent
from trials.report.pictures.frame import (
    EDGE_PX,
    LINE_PX,
    SMALL_PX,
    TEXT_PX,
    Name,
    across,
    box_sign,
    dot_sign,
    key,
    names_down,
    titled,
)

_INKS = {
    "reorder": (Ink.LEAF, Ink.LEAF),
    "grow again": (Ink.CARD, Ink.LEAF),
    "drop": (Ink.CARD, Ink.STONE),
}
_DOTS = {
    "long enough": (Ink.LEAF, Ink.LEAF, Shape.CIRCLE),
    "too short to sell: dropped": (None, Ink.CLAY, Shape.CROSS),
}


@dataclass(frozen=True, slots=True)
class _Bar:
    name: str
    value: float
    shown: str
    verdict: str


def chance_picture(choice: Choice, width: int) -> Picture | None:
    """The chance of each variety that is long enough to be the best next season."""
    bars = [
        _Bar(
            _name(standing, choice),
            100 * (standing.chance_best or 0.0),
            chance(standing.chance_best),
            standing.verdict.value,
        )
        for standing in _candidates(choice)
    ]
    return _bars(
        bars,
        width,
        name="chance-to-be-the-best",
        title="Chance that each is the best",
        note="Among those long enough to sell.",
        axis="chance to be the best next season (%)",
    )


def loss_picture(choice: Choice, figures: Figures, width: int) -> Picture | None:
    """How far each variety falls short of the best on average; ties end at the dashed line."""
    bars = [
        _Bar(
            _name(standing, choice),
            (standing.expected_shortfall or 0.0) * figures.factor,
            figures.number(standing.expected_shortfall),
            standing.verdict.value,
        )
        for standing in _candidates(choice)
    ]
    tied = [
        (standing.expected_shortfall - standing.extra_cost + reason.limit) * figures.factor
        for standing in choice.standings
        for reason in standing.reasons
        if reason.code.value == "tied with the best"
        and standing.expected_shortfall is not None
        and standing.extra_cost is not None
        and reason.limit is not None
    ]
    return _bars(
        bars,
        width,
        name="expected-loss",
        title="Expected loss of each",
        note="How far it falls short of the best on average.",
        axis=titled("expected loss", figures.apart.unit),
        limit=tied[0] if tied else None,
    )


def _candidates(choice: Choice) -> list[Standing]:
    return [standing for standing in choice.standings if standing.chance_best is not None]


def _name(standing: Standing, choice: Choice) -> str:
    return f"{standing.entry} (check)" if standing.entry == choice.check else standing.entry


def _bars(
    bars: Sequence[_Bar],
    width: int,
    *,
    name: str,
    title: str,
    note: str,
    axis: str,
    limit: float | None = None,
) -> Picture | None:
    """Bars from nothing, each with its figure; None without any."""
    if not bars:
        return None
    used = [verdict for verdict in _INKS if any(bar.verdict == verdict for bar in bars)]
    head, at = key(((box_sign(*_INKS[each]), each) for each in used), width)
    top = at + (LINE_PX + 4 if limit is not None else 0)
    names = names_down([Name(bar.name) for bar in bars], width, top)
    room = max(width_px(bar.shown, TEXT_PX, bold=True) for bar in bars) + 14
    most = max(bar.value for bar in bars) or 1.0
    scale = Scale(0.0, most, names.right, width - EDGE_PX - room)
    grid, bottom = across(scale, top, names.bottom, axis, width)
    marks: list[Mark] = [*head, *grid, *names.marks]
    if limit is not None and limit <= most:
        marks += _limit(scale.at(limit), "tied up to here", top, names.bottom, Anchor.START)
    for bar, y in zip(bars, names.middles, strict=True):
        fill, stroke = _INKS[bar.verdict]
        end = scale.at(bar.value)
        marks += [
            Box(names.right, y - 9, max(end - names.right, 1.5), 18, fill, stroke, 2),
            Box(end + 5, y - 9, width_px(bar.shown, TEXT_PX, bold=True) + 4, 18, Ink.GROUND),
            Words(end + 8, y, bar.shown, TEXT_PX, bold=True),
        ]
    return Picture(
        name=name,
        title=title,
        note=note,
        alt="; ".join(f"{bar.name} {bar.shown}, {bar.verdict}" for bar in bars),
        width=width,
        height=bottom,
        marks=tuple(marks),
        columns=("variety", axis, "verdict"),
        rows=tuple((bar.name, bar.value, bar.verdict) for bar in bars),
    )


def _limit(x: float, words: str, top: float, bottom: float, anchor: Anchor) -> list[Mark]:
    """A dashed rule with its words above it."""
    return [
        Line(((x, top), (x, bottom)), Ink.CLAY, 2, (7, 5)),
        Words(x, top - LINE_PX / 2 - 2, words, SMALL_PX, anchor, bold=True, ink=Ink.CLAY),
    ]


def tall_picture(choice: Choice, width: int) -> Picture | None:
    """The chance that each variety's stems reach the length that sells; None if none is known."""
    known = [standing for standing in choice.standings if standing.chance_tall is not None]
    if not known:
        return None
    long, short = _DOTS
    kinds = [short if standing.chance_best is None else long for standing in known]
    head, at = key(((dot_sign(*_DOTS[each]), each) for each in _DOTS if each in kinds), width)
    top = at + LINE_PX + 4
    names = names_down([Name(_name(standing, choice)) for standing in known], width, top)
    texts = [chance(standing.chance_tall) for standing in known]
    room = max(width_px(text, TEXT_PX, bold=True) for text in texts) + 18
    scale = Scale(-3.0, 103.0, names.right, width - EDGE_PX - room)
    axis = "chance of stems long enough to sell (%)"
    grid, bottom = across(scale, top, names.bottom, axis, width)
    wanted = 100 * choice.rules.tall_chance
    words = f"{per_cent(wanted / 100)} wanted"
    marks: list[Mark] = [
        *head,
        *grid,
        *names.marks,
        *_limit(scale.at(wanted), words, top, names.bottom, Anchor.END),
    ]
    for standing, kind, text, y in zip(known, kinds, texts, names.middles, strict=True):
        marks += [
            Dot(scale.at(100 * (standing.chance_tall or 0.0)), y, 6.5, *_DOTS[kind], 2.5),
            Words(width - EDGE_PX, y, text, TEXT_PX, Anchor.END, bold=True),
        ]
    return Picture(
        name="long-enough-to-sell",
        title="Long enough to sell?",
        note="Varieties too short to sell are last, however good the flowers.",
        alt="; ".join(
            f"{_name(standing, choice)} {text}, {kind}"
            for standing, kind, text in zip(known, kinds, texts, strict=True)
        ),
        width=width,
        height=bottom,
        marks=tuple(marks),
        columns=("variety", axis, "standing"),
        rows=tuple(
            (_name(standing, choice), 100 * (standing.chance_tall or 0.0), kind)
            for standing, kind in zip(known, kinds, strict=True)
        ),
    )
