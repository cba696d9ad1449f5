"""The standings for next season as a page of text."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from trials.decide import (
    RULES_IN_WORDS,
    Advice,
    Choice,
    Finding,
    Growing,
    Practice,
    Quantity,
    Reason,
    ReasonCode,
    Rules,
    Standing,
    VaseLife,
)
from trials.model.saleable import LEAST_SALEABLE_SHARE
from trials.model.units import M_PER_FOOT, UnitSystem, level_with_unit
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
from trials.report.tested_words import factor_heading, factor_words, level_words

VERDICT_WORDS = {
    Advice.REORDER: "reorder",
    Advice.GROW_AGAIN: "grow again",
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
        wrapped(basis_sentence(choice, figures), indent=""),
        _table(choice, figures),
        *_growing(choice, figures),
        *_practices(choice, system),
        *_vase_life(choice),
        "Why\n" + "\n".join(_why(standing, figures) for standing in choice.standings),
        "The rules (yours to change)\n"
        + "\n".join(wrapped(line) for line in rules_lines(choice.rules, figures, choice)),
    ]
    return "\n\n".join(parts) + "\n"


def basis_sentence(choice: Choice, figures: Figures) -> str:
    """Which seasons and measure decide, what a season may change, and what money would need."""
    seasons = sorted({season for season, _ in choice.outlook.seasons})
    variation = choice.outlook.variation
    behind = count(variation.trials, "trial") + (
        f" of {choice.crop} and {count(variation.others, 'other crop')}" if variation.others else ""
    )
    by = figures.named(choice.measure.label)
    sentences = [
        (
            f"From {count(len(choice.trials), 'closed trial')} in "
            f"{listed([str(season) for season in seasons])}, by {by}."
        ),
        (
            f"From one season to the next a variety's lead changes by about "
            f"{figures.apart.amount(variation.sd)} "
            f"({figures.interval(variation.low, variation.high)}, from {behind})."
        ),
    ]
    if len(seasons) == 1:
        sentences.append("Another season may rank the varieties differently.")
    if choice.lacking:
        sentences.append(f"Money cannot decide yet. {' '.join(choice.lacking)}")
    return " ".join(sentences)


def _table(choice: Choice, figures: Figures) -> str:
    checked = choice.check is not None
    columns = [
        Column("", right=True),
        Column("variety"),
        Column("verdict"),
        Column(f"next season, {figures.unit}"),
        Column("best", right=True),
        Column("expected loss", right=True),
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
    coverage = per_cent(choice.outlook.terms.coverage)
    legend = (
        "  =: tied with the best. best: the chance that it is the best. expected loss: how far it\n"
        "  falls short of the best on average, whichever that is. In brackets: where next season\n"
        f"  falls {coverage} of the time."
    )
    return f"{grid(columns, rows)}\n{legend}"


def _vase_life(choice: Choice) -> list[str]:
    """The tests of vase life; nothing where none was made."""
    if not choice.vase_life:
        return []
    return [f"Vase life\n{vase_table(choice).text()}\n{wrapped(vase_sentence(choice))}".rstrip()]


def vase_table(choice: Choice) -> Table:
    """One row per variety tested: its days in the vase, and what they rest on."""
    columns = (
        Column("variety"),
        Column("days in the vase", right=True),
        Column("95% limits"),
        Column("plots", right=True),
        Column("trials"),
    )
    rows = tuple(
        (one.variety, f"{one.days:.1f}", _limits(one), str(one.plots), listed(list(one.trials)))
        for one in choice.vase_life
    )
    return Table(columns, rows)


def vase_words(one: VaseLife) -> str:
    """A variety's days in the vase with their limits."""
    limits = f" ({_limits(one)})" if one.low is not None else ""
    return f"{one.days:.1f} days{limits}"


def _limits(one: VaseLife) -> str:
    if one.low is None or one.high is None:
        return "not known"
    return f"{one.low:.1f} to {one.high:.1f}"


def vase_sentence(choice: Choice) -> str:
    """Which varieties have no test of vase life; '' where all have one, or none has."""
    tested = {one.variety for one in choice.vase_life}
    lacking = [s.entry for s in choice.standings if s.entry not in tested]
    if not lacking or not tested:
        return ""
    return f"No vase life is recorded for {listed(lacking, most=20)}."


def _growing(choice: Choice, figures: Figures) -> list[str]:
    if not choice.growing:
        return []
    said = "\n".join(wrapped(growing_sentence(row, figures)) for row in choice.growing)
    by = figures.named(choice.measure.label)
    return [f"How to grow the varieties to reorder, by {by}\n{said}"]


def _level_words(factor: str, level: str) -> str:
    named = level_with_unit(factor, level)
    return f"{factor_words(factor)} {level}" if named == level and level[:1].isdigit() else named


