"""How a farm begins: an empty store, and the example next to it in one of its own."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from trials import season
from trials.errors import StoreRefused
from trials.model.trial import TrialStage
from trials.season.beginning import EXAMPLE_NAME


@pytest.mark.slow
def test_a_store_is_made_once(tmp_path: Path) -> None:
    store = tmp_path / "new" / "farm.tallybed"
    assert season.begin(store)
    season.plan_from_text(store, _plan())
    assert not season.begin(store)
    assert [trial.code for trial in season.trials(store)] == ["aster-2026"]


def _plan() -> str:
    text = (Path(__file__).parents[1] / "data" / "plan-example.toml").read_text(encoding="utf-8")
    days = "[calendar]\nseason_starts_on = 2026-03-01\nseason_ends_on = 2026-10-31\n#"
    return text.replace("[calendar] ", days)


@pytest.mark.slow
def test_the_example_is_made_once_beside_the_farm_and_never_in_it(tmp_path: Path) -> None:
    store = tmp_path / "farm.tallybed"
    season.begin(store)
    example = season.example_farm(store)
    assert example == tmp_path / EXAMPLE_NAME
    assert {trial.stage for trial in season.trials(example)} == {TrialStage.CLOSED}
    assert season.trials(store) == ()
    assert {path.name for path in tmp_path.iterdir() if not path.name.startswith(".")} == {
        store.name,
        example.name,
    }
    made = season.history(example)
    assert season.example_farm(store) == example
    assert season.history(example) == made
    assert season.closing(example, "cosmos-2026").closed_on == date(2026, 10, 11)  # type: ignore[union-attr]


def test_a_file_that_is_no_store_is_not_taken_for_the_example(tmp_path: Path) -> None:
    (tmp_path / EXAMPLE_NAME).write_text("mine", encoding="utf-8")
    with pytest.raises(StoreRefused):
        season.example_farm(tmp_path / "farm.tallybed")
    assert (tmp_path / EXAMPLE_NAME).read_text(encoding="utf-8") == "mine"
