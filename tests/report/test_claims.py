"""Every sentence that speaks of all, every, each, none, no or yes is true of its result.

Random layouts on random scales, with random margins and losses, empty combinations, constant
measures and treatments that go together are compared, and each such sentence of the page is held
against the rows and the lists of pairs and tests, counted here afresh. A sentence that no rule
below knows fails.
"""

from __future__ import annotations

import itertools
import math
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.conftest import table_of
from trials.errors import ComparisonRefused
from trials.model.trial import AppliedTo, Margin
from trials.report.comparison_page import comparison_page
from trials.report.comparison_tables import (
    caution_words,
)
from trials.report.diagnostics_words import solid_line
from trials.report.words import plain_words
from trials.stats import Question, compare, second_opinions
from trials.stats.design.table import Scale
from trials.stats.results import Comparison, Pair, Verdict
from trials.stats.what_was_tested import SecondOpinion

WORDS = re.compile(r"\b(all|both|every|each|none|no|yes|nothing|without|not all)\b", re.IGNORECASE)
Row = dict[str, Any]


@dataclass(frozen=True)
class Grown:
    """A trial's rows and how they were laid out; ``yield`` is None where nothing was recorded."""

    rows: tuple[Row, ...]
    treatments: tuple[str, ...]
    parts: dict[str, str]
    on: dict[str, AppliedTo]
    scale: Scale
    margin: Margin | None

    def recorded(self, **levels: str) -> list[Row]:
        """The rows with a figure that carry ``levels``."""
        return [
            row
            for row in self.rows
            if row["yield"] is not None and all(row[f] == level for f, level in levels.items())
        ]

    def levels(self, factor: str, *, planted: bool = False) -> list[str]:
        rows = list(self.rows) if planted else self.recorded()
        return sorted({row[factor] for row in rows})


KINDS = (
    *("random", "blocks", "split", "factorial", "augmented"),
    *("strips", "square", "seasons"),
)
MARGINS = (None, Margin(2.0), Margin(30.0, percent=True))


def one_factor(
    draw: st.DrawFn, kind: str, a: list[str], blocks: list[str]
) -> tuple[list[Row], dict[str, str]]:
    """The places of a layout whose only treatment is the variety, and its columns."""
    if kind == "square":
        places = itertools.product(range(len(a)), repeat=2)
        rows = [
            {"row": f"r{i}", "column": f"c{j}", "variety": a[(i + j) % len(a)]} for i, j in places
        ]
        return rows, {"row": "row", "column": "column"}
    if kind == "augmented":
        rows = [{"block": block, "variety": level} for block in blocks for level in a[:2]]
        rows += [{"block": block, "variety": f"new {block}{i}"} for block in blocks for i in (0, 1)]
        return rows, {"block": "block"}
    rows = [{"block": block, "variety": level} for block in blocks for level in a]
    if kind == "seasons":
        seasons = [str(2024 + i) for i in range(draw(st.integers(1, 3)))]
        rows = [{**row, "season": season} for season in seasons for row in rows]
        return rows, {"block": "block", "season": "season"}
    return rows, {} if kind == "random" else {"block": "block"}


