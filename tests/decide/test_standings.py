from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from scipy import stats

from trials.decide import (
    RULES_IN_WORDS,
    Advice,
    Outlook,
    Quantity,
    ReasonCode,
    Rules,
    SDs,
    SeasonMeans,
    Standing,
    TrialCost,
    outlook,
    standings,
)
from trials.model.trial import Better, Margin


def view(
    means: dict[str, float],
    lengths: dict[str, float] | None = None,
    *,
    error: float = 0.5,
    margin: Margin | None = None,
    better: Better = Better.HIGHER,
) -> Outlook:
    """One season's outlook with known, independent errors that seasons do not change."""

    def season(values: dict[str, float]) -> list[SeasonMeans]:
        k = len(values)
        return [
            SeasonMeans(
                2025, "t", tuple(values), np.array([*values.values()]), error**2 * np.eye(k), np.inf
            )
        ]

    return outlook(
        season(means),
        better=better,
        sds=SDs(1e3, 0.0),
        margin=margin,
        lengths=season(lengths) if lengths else (),
        shortest=45.0 if lengths else None,
        length_sds=SDs(1e3, 0.0),
    )


def names(found: Sequence[Standing]) -> list[str]:
    return [standing.entry for standing in found]


def codes(standing: Standing) -> list[ReasonCode]:
    return [reason.code for reason in standing.reasons]


def by_name(found: Sequence[Standing]) -> dict[str, Standing]:
    return {standing.entry: standing for standing in found}


def test_a_short_entry_is_dropped_whatever_its_stems() -> None:
    found = standings(
        view({"bedding": 30, "best": 12, "fair": 9}, {"bedding": 30, "best": 60, "fair": 60})
    )
    assert names(found) == ["best", "fair", "bedding"]
    last = found[-1]
    assert last.verdict is Advice.DROP
    assert codes(last) == [ReasonCode.TOO_SHORT]
    assert last.reasons[0].limit == 0.80
    assert last.expected_shortfall is None
    assert last.extra_cost is None
    assert found[0].verdict is Advice.REORDER
    assert codes(found[0]) == [ReasonCode.TALL_ENOUGH, ReasonCode.LEADS]


def test_each_rule_gives_its_verdict() -> None:
    means = {"leads": 12, "tied": 11.8, "open": 10.7, "beaten": 8}
    found = by_name(standings(view(means, error=0.7), Rules(drop_chance_best=0.02)))
    assert {entry: s.verdict for entry, s in found.items()} == {
        "leads": Advice.REORDER,
        "tied": Advice.REORDER,
        "open": Advice.GROW_AGAIN,
        "beaten": Advice.DROP,
    }
    assert {entry: codes(s) for entry, s in found.items()} == {
        "leads": [ReasonCode.LEADS],
        "tied": [ReasonCode.TIED],
        "open": [ReasonCode.STILL_OPEN],
        "beaten": [ReasonCode.HARDLY_THE_BEST],
    }
    # What growing one entry for another costs is the difference of their means.
    tied = found["tied"].reasons[0]
    assert tied.value == pytest.approx(0.2, abs=1e-4)
    assert tied.limit == pytest.approx(0.05 * (12 + 11.8 + 10.7 + 8) / 4, abs=1e-4)
    assert found["open"].extra_cost == pytest.approx(1.3, abs=1e-4)
    assert [found[e].tied_with_best for e in means] == [True, True, False, False]


def test_another_trial_is_grown_where_it_is_worth_more_than_it_costs() -> None:
    """By the unit normal loss: d = -1.3, variance 2 x 0.49, shown again with the same variance."""
    means = {"leads": 12, "open": 10.7, "beaten": 8}
    measured, rules = view(means, error=0.7), Rules(bed_metres=10, seasons_ahead=2)
    sd = np.sqrt(0.98 / 2)
    worth = 20 * sd * (stats.norm.pdf(1.3 / sd) - 1.3 / sd * stats.norm.sf(1.3 / sd))
    ground = 4 * (0.01 + 0.01 * 1.3)
    found = by_name(standings(measured, rules, TrialCost(4, 0.01, 0.01, {"open": 0.02})))
    assert found["open"].trial_worth == pytest.approx(worth, rel=0.08)  # of 20,000 draws
    assert found["open"].trial_cost == pytest.approx(ground + 0.02, abs=1e-3)
    assert found["open"].verdict is Advice.GROW_AGAIN
    assert codes(found["open"]) == [ReasonCode.TRIAL_PAYS]
    dear = by_name(standings(measured, rules, TrialCost(4, 0.05, 1.0)))
    assert codes(dear["open"]) == [ReasonCode.TRIAL_COSTS_MORE]
    assert dear["open"].verdict is Advice.DROP
    assert (dear["leads"].trial_worth, dear["leads"].trial_cost) == (None, None)