def growing_sentence(row: Growing, figures: Figures) -> str:
    """What a treatment earns on a variety, and up to which prices that holds."""
    apart = figures.apart
    level, other = (_level_words(row.factor, name) for name in (row.level, row.other))
    said = (
        f"{row.variety}: {level} earns about {apart.amount(row.gain)} more than "
        f"{other} ({apart.interval(row.low, row.high)}; chance that it pays "
        f"{chance(row.chance)})."
    )
    premium = row.premium
    if premium is None:
        return said
    stems = f"a {premium.long_cm} cm stem brings"
    short = f"a {premium.short_cm} cm one"
    if row.break_even is None:
        return f"{said} It pays at any price of long stems."
    most = "at least" if row.pays_above else "at most"
    return (
        f"{said} It pays as long as {stems} {most} {row.break_even:.1f} times {short} "
        f"(now {premium.ratio:.1f})."
    )


def _practices(choice: Choice, system: UnitSystem) -> list[str]:
    """What each other way of growing did, one table a factor."""
    parts = []
    for practice in choice.practices:
        sentence = practice_sentence(practice)
        if practice.not_replicated is not None:
            parts.append(f"{factor_words(practice.factor)}\n{wrapped(sentence)}")
            continue
        table = practice_table(practice, system).text()
        note = f"\n{wrapped(sentence)}" if sentence else ""
        parts.append(f"How to grow it, from {practice.trial}\n{table}{note}")
    return parts


def practice_sentence(practice: Practice) -> str:
    """What stands in the way of reading a practice's findings alone; '' where nothing does."""
    if practice.not_replicated is not None:
        return f"{practice.not_replicated.reason} {practice.not_replicated.remedy}"
    measures: dict[tuple[str, ...], dict[str, None]] = {}
    for found in practice.findings:
        if found.depends_on:
            measures.setdefault(found.depends_on, {})[found.measure.label] = None
    return " ".join(
        f"How much {factor_words(practice.factor)} changed {listed(list(labels))} depended on the "
        f"{listed([factor_words(name) for name in names])}: see the comparison of "
        f"{practice.trial} in {'that measure' if len(labels) == 1 else 'those measures'}."
        for names, labels in measures.items()
    )


def practice_table(practice: Practice, system: UnitSystem = UnitSystem.METRIC) -> Table:
    """What one way of growing did, one row a measure and pair of levels."""
    columns = (
        Column(factor_heading(practice.factor)),
        Column("in"),
        Column("difference", right=True),
        Column("interval"),
        Column("verdict"),
    )
    return Table(columns, tuple(_finding_row(finding, system) for finding in practice.findings))


def _finding_row(finding: Finding, system: UnitSystem) -> tuple[str, ...]:
    figures, pair = measure_figures(finding.measure, system).apart, finding.pair
    unit = f" ({figures.unit})" if figures.unit else ""
    return (
        f"{level_words(pair.a)} over {level_words(pair.b)}",
        figures.named(finding.measure.label) + unit,
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
        Quantity.SHARE: per_cent,
        Quantity.AMOUNT: figures.apart.amount,
        Quantity.MONEY: lambda value: f"{value:,.0f} {figures.unit.partition('/')[0]}",
        Quantity.SEASONS: lambda value: f"{value:.0f}",
        Quantity.NOTHING: lambda value: "",
    }
    written = write[rule.quantity]
    return rule.sentence.format(
        value="" if reason.value is None else written(reason.value),
        limit="" if reason.limit is None else written(reason.limit),
    )


def rules_lines(rules: Rules, figures: Figures, choice: Choice) -> list[str]:
    """The rules in the order in which they are applied."""
    margin = choice.outlook.terms.margin
    usual = choice.outlook.terms.usual
    tie = figures.apart.amount(rules.tie_share * usual if margin is None else margin)
    best = per_cent(rules.drop_chance_best)
    metres = Figures("m", 1.0, 0) if "/ft" not in figures.unit else Figures("ft", 1 / M_PER_FOOT, 0)
    again = (
        f"Grow again: a chance of at least {best} of being the best."
        if choice.trial_cost is None
        else "Grow again: another trial is worth more than it costs, over "
        f"{metres.amount(rules.bed_metres)} of {choice.crop} per season for "
        f"{count(rules.seasons_ahead, 'season')}."
    )
    return [
        (
            f"Dropped: less than {per_cent(rules.tall_chance)} chance of stems long enough to "
            f"sell, or a share of saleable length below {per_cent(LEAST_SALEABLE_SHARE)} so far, "
            "however good the flowers."
        ),
        f"Ranked by the expected {figures.named(choice.measure.label)}.",
        f"Reorder: the leader, and those expected within {tie} of it (tied).",
        again,
        "Drop: all the rest.",
    ]