@st.composite
def grown(draw: st.DrawFn) -> Grown:
    """A layout with its losses."""
    kind = draw(st.sampled_from(KINDS))
    a = [f"v{i}" for i in range(draw(st.integers(2, 4)))]
    b = [f"n{i}" for i in range(draw(st.integers(2, 3)))]
    blocks = [f"B{i}" for i in range(draw(st.integers(1, 4)))]
    on: dict[str, AppliedTo] = {}
    parts = {"block": "block"}
    treatments: tuple[str, ...] = ("variety", "cover")
    rows: list[Row]
    if kind not in ("split", "factorial", "strips"):
        treatments = ("variety",)
        rows, parts = one_factor(draw, kind, a, blocks)
    else:
        cells = list(itertools.product(a, b))
        cut = draw(st.sampled_from(["none", "none", "some", "together"]))
        if cut == "together":
            cells = [(x, b[i % len(b)]) for i, x in enumerate(a)]
        elif cut == "some":
            gone = draw(st.sets(st.sampled_from(cells), max_size=len(cells) // 2))
            cells = [cell for cell in cells if cell not in gone]
        rows = [{"block": block, "variety": x, "cover": y} for block in blocks for x, y in cells]
        if kind == "split":
            on["cover"] = AppliedTo.WHOLE_PLOT
        if kind == "strips":
            on = dict.fromkeys(treatments, AppliedTo.STRIP)
    rng = np.random.default_rng(draw(st.integers(0, 10_000)))
    shift = draw(st.sampled_from([0.0, 1.0, 6.0]))
    uneven = draw(st.sampled_from([0.0, 0.0, 3.0]))
    for row in rows:
        level = a.index(row["variety"]) if row["variety"] in a else 0
        row["yield"] = float(20 + shift * level + rng.normal(0, 1 + uneven * level))
    scale, margin = draw(st.sampled_from(list(Scale))), draw(st.sampled_from(MARGINS))
    if draw(st.integers(0, 11)) == 0:
        rows = [{**row, "yield": 20.0} for row in rows]
    if scale is Scale.LOGIT:  # a share
        rows = [{**row, "yield": 1 / (1 + math.exp((25 - row["yield"]) / 8))} for row in rows]
    lost = draw(st.sets(st.integers(0, len(rows) - 1), max_size=len(rows) // 3))
    rows = [{**row, "yield": None} if i in lost else row for i, row in enumerate(rows)]
    return Grown(tuple(rows), treatments, parts, on, scale, margin)


def compared(trial: Grown) -> Comparison | None:
    columns = {name: [row[name] for row in trial.rows] for name in trial.rows[0]}
    table = table_of(columns, *trial.treatments, on=trial.on, **trial.parts)
    check = "v0" if "v0" in trial.levels("variety", planted=True) else None
    question = Question(check=check, scale=trial.scale, margin=trial.margin)
    try:
        return second_opinions(table, question, compare(table, question))
    except ComparisonRefused:
        return None


# ------------------------------------------------------------------------ counted afresh


def plural(noun: str) -> str:
    return {"varieties": "variety"}.get(noun, noun.removesuffix(" levels"))


def main_pairs(found: Comparison, factor: str) -> list[Pair]:
    return [pair for pair in found.all_pairs if pair.term == factor]


def inside(found: Comparison, factor: str) -> list[Pair]:
    return [p for p in found.all_pairs if p.within and p.a[0][0] == factor]


def all_main_compared(trial: Grown, found: Comparison) -> bool:
    """Whether every pair of planted levels of every factor is in the list of pairs."""
    return all(
        {frozenset((p.a[0][1], p.b[0][1])) for p in main_pairs(found, factor)}
        == {frozenset(pair) for pair in itertools.combinations(levels, 2)}
        for factor in trial.treatments
        for levels in [trial.levels(factor, planted=True)]
    )


def spoken_of(trial: Grown, found: Comparison) -> list[Pair]:
    """The pairs over all levels of the other factors, and those that stand in for them."""
    pairs: list[Pair] = []
    for factor in trial.treatments:
        main, levels = main_pairs(found, factor), trial.levels(factor)
        pairs += main
        if len(main) < len(levels) * (len(levels) - 1) // 2:
            pairs += inside(found, factor)
    return pairs


def different(pairs: list[Pair]) -> list[Pair]:
    return [pair for pair in pairs if pair.verdict in (Verdict.MORE, Verdict.LESS)]


def p_of(found: Comparison, term: str) -> float:
    return next(test.p for test in found.tests if test.term == term)


def other_tests(found: Comparison) -> list[SecondOpinion]:
    solid = found.solid
    every = [solid.randomisation, solid.count_model, solid.unequal_variances]
    return [opinion for opinion in every if opinion is not None]


def can_speak(found: Comparison, opinion: SecondOpinion, term: str) -> bool:
    best = dict(opinion.at_best).get(term, 0.0)
    return term in dict(opinion.p) and best <= found.alpha


def checks_made(found: Comparison) -> int:
    solid, df = found.solid, found.residual_df or 0.0
    randomised = solid.randomisation
    return sum(
        [
            solid.normality is not None,
            solid.equal_spread is not None,
            df >= 2,
            "leaving out one plot" not in {name for name, _ in solid.not_made},
            randomised is not None
            and any(can_speak(found, randomised, t.term) for t in found.tests),
            solid.count_model is not None,
            solid.unequal_variances is not None,
        ]
    )


def in_doubt(found: Comparison) -> bool:
    solid = found.solid
    checks = [c for c in (solid.normality, solid.equal_spread) if c is not None]
    return (
        any(check.p < 0.05 for check in checks)
        or bool(solid.outliers or solid.fragile)
        or any(
            (p <= found.alpha) != (p_of(found, term) <= found.alpha)
            for opinion in other_tests(found)
            for term, p in opinion.p
            if can_speak(found, opinion, term)
        )
        or any(opinion.turned_pairs for opinion in other_tests(found))
    )


# ------------------------------------------------------------------- the sentences and their truth

Truth = Callable[[Grown, Comparison, "re.Match[str]"], bool]


def every_pair(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    answered = all(
        pair.verdict is not Verdict.UNKNOWN for pair in found.all_pairs if not pair.within
    )
    return all_main_compared(trial, found) and answered


def each_of(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    pairs = spoken_of(trial, found)
    return len(pairs) == int(said["n"]) and all(p.verdict is not Verdict.UNKNOWN for p in pairs)


def none_differs(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    pairs = spoken_of(trial, found)
    honest = all_main_compared(trial, found) or "could be compared" in said[0]
    quiet = all(pair.p_adjusted > found.alpha for pair in pairs)
    return honest and bool(pairs) and quiet and all(test.p > found.alpha for test in found.tests)


def none_over_seasons(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    several = len({row["season"] for row in trial.recorded()}) > 1
    return several and none_differs(trial, found, said)


def on_scale(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    return said["scale"].replace("-", " ") == trial.scale.value != Scale.IDENTITY


def no_margin_on(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    same = any(pair.verdict is Verdict.SAME for pair in found.all_pairs)
    return on_scale(trial, found, said) and trial.margin is not None and not same


def no_swing(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    return any(part.source == said["source"] and part.variance <= 0 for part in found.components)


def little_seen(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    return any("×" in part.source and part.variance <= 0 for part in found.components)


def no_strip_variation(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    on_strips = trial.on.get(said["factor"]) is AppliedTo.STRIP
    parts = [part for part in found.components if said["factor"] in part.source]
    return on_strips and any(part.variance <= 0 for part in parts)


def cannot_separate(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    return "row" in trial.parts and over_all(trial, found, said)


def no_pair_met(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    return "block" in trial.parts and over_all(trial, found, said)


def no_effect(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    return not spoken_of(trial, found) and all(test.p > found.alpha for test in found.tests)


def nothing_compared(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    return not found.all_pairs and not found.tests


def constant(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    return len({row["yield"] for row in trial.recorded()}) == 1


def no_replication(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    bare = {item.factor for item in found.layout.not_replicated}
    return not found.all_pairs and bare == set(trial.treatments)


def no_figure_with(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    factor = next(f for f in trial.treatments if said["level"] in trial.levels(f))
    other = next(f for f in trial.treatments if f != factor)
    named = re.split(r", | and ", said["others"])
    met = {row[other] for row in trial.recorded(**{factor: said["level"]})}
    judged = [mean for mean in found.means if mean.term == factor and mean.se is not None]
    return not met & set(named) and not any(m.levels[0][1] == said["level"] for m in judged)


def over_all(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    factor = plural(said["noun"])
    levels = trial.levels(factor)
    compared_pairs, possible = len(main_pairs(found, factor)), len(levels) * (len(levels) - 1) // 2
    if said["n"] is None:
        return compared_pairs == 0
    return (compared_pairs, possible) == (int(said["n"]), int(said["m"]))


def all_alike(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    factor = plural(said["noun"])
    levels, pairs = trial.levels(factor), main_pairs(found, factor)
    number = {"Both": 2, "The one": 1}.get(said["all"]) or int(said["all"].removeprefix("All "))
    if said["verdict"] == "too close to call":
        right = all(pair.verdict is Verdict.UNKNOWN for pair in pairs)
    else:
        right = different(pairs) == pairs
    return right and number == len(pairs) == len(levels) * (len(levels) - 1) // 2


def all_compared(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    factor = plural(said["noun"])
    levels, pairs = trial.levels(factor), main_pairs(found, factor)
    return len(pairs) == len(levels) * (len(levels) - 1) // 2


def unrecorded(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    named = re.split(r", | and (?!\d+ more)", said["levels"])
    return not any(trial.recorded(**{said["factor"]: level}) for level in named)


def no_single_pair(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    factor = plural(said["noun"])
    return p_of(found, factor) <= found.alpha and not different(main_pairs(found, factor))


def term_of(subject: str) -> str:
    together = re.fullmatch(r"the interaction of (\S+) and (\S+)", subject)
    return f"{together[1]}:{together[2]}" if together else subject


def other_verdict(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    term = term_of(said["subject"])
    opinion = next(each for each in other_tests(found) if each.method.startswith(said["test"]))
    chance = dict(opinion.p)[term] > found.alpha
    against = chance != (p_of(found, term) > found.alpha)
    return (
        can_speak(found, opinion, term) and against and chance is ("does not rule out" in said[0])
    )


def no_other_test(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    term = term_of(said["subject"])
    df = next(test.den_df for test in found.tests if test.term == term)
    alone = not any(can_speak(found, opinion, term) for opinion in other_tests(found))
    return alone and (df < 3) is said["hint"].startswith(", so")


def turned_pairs(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    named = re.findall(r"(v\d|n\d|new \S+) and (v\d|n\d|new [^\s.,]+)", said[0])
    turned = [(a[0][1], b[0][1]) for opinion in other_tests(found) for a, b in opinion.turned_pairs]
    return bool(named) and set(named) <= set(turned)


def agreed(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    return checks_made(found) > 0 and not in_doubt(found) and not found.solid.not_made


def agreed_in_part(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    return checks_made(found) > 0 and not in_doubt(found) and bool(found.solid.not_made)


def doubted(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    return in_doubt(found)


def no_check(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    return checks_made(found) == 0


def together(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    met = {(row["variety"], row["cover"]) for row in trial.recorded()}
    return len(met) == len(trial.levels("variety")) == len(trial.levels("cover"))


def empty_here(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    named = [n.split(" with ") for n in re.split(r", | and \d+ more", said["cells"]) if n]
    return not any(trial.recorded(variety=x, cover=y) for x, y in named)


def no_joint_test(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    return not set(said["terms"].split(", ")) & {test.term for test in found.tests}


def not_possible(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    solid, untested = found.solid, not found.tests
    randomised = solid.randomisation
    lacking = {
        "normality": solid.normality is None,
        "equal variances": solid.equal_spread is None,
        "outlying plots": (found.residual_df or 0) < 2,
        "leaving out one plot": not solid.fragile,
        "randomisation test": randomised is None
        or not any(can_speak(found, randomised, test.term) for test in found.tests),
        "test with unequal variances": solid.unequal_variances is None,
    }
    items = [item.split(" (", 1) for item in said["items"].split("; ")]
    reasons = dict(items)
    said_untested = [
        "no treatment has a joint test" in reasons[name]
        for name in ("leaving out one plot", "randomisation test")
        if name in reasons
    ]
    return all(lacking[name] for name in reasons) and all(
        said is untested for said in said_untested
    )


def lost(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    numbers = (len(trial.rows) - len(trial.recorded()), len(trial.rows))
    return (int(said["n"]), int(said["m"])) == numbers


def none_at_all(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    named = re.findall(r"(?:^|, )(.+?) \((\S+?)\)", said["levels"])
    return bool(named) and not any(trial.recorded(**{factor: level}) for level, factor in named)


def own_errors(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    units = next(f.units_per_level for f in found.layout.factors if f.name == said["factor"])
    return (min(units), max(units)) == (int(said["n"]), int(said["m"]))


def blocks_no_help(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    return found.relative_efficiency is not None and found.relative_efficiency < 1


def no_variation(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    source = said["source"].lower()
    return any(part.source == source and part.variance <= 0 for part in found.components)


def uneven_units(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    sizes = Counter((row["block"], row["cover"]) for row in trial.recorded())
    return len(trial.recorded()) < len(trial.rows) or len(set(sizes.values())) > 1


def rows_as_plots(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    return "plot" not in trial.parts and found.plots == len(trial.recorded())


def other_side(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    return in_doubt(found)


def none_told_apart(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    factor, pairs = said["factor"], main_pairs(found, said["factor"])
    quiet = all(pair.p_adjusted > found.alpha for pair in pairs)
    return quiet and int(said["n"]) == len(trial.levels(factor))


def few_of(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    units = next(f.units_per_level for f in found.layout.factors if f.name == said["factor"])
    return sum(number < 3 for number in units) == int(said["n"])


def apart_in_blocks(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    """Whether some levels are never reached from the first one over shared blocks."""
    factor, rows = said["factor"], trial.recorded()
    reached = {trial.levels(factor)[0]}
    for _ in rows:
        blocks = {row["block"] for row in rows if row[factor] in reached}
        reached |= {row[factor] for row in rows if row["block"] in blocks}
    return len(reached) < len(trial.levels(factor))


def few_each(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    factor = next(f for f in found.layout.factors if f.name == said["factor"])
    return max(factor.units_per_level) < 3


def one_unit_each(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    factor = next(f for f in found.layout.factors if f.name == said["factor"])
    return max(factor.units_per_level) == 1


def acts_together(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    return p_of(found, "variety:cover") <= found.alpha


def advice(trial: Grown, found: Comparison, said: re.Match[str]) -> bool:
    """What to do, or how a figure was made: no claim about this result."""
    return True


RULES: tuple[tuple[str, Truth], ...] = (
    (r"Every pair got an answer\.", every_pair),
    (r"Each of the (?P<n>\d+) pairs that were compared got an answer\.", each_of),
    (r"None of the differences in yield.* is larger than chance could explain\.", none_differs),
    (
        r"None of the differences in yield.* chance and the variation between seasons or .*",
        none_over_seasons,
    ),
    (r"Compared on the (?P<scale>.+) scale: means and their limits are .*", on_scale),
    (r"The margin has no single size on the (?P<scale>.+) scale, so no pair .*", no_margin_on),
    (r"No (?P<source>.+) variation was found beyond chance variation between plots; .*", no_swing),
    (r"That does not show that there is none\.", little_seen),
    (r"Strips of (?P<factor>\S+) differed no more than the plots inside .*", no_strip_variation),
    (
        r"(No pair|(?P<n>\d+) of the (?P<m>\d+) pairs) of (?P<noun>.+) w.*: the plots with .*",
        cannot_separate,
    ),
    (
        r"(No pair|(?P<n>\d+) of the (?P<m>\d+) pairs) of (?P<noun>.+) w.*: the others never .*",
        no_pair_met,
    ),
    (r"No effect on yield is larger than chance could explain\.", no_effect),
    (r"Nothing was compared: yield is \S+ kg in every plot\.", constant),
    (r"Nothing was compared: .*", nothing_compared),
    (r"Without any variation nothing shows .*", constant),
    (r"Without replication no difference.*", no_replication),
    (r"No pair of levels was compared, so no difference.*", nothing_compared),
    (
        r"(?P<level>.+) has no figure with (?P<others>.+), so it has no mean over all levels .*",
        no_figure_with,
    ),
    (
        r"Over all levels of \S+, (no pair|(?P<n>\d+) of the (?P<m>\d+) pairs) of (?P<noun>.+) w.*",
        over_all,
    ),
    (
        (
            r"(?P<all>All \d+|Both|The one) pairs? of (?P<noun>.+?) ((are )?"
            r"(?P<verdict>differs?|too close to call))\."
        ),
        all_alike,
    ),
    (
        r"Over all levels of \S+, (all \d+|both|the one) pairs? of (?P<noun>.+) w.*",
        all_compared,
    ),
    (r"No plot of (?P<levels>.+) \((?P<factor>\S+)\) has a figure, so .*", unrecorded),
    (r"No plot of (?P<levels>.+) has a figure\.", none_at_all),
    (r"(?P<n>\d+) of (?P<m>\d+) plots ha(s|ve) no figure and (is|are) left out; .*", lost),
    (r"The (?P<noun>.+) differ as a whole .* no single pair of them stands out\.", no_single_pair),
    (
        r"(But n|N)o second test could confirm the result for (?P<subject>[^.,]+)(?P<hint>, .*|\.)",
        no_other_test,
    ),
    (r".*he (?P<test>.+) (does not rule out|finds) .*: treat (?P<subject>.+) as .*", other_verdict),
    (r".* gives another verdict on \d+ pairs?: .*", turned_pairs),
    (r"Yes\.", agreed),
    (r"Yes, as far as they could be made\.", agreed_in_part),
    (r"Not all: .*", doubted),
    (r"None could be made\.", no_check),
    (r"There is nothing to check, as no treatment was tested\.", nothing_compared),
    (r"variety and cover always went together, .*", together),
    (r"No plot has a figure for (?P<cells>.+)\.", empty_here),
    (r"So there is no joint test of (?P<terms>.+)\.", no_joint_test),
    (r"Each level of (?P<factor>\S+) has fewer than 3 .*", few_each),
    (r"Each level of (?P<factor>\S+) had only one \S.*, so .*", one_unit_each),
    (r"Every plot has the same figure, \S+ kg, .*", constant),
    (r"Not possible here: (?P<items>.+)\.", not_possible),
    (
        r"The levels of (?P<factor>\S+) have (?P<n>\d+) to (?P<m>\d+) .*s each, so each comp.*",
        own_errors,
    ),
    (r"Plots within a block differed as much as plots across the field .*", blocks_no_help),
    (r"(?P<source>.+)s differed no more than the plots inside them.*", no_variation),
    (r"Not every plot has a figure, or units differ in size, so .*", uneven_units),
    (r"No column names the plots, so every row was taken as a separate plot\.", rows_as_plots),
    (r"The two tests fall on different sides of 0.05 for .*", other_side),
    (
        r"None of the (?P<n>\d+) levels of (?P<factor>\S+) differs clearly from any other\.",
        none_told_apart,
    ),
    (r"Each of (?P<n>\d+) levels of (?P<factor>\S+) has fewer than 3 .*", few_of),
    (r"The levels of (?P<factor>\S+) fall into groups that share no block, .*", apart_in_blocks),
    (
        r"How much \S+ changed yield depended on the \S+: compare each combination\.",
        acts_together,
    ),
    (r"The cheapest layout that answers it next season: .*", advice),
    (r"Next season grow every level of one with every level of the other\.", advice),
)


def sentences_of(found: Comparison) -> list[str]:
    """The sentences of the page on this result that speak of all or none."""
    words = plain_words(found)
    texts = [words.differs, words.not_told, words.not_answered, solid_line(found)]
    texts += [caution_words(caution) for caution in found.cautions]
    page = " ".join(comparison_page(found, "t", every_pair=True).split())
    assert all(" ".join(text.split()) in page for text in texts)
    parts = [part for text in texts for part in re.split(r"(?<=[.!?]) +", text)]
    return [part for part in parts if WORDS.search(part)]


@pytest.mark.slow
@settings(max_examples=100, deadline=None, derandomize=True)
@given(trial=grown())
def test_every_claim_about_all_is_true_of_its_result(trial: Grown) -> None:
    found = compared(trial)
    if found is None:
        return
    for sentence in sentences_of(found):
        known = [(m, truth) for rule, truth in RULES if (m := re.fullmatch(rule, sentence))]
        assert known, f"no rule knows: {sentence}"
        said, truth = known[0]
        assert truth(trial, found, said), sentence
