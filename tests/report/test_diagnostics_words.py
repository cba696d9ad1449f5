"""What other tests say beside a verdict: that they agree, that they doubt it, or nothing."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from tests.report.test_words import cultivars
from trials.report.diagnostics_words import disagrees, doubts_of, solid_line
from trials.stats.results import Comparison
from trials.stats.what_was_tested import Diagnostic, SecondOpinion

RANDOMISED = "randomisation test"


@pytest.fixture(scope="module")
def found() -> Comparison:
    comparison = cultivars()
    (test,) = comparison.tests
    assert test.p <= comparison.alpha
    return replace(comparison, solid=replace(comparison.solid, fragile=()))


def opinion(p: float, **changed: Any) -> SecondOpinion:
    return replace(SecondOpinion(f"{RANDOMISED} (all)", (("cultivar", p),), True), **changed)


def judged(found: Comparison, other: SecondOpinion | None, **solid: Any) -> Comparison:
    return replace(found, solid=replace(found.solid, randomisation=other, **solid))


def test_a_test_disagrees_where_it_falls_on_the_other_side_of_alpha(found: Comparison) -> None:
    assert disagrees(found, opinion(0.4), "cultivar")
    assert not disagrees(found, opinion(found.alpha), "cultivar")
    assert not disagrees(found, opinion(0.4), "block")
    # A layout that lets it reach no less than 0.2 says nothing for or against.
    assert not disagrees(found, opinion(0.4, at_best=(("cultivar", 0.2),)), "cultivar")
    assert not disagrees(found, replace(opinion(0.4), p=(("block", 0.4),)), "block")


def test_a_doubt_says_what_the_other_test_finds(found: Comparison) -> None:
    (doubt,) = doubts_of(judged(found, opinion(0.4)), "cultivar", found=True)
    assert doubt.startswith(f"But the {RANDOMISED} does not rule out chance (p = 0.4")
    assert doubts_of(judged(found, opinion(0.01)), "cultivar", found=True) == []
    assert doubts_of(judged(found, opinion(0.4)), "block", found=True) == []
    strict = replace(judged(found, opinion(0.0001)), alpha=1e-3)
    (other,) = doubts_of(strict, "cultivar", found=False)
    assert "finds that cultivars differ" in other


def test_pairs_that_another_test_turns_are_counted(found: Comparison) -> None:
    pair = ((("cultivar", "C1"),), (("cultivar", "C4"),))
    said = doubts_of(judged(found, opinion(0.01, turned_pairs=(pair,))), "cultivar", found=True)
    assert "1 pair: C1 and C4. Treat it as undecided." in said[0]
    two = opinion(0.01, turned_pairs=(pair, pair))
    assert "2 pairs" in doubts_of(judged(found, two), "cultivar", found=True)[0]
    # Where the levels as a whole are in doubt that is said, and not each pair.
    whole = opinion(0.4, turned_pairs=(pair,))
    assert len(doubts_of(judged(found, whole), "cultivar", found=True)) == 1


def test_a_verdict_that_no_other_test_could_confirm_is_a_hint_with_few_degrees(
    found: Comparison,
) -> None:
    asked = judged(found, None, made=(Diagnostic.RANDOMISATION,))
    (said,) = doubts_of(asked, "cultivar", found=True)
    assert "no second test could confirm the result for cultivar" in said
    assert "hint" not in said
    assert doubts_of(asked, "cultivar", found=False) == []
    (test,) = found.tests
    for df, hint in ((2.0, True), (3.0, False)):
        few = replace(asked, tests=(replace(test, den_df=df),))
        assert ("hint" in doubts_of(few, "cultivar", found=True)[0]) is hint
    assert doubts_of(judged(found, None, made=()), "cultivar", found=True) == []


def test_one_line_says_whether_the_checks_agree(found: Comparison) -> None:
    bare = judged(found, None, made=(), not_made=(), fragile=(), outliers=())
    bare = replace(bare, solid=replace(bare.solid, normality=None, equal_spread=None))
    assert solid_line(bare) == "Not checked."
    made = judged(bare, opinion(0.01), made=(Diagnostic.RANDOMISATION,))
    assert solid_line(made) == "Yes. 1 check made."
    alone = judged(made, None, made=(Diagnostic.RANDOMISATION,))
    assert solid_line(alone) == (
        "Yes. 1 check made. No second test could confirm the result for cultivar."
    )
    lacking = judged(made, opinion(0.01), not_made=((Diagnostic.RANDOMISATION, "too few"),))
    assert solid_line(lacking).startswith("Yes, as far as they could be made. 1 of 2 checks made.")
    assert "too few" in solid_line(lacking)
    none = judged(bare, None, not_made=((Diagnostic.RANDOMISATION, "too few"),))
    assert solid_line(none).startswith("None could be made.")
    against = judged(made, opinion(0.4, agrees=False, note="Look."))
    assert solid_line(against).startswith(f"Not all: {RANDOMISED} (all) disagrees. Look. 1 check")
    untested = replace(found, tests=(), all_pairs=())
    assert "nothing to check" in solid_line(untested)
    for part in ({"tests": ()}, {"all_pairs": ()}):
        assert "nothing to check" not in solid_line(replace(found, **part))  # type: ignore[arg-type]
