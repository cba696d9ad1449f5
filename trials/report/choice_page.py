"""The standings for next season as a page of text."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from trials.decide import (
    RULES_IN_WORDS,
    Advice,
    Choice,
    Finding,
    Outlook,
    Practice,
    Quantity,
    Reason,
    ReasonCode,
    Rules,
    Standing,
    SwingSource,
)
from trials.report.comparison_tables import VERDICT_WORDS as PAIR_VERDICTS
from trials.report.figures import (
    Figures,
    chance,
    count,
    listed,
    measure_figures,
    per_cent,
)
from trials.report.grid import Column, Table, grid, wrapped
from trials.report.words import level_words
from trials.units import UnitSystem

VERDICT_WORDS = {
    Advice.REORDER: "reorder",
    Advice.TRY_AGAIN: "try again",
    Advice.DROP: "drop",
}


def choice_page(choice: Choice, system: UnitSystem = UnitSystem.METRIC, as_known: str = "") -> str:
    """Every variety's verdict with its chances, then the reasons, then the rules.

    ``as_known`` goes behind the title: of which time the records are, if not of now.
    """
    figures = measure_figures(choice.measure, system)
    title = f"{choice.crop}: what to grow in {choice.next_season}{as_known}"
    parts = [
        f"{title}\n{'═' * len(title)}",
        wrapped(swing_sentence(choice, figures), indent=""),
        _table(choice, figures),
        *_practices(choice, system),
        "Why\n" + "\n".join(_why(standing, figures) for standing in choice.standings),
        "The rules (yours to change)\n"
        + "\n".join(f"  {line}" for line in rules_lines(choice.rules, figures, choice.outlook)),
    ]
    return "\n\n".join(parts) + "\n"


def swing_sentence(choice: Choice, figures: Figures) -> str:
    """From how many seasons the standings come, and how far a season moves a variety."""
    swing = choice.outlook.swing
    seasons = sorted({season for season, _ in choice.outlook.seasons})
    seen = (
        f"From {count(len(choice.trials), 'closed trial')} in "
        f"{listed([str(season) for season in seasons])}, by {choice.measure.label}."
    )
    size = figures.amount(swing.sd)
    how = {
        SwingSource.ESTIMATED: (
            f"From season to season a variety moves by about {size} beside the others "
            "(estimated from these seasons, so itself uncertain)."
        ),
        SwingSource.GIVEN: f"A season moves a variety by about {size} (as you gave it).",
        SwingSource.ASSUMED: (
            f"How far a season moves a variety is not known from these trials; {size} is assumed, "
            "half the spread between the varieties."
        ),
    }[swing.source]
    return f"{seen} {how}"


def _table(choice: Choice, figures: Figures) -> str:
    checked = choice.check is not None
    columns = [
        Column("", right=True),
        Column("variety"),
        Column("verdict"),
        Column(f"next season, {figures.unit}"),
        Column("best", right=True),
        Column("gives up", right=True),
        Column("long enough", right=True),
        *([Column(f"beats {choice.check}", right=True)] if checked else []),
        Column("seasons", right=True),
    ]
    rows = [
        [
            str(s.rank),
            s.entry + (" =" if s.tied_with_best else ""),
            VERDICT_WORDS[s.verdict],
            f"{figures.number(s.mean)} ({figures.interval(s.low, s.high)})",
            chance(s.chance_best),
            figures.number(s.expected_shortfall),
            chance(s.chance_tall),
            *([chance(s.chance_beats_check)] if checked else []),
            str(s.seasons),
        ]
        for s in choice.standings
    ]
    legend = (
        "  = tied with the best. 'best': the chance that it is the best next season.\n"
        "  'gives up': what choosing it costs on average beside the best, whichever that turns out "
        "to be.\n  In brackets: where next season falls "
        f"{per_cent(choice.outlook.terms.coverage)} of the time."
    )
    return f"{grid(columns, rows)}\n{legend}"


def _practices(choice: Choice, system: UnitSystem) -> list[str]:
    """What each other way of growing did, one table a factor."""
    parts = []
    for practice in choice.practices:
        sentence = practice_sentence(practice)
        if practice.not_replicated is not None:
            parts.append(f"{practice.factor}\n{wrapped(sentence)}")
            continue
        table = practice_table(practice, system).text()
        note = f"\n{wrapped(sentence)}" if sentence else ""
        parts.append(f"How to grow it, from {practice.trial}\n{table}{note}")
    return parts


def practice_sentence(practice: Practice) -> str:
    """What stands in the way of reading a practice's findings alone; '' where nothing does."""
    if practice.not_replicated is not None:
        return f"{practice.not_replicated.reason} {practice.not_replicated.remedy}"
    depends = sorted({name for found in practice.findings for name in found.depends_on})
    return f"It depends on {listed(depends)}: see the trial's comparison." if depends else ""


def practice_table(practice: Practice, system: UnitSystem = UnitSystem.METRIC) -> Table:
    """What one way of growing did, one row a measure and pair of levels."""
    columns = (
        Column(practice.factor),
        Column("in"),
        Column("difference", right=True),
        Column("interval"),
        Column("verdict"),
    )
    return Table(columns, tuple(_finding_row(finding, system) for finding in practice.findings))


def _finding_row(finding: Finding, system: UnitSystem) -> tuple[str, ...]:
    figures, pair = measure_figures(finding.measure, system), finding.pair
    unit = f" ({figures.unit})" if figures.unit else ""
    return (
        f"{level_words(pair.a)} over {level_words(pair.b)}",
        finding.measure.label + unit,
        figures.signed(pair.difference),
        figures.interval(pair.low, pair.high),
        PAIR_VERDICTS[pair.verdict],
    )


def _why(standing: Standing, figures: Figures) -> str:
    words = " ".join(
        reason_words(reason, figures)
        for reason in standing.reasons
        if reason.code is not ReasonCode.TALL_ENOUGH
    )
    return wrapped(f"{standing.entry}: {VERDICT_WORDS[standing.verdict]}. {words}")


def reason_words(reason: Reason, figures: Figures) -> str:
    """A reason in its rule's sentence, with the numbers written in."""
    rule = RULES_IN_WORDS[reason.code]
    write: Mapping[Quantity, Callable[[float], str]] = {
        Quantity.CHANCE: chance,
        Quantity.AMOUNT: figures.amount,
        Quantity.SEASONS: lambda value: f"{value:.0f}",
        Quantity.NOTHING: lambda value: "",
    }
    written = write[rule.quantity]
    return rule.sentence.format(
        value="" if reason.value is None else written(reason.value),
        limit="" if reason.limit is None else written(reason.limit),
    )


def rules_lines(rules: Rules, figures: Figures, outlook: Outlook) -> list[str]:
    """The rules in the order in which they are applied."""
    margin = outlook.terms.margin
    tie = (
        f"{per_cent(rules.tie_shortfall_share)} of the leader's mean"
        if margin is None
        else figures.amount(margin)
    )
    also = "" if margin is None else f", or {figures.amount(margin)}"
    breakers = listed([breaker.value for breaker in rules.tie_breakers])
    short = per_cent(rules.tall_chance)
    return [
        f"Dropped whatever its flowers: a chance under {short} of stems long enough to sell.",
        f"Tied: gives up at most {tie} more than the leader; settled by {breakers}.",
        f"Reorder: gives up at most {per_cent(rules.reorder_shortfall_share)} of the leader{also}.",
        f"Drop: a chance under {per_cent(rules.drop_chance_best)} of being the best.",
        "Try again: all the rest.",
    ]
