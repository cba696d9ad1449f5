"""What the standings say of other ways of growing."""

from __future__ import annotations

from trials.decide import Finding, Practice
from trials.model.trial import MEASURES
from trials.report.choice_page import practice_sentence
from trials.stats.results import Pair, Verdict

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
        "In stem length, the effect of pinch differs between varieties: see the comparison of "
        "cosmos-2026 in that measure."
    )


def test_measures_with_other_interactions_get_a_sentence_each() -> None:
    said = practice_sentence(practice(stems_per_plant=("cover",), stem_length_cm=("variety",)))
    assert "In stems per plant, the effect of pinch differs between cover levels" in said
    assert "In stem length, the effect of pinch differs between varieties" in said


def test_without_interactions_nothing_is_said() -> None:
    assert practice_sentence(practice(stems_per_plant=())) == ""
