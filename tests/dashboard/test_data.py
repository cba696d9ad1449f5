"""Answers are kept while the store's file stays as it is, and asked anew when it changes."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from dashboard import data, kept
from trials import season
from trials.errors import TrialState
from trials.model.trial import TrialStage


def stage(code: str) -> TrialStage:
    return next(trial.stage for trial in data.trials() if trial.code == code)


@pytest.mark.slow
def test_an_answer_is_kept_until_the_store_changes(
    hostile_farm: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    code = hostile_farm.open_trial
    monkeypatch.setenv(kept.STORE_VARIABLE, str(hostile_farm.store))
    first = data.compare(code, "stems_per_plant", False)
    assert data.compare(code, "stems_per_plant", False) is first
    assert stage(code) is TrialStage.PICKING
    season.close(hostile_farm.store, code, date(2026, 10, 1), "frost")
    assert stage(code) is TrialStage.CLOSED
    assert data.compare(code, "stems_per_plant", False) is not first


def test_the_same_closing_asked_twice_is_one_and_another_is_refused(
    hostile_farm: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    code, frost = hostile_farm.open_trial, date(2026, 10, 1)
    monkeypatch.setenv(kept.STORE_VARIABLE, str(hostile_farm.store))
    data.close(code, frost, "first frost")
    data.close(code, frost, "first frost ")
    with pytest.raises(TrialState):
        data.close(code, frost, "hail")


def test_two_questions_are_never_taken_for_one_another(
    hostile_farm: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    code = hostile_farm.open_trial
    monkeypatch.setenv(kept.STORE_VARIABLE, str(hostile_farm.store))
    plants = data.compare(code, "stems_per_plant", False)
    length = data.compare(code, "stem_length_cm", False)
    assert (plants.measure, length.measure) == ("stems per plant", "stem length")
    assert isinstance(data.closing_reason(code), str)
    assert isinstance(data.completeness_lines(code), list)
