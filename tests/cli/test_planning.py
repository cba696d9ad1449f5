"""`tallybed plan`, `calendar` and `sheets` as a grower types them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from tests.plans import SMALL, small_plan
from trials.cli import tallybed

DATA = Path(__file__).parents[2] / "data"
SIX: dict[str, Any] = {
    "replicates": 4,
    "plants_per_plot": 18,
    "factors": [{"name": "variety", "levels": ["A", "B", "C", "D", "E", "F"]}],
    "beds": [{"name": f"Bed {bed}", "length_m": 30, "width_m": 1.2} for bed in (1, 2)],
    "calendar": {**SMALL["calendar"], "pinched": True, "netted": True},
}


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TALLYBED_STORE", str(tmp_path / "farm.tallybed"))
    (tmp_path / "six.toml").write_text(small_plan(**SIX), encoding="utf-8")
    return tmp_path


def said(*words: str) -> str:
    done = CliRunner().invoke(tallybed, words, catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return " ".join(done.stdout.split())


@pytest.mark.usefixtures("here")
def test_six_varieties_in_four_blocks_at_15_per_cent() -> None:
    """22.6% and 31.8% of the mean: t of 15 df at 0.975, and with t at 0.80, by 15 sqrt(2/4)."""
    page = said("plan", "six.toml", "--dry-run")
    assert "least significant difference 22.6% of the mean" in page
    assert "31.8% (one pair chosen beforehand)" in page
    document = json.loads(said("plan", "six.toml", "--propose", "--json"))
    (found, *_) = document["offers"][0]["tells"][0]["found"]
    assert found["least_percent"] == pytest.approx(22.6, abs=0.05)
    assert found["found_percent"] == pytest.approx(31.8, abs=0.05)


def test_asking_for_the_impossible_says_what_is_possible(here: Path) -> None:
    text = small_plan(**SIX | {"replicates": 2, "detect": "20 %"})
    (here / "two.toml").write_text(text, encoding="utf-8")
    page = said("plan", "two.toml", "--propose")
    assert "With 2 plots each, as planned" in page
    assert "20% needs" in page
    assert "They do not fit" in page
    assert "The beds have room for at most 6 plots each" in page
    assert "More plots or more plants per plot?" in page


@pytest.mark.slow
@pytest.mark.usefixtures("here")
def test_a_plan_makes_the_store_and_prints_its_sheets(here: Path) -> None:
    page = said("plan", "six.toml", "--take", "2", "--sheets", "out")
    assert "A new store was made" in page
    assert len(list((here / "out").glob("six-2026-*"))) == 8
    assert "pinch, when plants are 20 to 25 cm tall" in said("calendar", "six-2026")
    american = said("calendar", "six-2026", "--units", "us")
    assert "pinch, when plants are 8 to 10 in tall" in american
    assert "about 18 in above the soil" in american
    assert json.loads(said("calendar", "six-2026", "--json"))["tasks"]


@pytest.mark.usefixtures("here")
def test_looking_makes_no_store(here: Path) -> None:
    page = said("plan", "six.toml", "--propose")
    assert "Nothing was stored" in page
    assert not (here / "farm.tallybed").exists()


@pytest.mark.parametrize("more", [["--take", "2"], ["--sheets", "out"]])
@pytest.mark.usefixtures("here")
def test_looking_goes_with_nothing_that_stores(more: list[str]) -> None:
    done = CliRunner().invoke(tallybed, ["plan", "six.toml", "--propose", *more])
    assert done.exit_code == 2


@pytest.mark.slow
@pytest.mark.usefixtures("here")
def test_forty_packets_go_from_plan_to_paper(here: Path) -> None:
    said("load", str(DATA / "farm" / "sites.csv"), str(DATA / "farm" / "seasons.csv"))
    page = said("plan", str(DATA / "plan-packets.toml"), "--sheets", "out")
    assert "102.4 m of 120.0 m" in page  # 40 + 8 x 3 plots of 1.6 m
    assert (here / "out" / "packets-2026-stakes.pdf").stat().st_size
