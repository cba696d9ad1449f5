"""What the standings say of other ways of growing."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from trials.decide import (
    RULES_IN_WORDS,
    Choice,
    Finding,
    Growing,
    Practice,
    Premium,
    Quantity,
    Reason,
    Rules,
    SDs,
    SeasonMeans,
    TrialCost,
    outlook,
    standings,
)
from trials.model.trial import MEASURES, Better, Margin
from trials.model.units import UnitSystem
from trials.report.choice_page import (
    VERDICT_WORDS,
    basis_sentence,
    choice_page,
    growing_sentence,
    practice_sentence,
    practice_table,
    reason_words,
    rules_lines,
)
from trials.report.figures import Figures, measure_figures
from trials.stats.results import NotReplicated, Pair, Verdict

BY_KEY = {measure.key: measure for measure in MEASURES}
PAIR = Pair(
    term="pinch",
    a=(("pinch", "yes"),),
    b=(("pinch", "no"),),
    within=(),
    difference=2.0,
    se=0.5,
    df=9.0,
    t=4.0,
    p=0.003,
    p_adjusted=0.003,
    low=0.9,
    high=3.1,
    verdict=Verdict.MORE,
)


def practice(**depends_on: tuple[str, ...]) -> Practice:
    findings = tuple(Finding(BY_KEY[key], PAIR, names) for key, names in depends_on.items())
    return Practice("pinch", "cosmos-2026", findings, None)


def test_an_interaction_names_the_measure_it_was_found_in() -> None:
    said = practice_sentence(practice(stems_per_plant=(), stem_length_cm=("variety",)))
    assert said == (
        "How much pinch changed stem length depended on the variety: see the comparison of "
        "cosmos-2026 in that measure."
    )


def test_measures_with_other_interactions_get_a_sentence_each() -> None:
    said = practice_sentence(practice(stems_per_plant=("cover",), stem_length_cm=("variety",)))
    assert "How much pinch changed stems per plant depended on the cover:" in said
    assert "How much pinch changed stem length depended on the variety:" in said


def test_without_interactions_nothing_is_said() -> None:
    assert practice_sentence(practice(stems_per_plant=())) == ""


def seasons(values: dict[str, float], *years: int) -> list[SeasonMeans]:
    means, names = np.array([*values.values()]), tuple(values)
    return [
        SeasonMeans(year, f"zinnia-{year}", names, means, 0.25 * np.eye(len(names)), np.inf)
        for year in years
    ]


def choice(*years: int, margin: Margin | None = None, **changed: Any) -> Choice:
    """Three varieties, of which the one with most stems is too short to sell."""
    years = years or (2026,)
    means = {"Bedding": 30.0, "Ember": 12.0, "Fern": 9.0}
    found = outlook(
        seasons(means, *years),
        better=Better.HIGHER,
        check="Fern",
        margin=margin,
        sds=SDs(1e3, 0.0),
        lengths=seasons({"Bedding": 30.0, "Ember": 60.0, "Fern": 60.0}, *years),
        shortest=45.0,
        length_sds=SDs(1e3, 0.0),
    )
    whole = Choice(
        crop="zinnia",
        next_season=2027,
        measure=BY_KEY["stems_per_plant"],
        check="Fern",
        minimum_length_cm=45.0,
        trials=tuple(f"zinnia-{year}" for year in years),
        outlook=found,
        standings=standings(found),
        rules=Rules(),
        practices=(),
        stems_in_a_poor_season={},
    )
    return replace(whole, **changed)


FIGURES = measure_figures(BY_KEY["stems_per_plant"])


def test_every_variety_has_a_line_with_its_verdict() -> None:
    found = choice()
    page = choice_page(found)
    lines = page.partition("\n\n")[2].splitlines()
    for standing in found.standings:
        (line,) = [row for row in lines if row.split()[:2] == [str(standing.rank), standing.entry]]
        assert VERDICT_WORDS[standing.verdict] in line
        assert FIGURES.interval(standing.low, standing.high) in line
        assert line.rstrip().endswith(" 1")  # season
    assert "beats Fern" in page
    assert "beats" not in choice_page(replace(found, check=None)).partition("Why")[0]
    title = page.splitlines()[0]
    assert "zinnia" in title
    assert "2027" in title
    assert set(page.splitlines()[1]) == {"═"}
    assert len(page.splitlines()[1]) == len(title)
    assert choice_page(found, as_known=", as of May").splitlines()[0] == f"{title}, as of May"


def test_a_tie_is_marked_where_it_is_one() -> None:
    close = choice(margin=Margin(10.0))
    tied = [s for s in close.standings if s.tied_with_best]
    assert {s.entry for s in tied} >= {"Fern"}
    page = choice_page(close)
    assert "Fern =" in page
    assert "Fern =" not in choice_page(choice())


def test_the_basis_names_the_seasons_and_how_sure_one_alone_is() -> None:
    one, two = (basis_sentence(choice(*years), FIGURES) for years in ((2026,), (2025, 2026)))
    assert "1 closed trial in 2026" in one
    assert "Another season may rank the varieties differently." in one
    assert "2 closed trials in 2025 and 2026" in two
    assert "Another season may" not in two
    assert "other crop" not in one
    lacking = basis_sentence(choice(lacking=("No stem has a price.",)), FIGURES)
    assert "No stem has a price." in lacking
    assert "price" not in one


def test_other_crops_behind_the_variation_are_counted() -> None:
    found = choice()
    variation = replace(found.outlook.variation, others=2)
    said = basis_sentence(
        replace(found, outlook=replace(found.outlook, variation=variation)), FIGURES
    )
    assert "of zinnia and 2 other crops" in said


def test_every_reason_is_said_with_its_figures() -> None:
    for code, rule in RULES_IN_WORDS.items():
        said = reason_words(Reason(code, 0.25, 0.5), FIGURES)
        assert "{" not in said
        written = {
            Quantity.CHANCE: ("25%", "50%"),
            Quantity.SHARE: ("25%", "50%"),
            Quantity.AMOUNT: (FIGURES.amount(0.25), FIGURES.amount(0.5)),
            Quantity.MONEY: ("0 stems", "0 stems"),
            Quantity.SEASONS: ("0", "0"),
            Quantity.NOTHING: ("", ""),
        }[rule.quantity]
        assert said == rule.sentence.format(value=written[0], limit=written[1])
        empty = reason_words(Reason(code, None, None), FIGURES)
        assert empty == rule.sentence.format(value="", limit="")


def test_money_is_rounded_to_whole_units_of_its_currency() -> None:
    (pays,) = [code for code in RULES_IN_WORDS if code.name == "TRIAL_PAYS"]
    said = reason_words(Reason(pays, 1234.4, 56.6), Figures("EUR/m", 1.0, 2))
    assert "1,234 EUR" in said
    assert "57 EUR" in said


GROWN = Growing(
    "Ember", "spacing", "23 cm", "30 cm", 1.5, 0.5, 2.5, 0.9, Premium(60, 40, 1.8), 1.25
)


def test_what_a_treatment_earns_is_said_with_the_price_it_holds_to() -> None:
    figures = Figures("EUR/m", 1.0, 2)
    said = growing_sentence(GROWN, figures)
    assert said.startswith("Ember: spacing 23 cm earns about 1.50 EUR/m more than spacing 30 cm")
    assert "0.50 to 2.50" in said
    assert "90%" in said
    assert "a 60 cm stem brings at least 1.2 times a 40 cm one (now 1.8)" in said
    assert "at most" in growing_sentence(replace(GROWN, pays_above=False), figures)
    assert growing_sentence(replace(GROWN, break_even=None), figures).endswith(
        "It pays at any price of long stems."
    )
    assert growing_sentence(replace(GROWN, premium=None), figures).endswith("90%).")
    named = growing_sentence(replace(GROWN, level="pinched", other="unpinched"), figures)
    assert named.startswith("Ember: pinched earns")
    heading = "How to grow the varieties to reorder"
    assert heading in choice_page(choice(growing=(GROWN,)))
    assert heading not in choice_page(choice())


def test_the_rules_say_the_limits_in_force() -> None:
    found = choice()
    said = "\n".join(rules_lines(found.rules, FIGURES, found))
    usual = found.outlook.terms.usual
    assert "80%" in said
    assert f"within {FIGURES.apart.amount(0.05 * usual)} of it" in said
    assert "at least 5% of being the best" in said
    with_margin = choice(margin=Margin(2.5))
    assert f"within {FIGURES.apart.amount(2.5)} of it" in "\n".join(
        rules_lines(with_margin.rules, FIGURES, with_margin)
    )


@pytest.mark.parametrize(("unit", "said"), [("EUR/m", "20 m"), ("EUR/ft", "66 ft")])
def test_where_money_decides_the_beds_of_the_seasons_ahead_are_named(unit: str, said: str) -> None:
    found = choice(trial_cost=TrialCost(3, 1.2, 5.0))
    (line,) = [
        each
        for each in rules_lines(found.rules, Figures(unit, 1.0, 2), found)
        if each.startswith("Grow again")
    ]
    assert f"{said} of zinnia" in line
    assert "3 seasons" in line


def test_what_was_found_of_a_treatment_is_a_row_each() -> None:
    table = practice_table(practice(stems_per_plant=(), stem_length_cm=()), UnitSystem.US)
    stems, length = table.rows
    assert stems[0] == "yes over no"
    assert stems[1] == "stems per plant (stems/plant)"
    assert stems[2:4] == ("+2.0", "0.9 to 3.1")
    assert length[1].endswith("(in)")
    assert length[2] == "+0.8"
    page = choice_page(choice(practices=(practice(stems_per_plant=("variety",)),)))
    assert "How to grow it, from cosmos-2026" in page
    assert practice_sentence(practice(stems_per_plant=("variety",))).split(":")[0] in " ".join(
        page.split()
    )


def test_a_treatment_without_replication_gets_its_reason_and_remedy() -> None:
    bare = NotReplicated("pinch", "Only one whole plot had it.", "Use two at least.")
    said = practice_sentence(replace(practice(), not_replicated=bare))
    assert said == "Only one whole plot had it. Use two at least."
    page = choice_page(choice(practices=(replace(practice(), not_replicated=bare),)))
    assert "How to grow it" not in page
    assert said in " ".join(page.split())
