"""What a choice takes from its trials: the season it is for, and the margins that hold."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import pytest

from trials import season
from trials.model.trial import AppliedTo, Factor, Margin, Trial, TrialStage
from trials.season.comparing import measure_named

FARM = Path(__file__).parent.parent / "data" / "farm"


def trial(margin: Margin | None) -> Trial:
    return Trial(
        code="Z25",
        season=2025,
        site="North",
        crop="zinnia",
        question="Which?",
        factors=(Factor("variety", ("A", "B"), AppliedTo.PLOT),),
        check=None,
        primary_measure="stems_per_plant",
        alpha=0.05,
        margin=margin,
        minimum_length_cm=40.0,
        stage=TrialStage.CLOSED,
        plots=8,
        closed_on=date(2025, 10, 9),
    )


def test_a_margin_in_one_measures_unit_is_not_applied_to_another() -> None:
    stems, length = measure_named("stems_per_plant"), measure_named("stem_length_cm")
    assert trial(Margin(2.0)).margin_in(stems) == Margin(2.0)
    assert trial(Margin(2.0)).margin_in(length) is None
    assert trial(Margin(10.0, percent=True)).margin_in(length) == Margin(10.0, percent=True)
    assert trial(None).margin_in(stems) is None


@pytest.fixture(scope="module")
def farm(tmp_path_factory: pytest.TempPathFactory, farm_store: Path) -> Path:
    store = Path(shutil.copy(farm_store, tmp_path_factory.mktemp("farm") / "own.tallybed"))
    for code in ("plume-2025", "plume-2026"):
        season.close(store, code, date(int(code[-4:]), 10, 31), "frost")
    return store


@pytest.mark.slow
def test_a_choice_is_for_the_season_after_the_newest_trial(farm: Path) -> None:
    choice = season.choose(farm, "plume celosia")
    assert max(season for season, _ in choice.outlook.seasons) == 2026
    assert choice.next_season == 2027


@pytest.mark.slow
def test_the_net_decides_where_prices_and_costs_are_known(farm: Path) -> None:
    choice = season.choose(farm, "plume celosia")
    assert (choice.measure.key, choice.measure.unit) == ("net_per_metre", "EUR/m")
    assert choice.lacking == ()
    candidates = [s for s in choice.standings if s.chance_best is not None]
    assert [s.mean for s in candidates] == sorted((s.mean for s in candidates), reverse=True)
    # Too short to sell stands last, however many its flowers.
    assert [s.entry for s in choice.standings][len(candidates) :] == list(choice.too_short)


@pytest.mark.slow
def test_without_prices_it_says_what_is_lacking_and_goes_by_stems(tmp_path: Path) -> None:
    store = tmp_path / "poor.tallybed"
    files = [path for path in FARM.glob("*.csv") if path.stem not in {"prices", "costs"}]
    season.load(store, files)
    for code in ("plume-2025", "plume-2026"):
        season.close(store, code, date(int(code[-4:]), 10, 31), "frost")
    choice = season.choose(store, "plume celosia")
    assert choice.measure.key == "stems_per_metre"
    said = " ".join(choice.lacking)
    assert "No stem of plume celosia has a price" in said
    assert "These have no cost: bed, planting, picking, netting material, netting labour." in said
