"""The search finds names, and what each trial needs is read off the records."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from trials import season
from trials.model.trial import TrialStage
from trials.season import FoundKind


def found(store: Path, text: str) -> list[tuple[FoundKind, str]]:
    return [(each.kind, each.name) for each in season.find(store, text)]


def test_a_variety_is_found_with_the_trials_it_grew_in(farm_store: Path) -> None:
    (each,) = season.find(farm_store, " wrenLATCH ")
    assert (each.kind, each.name) == (FoundKind.VARIETY, "Wrenlatch")
    assert "cosmos-2026" in each.trials
    assert "cosmos-2024" in each.trials
    assert each.trials[0].endswith("2026"), "the newest first"


def test_a_trial_is_found_by_its_code_question_and_crop(farm_store: Path) -> None:
    assert (FoundKind.TRIAL, "cosmos-2026") in found(farm_store, "cosmos-2026")
    assert (FoundKind.TRIAL, "cosmos-2024") in found(farm_store, "most stems we can sell")


def test_a_plot_is_found_first_by_its_whole_code(farm_store: Path) -> None:
    assert found(farm_store, "c4222")[0] == (FoundKind.PLOT, "C4222")
    assert season.find(farm_store, "c4222")[0].trials == ("cosmos-2024",)


@pytest.mark.parametrize("text", ["", "   ", "no such name anywhere"])
def test_nothing_is_found_of_nothing(farm_store: Path, text: str) -> None:
    assert season.find(farm_store, text) == ()


def test_at_most_twenty_are_found(farm_store: Path) -> None:
    assert len(season.find(farm_store, "c")) == 20


@pytest.mark.slow
def test_the_records_tell_what_the_next_steps_rest_on(farm_store: Path) -> None:
    now = season.trials_now(farm_store, date(2026, 8, 1))
    assert set(now) == {trial.code for trial in season.trials(farm_store)}
    of = now["cosmos-2026"]
    assert of.stage is TrialStage.PICKING
    assert of.frost_recorded
    cut = season.completeness(farm_store, "cosmos-2026")
    assert (of.harvests[0], of.harvests[-1]) == (cut.first_cut, cut.last_cut)
    assert len(of.harvests) == cut.picking_days
    assert of.uncounted == len(cut.plots_without_stand)
    assert of.first_frost is not None
    assert of.ends_on is not None
    assert of.first_frost <= of.ends_on