def test_a_leader_alone_is_tied_with_nobody() -> None:
    first, *_ = standings(view({"a": 12, "b": 8}))
    assert first.entry == "a"
    assert not first.tied_with_best


def test_the_margin_says_what_a_tie_is() -> None:
    means = {"a": 12, "b": 11, "c": 9.5}
    loose = standings(view(means, margin=Margin(1.2)))
    assert [s.tied_with_best for s in loose] == [True, True, False]
    tight = standings(view(means, margin=Margin(0.3)))
    assert [s.tied_with_best for s in tight] == [False, False, False]


def test_ties_are_ordered_by_performance_alone() -> None:
    tied = view(
        {"a": 10.0, "b": 10.03, "c": 10.01, "d": 10.02, "far": 5},
        {"a": 60, "b": 55, "c": 70, "d": 65, "far": 90},
    )
    found = standings(tied)
    assert names(found) == ["b", "d", "c", "a", "far"]
    assert [s.rank for s in found] == [1, 2, 3, 4, 5]


def test_an_entry_never_measured_for_length_is_grown_again() -> None:
    found = by_name(standings(view({"a": 12, "b": 11.9}, {"b": 60})))
    assert found["a"].verdict is Advice.GROW_AGAIN
    assert codes(found["a"]) == [ReasonCode.LEADS, ReasonCode.LENGTH_NOT_RECORDED]
    assert found["b"].verdict is Advice.REORDER


def test_too_few_seasons_hold_a_reorder_back() -> None:
    found = by_name(standings(view({"a": 12, "b": 6}), Rules(least_seasons=2)))
    assert found["a"].verdict is Advice.GROW_AGAIN
    assert codes(found["a"]) == [ReasonCode.LEADS, ReasonCode.TOO_FEW_SEASONS]
    assert (found["a"].reasons[1].value, found["a"].reasons[1].limit) == (1, 2)
    assert found["b"].verdict is Advice.DROP


def test_changing_the_wanted_chance_of_length_screens_anew() -> None:
    measured = view({"a": 12, "b": 11}, {"a": 45.3, "b": 60})
    strict = by_name(standings(measured, Rules(tall_chance=0.9)))
    lenient = by_name(standings(measured, Rules(tall_chance=0.5)))
    assert strict["a"].verdict is Advice.DROP
    assert strict["b"].chance_best == 1
    assert lenient["a"].verdict is Advice.REORDER


def test_where_all_are_short_all_are_dropped() -> None:
    found = standings(view({"a": 12, "b": 11}, {"a": 20, "b": 21}))
    assert {s.verdict for s in found} == {Advice.DROP}


def test_fewer_days_lead_where_less_is_better() -> None:
    assert names(standings(view({"a": 62, "b": 55}, better=Better.LOWER)))[0] == "b"


def test_every_reason_has_a_sentence_with_places_for_what_it_carries() -> None:
    assert set(RULES_IN_WORDS) == set(ReasonCode)
    for rule in RULES_IN_WORDS.values():
        carries = rule.quantity is not Quantity.NOTHING
        assert ("{value}" in rule.sentence) is carries
        assert ("{limit}" in rule.sentence) is carries


@pytest.mark.parametrize(
    "wrong",
    [{"tall_chance": 80}, {"drop_chance_best": -0.1}, {"tie_share": -0.1}],
)
def test_rules_that_cannot_be_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="not"):
        Rules(**wrong)  # type: ignore[arg-type]
