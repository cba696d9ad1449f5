"""Several seasons or sites in words and tables: side by side, and what a next one may bring."""

from __future__ import annotations

from trials.report.comparison_tables import ranked_means
from trials.report.figures import Figures, count, listed, per_cent
from trials.report.grid import Column, Table
from trials.report.scales import differences_of
from trials.report.tested_words import factor_heading, factor_words, level_words
from trials.stats.design.table import Scale
from trials.stats.results import Comparison, Mean, OverSeasons, OwnResult, Ranking

MOST_WITH_LIMITS = 4  # beyond it a line of means with their limits is too long to read
TRUSTED, HALF_TRUSTED = 0.8, 0.5


def seasons_table(comparison: Comparison, factor: str, figures: Figures) -> Table:
    """One row a level, best over all first: its mean in each season by itself, then over all."""
    over = comparison.over_seasons
    own = () if over is None else over.own
    limits = comparison.scale == Scale.IDENTITY and len(own) <= MOST_WITH_LIMITS
    columns = (
        Column(factor),
        *(Column(part.name, right=True) for part in own),
        Column("mean of all", right=True),
    )
    by_level = [_means_of(part, factor) for part in own]
    rows = tuple(
        (
            level_words(mean.levels),
            *(_mean_words(means.get(mean.levels), figures, limits=limits) for means in by_level),
            _mean_words(mean, figures, limits=limits),
        )
        for mean in ranked_means(comparison, factor)
    )
    return Table(columns, rows)


def _means_of(part: OwnResult, factor: str) -> dict[tuple[tuple[str, str], ...], Mean]:
    return {mean.levels: mean for mean in part.means if mean.term == factor}


def _mean_words(mean: Mean | None, figures: Figures, *, limits: bool) -> str:
    if mean is None:
        return "–"
    text = figures.number(mean.mean)
    if not limits or mean.high is None or mean.low is None:
        return text
    return f"{text} ± {figures.number((mean.high - mean.low) / 2)}"


def seasons_note(comparison: Comparison) -> str:
    """What stands behind the figures of the table of seasons."""
    own = () if comparison.over_seasons is None else comparison.over_seasons.own
    share = f"{100 * (1 - comparison.alpha):g}%"
    if comparison.scale != Scale.IDENTITY or len(own) > MOST_WITH_LIMITS:
        return "Each column uses only its own plots."
    return (
        f"After ±: half the {share} interval. Each column uses only its own plots. The mean of "
        "all also uses the variation between columns."
    )


def seasons_words(comparison: Comparison, factor: str) -> str:
    """Who led in each season by itself, and in how many of them anything could be told."""
    over = comparison.over_seasons
    if over is None:
        return ""
    leaders: dict[str, list[str]] = {}
    for part in over.own:
        means = sorted(_means_of(part, factor).values(), key=lambda mean: mean.mean)
        if means:
            first = means[0] if comparison.better == "lower" else means[-1]
            leaders.setdefault(level_words(first.levels), []).append(part.name)
    if len(leaders) == 1:
        sentences = [f"{next(iter(leaders))} led every time."]
    else:
        led = [f"{name} in {listed(parts)}" for name, parts in leaders.items()]
        sentences = [f"Leaders: {'; '.join(led)}."] if led else []
    told = [
        part.name
        for part in over.own
        if any(
            pair.term == factor and not pair.within and pair.p_adjusted <= comparison.alpha
            for pair in part.all_pairs
        )
    ]
    tested = [part for part in over.own if part.all_pairs]
    if tested:
        sentences.append(
            f"Some difference is larger than chance could explain in {listed(told)}."
            if told
            else "None of them alone shows a difference larger than chance could explain."
        )
    sentences += _untested(over, len(tested))
    sentences += over.not_told_apart
    return " ".join(sentences)


def _untested(over: OverSeasons, tested: int) -> list[str]:
    reasons: dict[str, list[str]] = {}
    for part in over.own:
        if part.why_not and not part.all_pairs:
            reasons.setdefault(part.why_not, []).append(part.name)
    if not tested and len(reasons) == 1 and len(over.own) == len(next(iter(reasons.values()))):
        return [f"None of them can be tested alone: {_lowered(next(iter(reasons)))}"]
    return [
        f"{listed(parts)} cannot be tested alone: {_lowered(why)}" for why, parts in reasons.items()
    ]


def _lowered(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]


def ranking_table(comparison: Comparison, ranking: Ranking, figures: Figures) -> Table:
    """One row an entry, best first: its prediction, how sure its place is, and a next season."""
    how = differences_of(comparison, figures)
    share = f"{100 * (1 - comparison.alpha):g}%"
    following = any(entry.low is not None for entry in ranking.entries)
    columns = [
        Column(factor_heading(ranking.factor)),
        Column("expected", right=True),
        Column("above average" if not how.ratio else "times the average", right=True),
        Column("reliability", right=True),
    ]
    if following:
        columns += [
            Column(f"next season ({share})"),
            Column(f"above average then ({share})"),
        ]
    rows = []
    for entry in ranking.entries:
        row = [
            entry.level,
            figures.number(entry.mean),
            how.signed(entry.lead),
            per_cent(entry.reliability),
        ]
        if following:
            row += [
                figures.interval(entry.low, entry.high),
                how.figures.interval(entry.lead_low, entry.lead_high),
            ]
        rows.append(tuple(row))
    return Table(tuple(columns), tuple(rows))


def ranking_words(comparison: Comparison, ranking: Ranking, figures: Figures) -> str:
    """How far the ranking can be trusted, and what moves from season to season."""
    trust = (
        "the ranking is mostly right, though neighbours may change places"
        if ranking.reliability >= TRUSTED
        else "the top and bottom are probably right, the middle is not"
        if ranking.reliability >= HALF_TRUSTED
        else "the ranking is mostly chance, no more than a hint"
    )
    sentences = []
    if ranking.reliability > 0:
        sentences.append(
            f"Reliability: on average {per_cent(ranking.reliability)} of a difference seen here "
            f"would show again; {trust}. So expected values are closer to the average than "
            "the means."
        )
    if ranking.note:
        sentences.append(ranking.note)
    if comparison.scale == Scale.IDENTITY:
        sentences += _moves(ranking, figures)
    return " ".join(sentences)


def _moves(ranking: Ranking, figures: Figures) -> list[str]:
    if ranking.swing_sd is None:
        return []
    what = factor_words(ranking.factor)
    said = (
        f"From season to season a {what} changes compared with the others by about "
        f"{figures.apart.amount(ranking.swing_sd)}"
        if ranking.swing_sd > 0
        else f"No {what} changed compared with the others from season to season"
    )
    if ranking.level_sd is not None:
        said += f", and the whole trial by about {figures.apart.amount(ranking.level_sd)}"
    return [f"{said} (standard deviations)."]


def seasons_heading(comparison: Comparison) -> str:
    """'3 seasons side by side', or what else varied."""
    over = comparison.over_seasons
    own = () if over is None else over.own
    if all(part.site is None for part in own):
        return f"{count(len(own), 'season')} side by side"
    if all(part.season is None for part in own):
        return f"{count(len(own), 'site')} side by side"
    return f"{len(own)} seasons and sites side by side"
