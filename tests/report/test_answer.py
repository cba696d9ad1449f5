"""The answer in one sentence: who leads, who else could be the best, and who cannot be sold."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from trials import season
from trials.report.answer import Answer, answer_words
from trials.report.figures import figures_of
from trials.stats.results import Comparison, TooShort, Verdict


@pytest.fixture(scope="module")
def cosmos(farm_store: Path) -> Comparison:
    return season.compare_trial(farm_store, "cosmos-2026")


def answer(found: Comparison, factor: str = "variety") -> Answer:
    return answer_words(found, factor, figures_of(found))


def with_could(found: Comparison, could: set[str]) -> Comparison:
    """The comparison with just these able to be the best."""
    return replace(
        found,
        with_best=tuple(
            replace(item, could_be_best=item.levels[0][1] in could) for item in found.with_best
        ),
    )


def ranked(found: Comparison) -> list[str]:
    """The varieties that can be sold, best first."""
    short = {each.level for each in found.too_short}
    means = sorted((m for m in found.means if m.term == "variety"), key=lambda m: -m.mean)
    return [m.levels[0][1] for m in means if m.levels[0][1] not in short]


def test_the_leader_is_the_best_that_can_be_sold(cosmos: Comparison) -> None:
    names = ranked(cosmos)
    assert answer(cosmos).sentence.startswith(f"{names[0]} leads with ")
    short = [each.level for each in cosmos.too_short]
    assert len(short) == 3, "of the demo"
    listed = f"{short[0]}, {short[1]} and {short[2]}"
    assert answer(cosmos).but[0] == f"Too short to sell, so left out: {listed}."


def test_everybody_who_could_be_the_best_is_named(cosmos: Comparison) -> None:
    names = ranked(cosmos)
    said = answer(with_could(cosmos, {*names[:3]})).sentence
    assert said.endswith(f", but {names[1]} and {names[2]} could also be the best.")


def test_a_lone_leader_is_said_to_be_one(cosmos: Comparison) -> None:
    said = answer(with_could(cosmos, {ranked(cosmos)[0]})).sentence
    assert said.endswith(", and none of the other varieties could be the best.")


def test_where_none_is_ruled_out_no_variety_is_recommended(cosmos: Comparison) -> None:
    names = ranked(cosmos)
    said = answer(with_could(cosmos, {*names})).sentence
    assert said.endswith(f", but any of the {len(names)} varieties could be the best.")


def test_a_level_too_short_to_sell_never_leads(cosmos: Comparison) -> None:
    first = ranked(cosmos)[0]
    short = replace(cosmos, too_short=(TooShort("variety", first, 0.1),))
    assert not answer(short).sentence.startswith(first)
    every = tuple(
        TooShort("variety", m.levels[0][1], 0.1) for m in cosmos.means if m.term == "variety"
    )
    assert answer(replace(cosmos, too_short=every)).sentence == (
        "All varieties are too short to sell."
    )


@pytest.mark.parametrize(
    ("verdict", "words"),
    [
        (Verdict.UNKNOWN, "are too close to call"),
        (Verdict.SAME, "are the same for your purpose"),
        (Verdict.MORE, "gave about 3.0 more stems per plant than"),
    ],
)
def test_two_levels_are_compared_with_one_another(
    cosmos: Comparison, verdict: Verdict, words: str
) -> None:
    pairs = tuple(
        replace(pair, verdict=verdict, difference=3.0, low=1.0, high=5.0)
        if pair.term == "pinch" and not pair.within
        else pair
        for pair in cosmos.all_pairs
    )
    assert words in answer(replace(cosmos, all_pairs=pairs), "pinch").sentence


def test_one_plot_of_each_is_no_evidence(farm_store: Path) -> None:
    found = season.compare_trial(farm_store, "cosmos-bed-2026")
    said = answer(found, "pinch").sentence
    assert said.endswith("one plot of each cannot show whether that is more than chance.")


def test_an_effect_that_depends_on_the_other_factor_is_said(cosmos: Comparison) -> None:
    tests = tuple(replace(test, p=0.001) if ":" in test.term else test for test in cosmos.tests)
    said = answer(replace(cosmos, tests=tests)).but
    assert any("compare each combination" in sentence for sentence in said)


def test_where_the_best_could_not_be_asked_for_nobody_is_ruled_out(cosmos: Comparison) -> None:
    said = answer(with_could(cosmos, set()))
    assert said.sentence.startswith(f"{ranked(cosmos)[0]} leads with ")
    assert said.sentence.endswith(", but this trial cannot rule out any other of the varieties.")
