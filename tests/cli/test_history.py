from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from trials.cli import tallybed
from trials.errors import ChangedMeanwhile, RecordsHeld, RecordsRefused, TallybedError

pytestmark = pytest.mark.slow

FARM = Path(__file__).parents[2] / "data" / "farm"
RECOUNTED = Path(__file__).parents[2] / "data" / "recounted.csv"
Say = Callable[..., str]


@pytest.fixture(scope="module")
def closed(tmp_path_factory: pytest.TempPathFactory, farm_store: Path) -> bytes:
    """The store of the invented farm with one trial closed: entries 1 and 2."""
    store = Path(shutil.copy(farm_store, tmp_path_factory.mktemp("closed")))
    run(store, "close", "cosmos-2024", "--on", "2024-10-14", "--who", "Ann")
    return store.read_bytes()


def run(store: Path, *words: str) -> str:
    said = CliRunner().invoke(tallybed, [*words, "--store", str(store)])
    if said.exception is not None:
        raise said.exception
    return said.output


@pytest.fixture
def say(tmp_path: Path, closed: bytes) -> Say:
    store = tmp_path / "farm.tallybed"
    store.write_bytes(closed)
    return lambda *words: run(store, *words)


def test_a_correction_is_made_shown_and_taken_back(say: Say) -> None:
    before = json.loads(say("compare", "cosmos-2024", "--json"))
    assert before["records"]["changed_after_closing"] is False
    said = say("correct", str(RECOUNTED), "--why", "3 was 13", "--who", "Ben")
    assert "grade 40 cm: stems 3 → 13" in said
    after = json.loads(say("compare", "cosmos-2024", "--json"))
    assert after["records"]["changed_after_closing"] is True
    assert after["grand_mean"] > before["grand_mean"]
    assert "changed after closing" in " ".join(say("compare", "cosmos-2024").split())
    assert json.loads(say("compare", "cosmos-2024", "--as-of", "2", "--json")) == before
    assert "records as of change 2" in say("compare", "cosmos-2024", "--as-of", "2")
    (entry,) = json.loads(say("history", "C4222", "--last", "1", "--json"))
    assert (entry["who"], entry["what"], entry["why"]) == ("Ben", "correction", "3 was 13")
    assert "undo of change 3" in say("undo", "--who", "Ben")
    assert json.loads(say("compare", "cosmos-2024", "--json")) == before


def test_a_row_loaded_differently_is_pointed_to_correct(say: Say) -> None:
    with pytest.raises(RecordsRefused, match="tallybed correct"):
        say("load", str(RECOUNTED))


def test_who_looked_before_another_s_correction_is_told(say: Say, tmp_path: Path) -> None:
    say("correct", str(RECOUNTED), "--why", "3 was 13", "--who", "Ben", "--seen", "2")
    other = tmp_path / "other.csv"
    other.write_text(RECOUNTED.read_text("utf-8").replace(",13,", ",31,"), "utf-8")
    with pytest.raises(ChangedMeanwhile, match="correction by Ben"):
        say("correct", str(other), "--why", "it was 31", "--who", "Ann", "--seen", "2")
    say("correct", str(other), "--why", "it was 31", "--who", "Ann", "--seen", "3")


def test_a_withdrawal(say: Say, tmp_path: Path) -> None:
    events = (FARM / "events.csv").read_text("utf-8").splitlines()
    (lost,) = [line for line in events if "C4236" in line and ",lost," in line]
    file = tmp_path / "withdrawn.csv"
    file.write_text(f"{events[0]}\n{lost}\n", "utf-8")
    said = say("withdraw", str(file), "--why", "the deer was seen elsewhere")
    assert "− event, cosmos-2024, C4236" in said
    (entry,) = json.loads(say("history", "C4236", "--last", "1", "--json"))
    assert entry["rows"] == {"event": {"brought": 0, "superseded": 1}}
    assert "− event, cosmos-2024, C4236" in say("history", "C4236")


def test_choices_can_be_had_as_they_were(say: Say) -> None:
    with pytest.raises(TallybedError, match="still open"):
        say("choose", "cosmos", "--as-of", "2")
    with pytest.raises(TallybedError, match="no change 99"):
        say("choose", "cosmos", "--as-of", "99")


def test_a_choice_for_programs_says_of_which_time_it_is(say: Say) -> None:
    for code in ("cosmos-2025", "cosmos-2026", "cosmos-bed-2026"):
        say("close", code, "--on", f"{code[-4:]}-11-20")
    now = json.loads(say("choose", "cosmos", "--json"))
    then = json.loads(say("choose", "cosmos", "--as-of", "5", "--json"))
    assert (now.pop("as_known_at"), then.pop("as_known_at")) == (None, 5)
    assert then == now


@pytest.mark.parametrize("when", ["soon", "2026-13-01", "-1"])
def test_what_is_no_time_is_refused(say: Say, when: str) -> None:
    with pytest.raises(SystemExit):
        say("compare", "cosmos-2024", f"--as-of={when}")


def test_a_day_means_its_end_and_a_time_this_computer_s_clock(say: Say) -> None:
    assert "2999-12-31 23:59" in say("compare", "cosmos-2024", "--as-of", "2999-12-31")
    assert "2999-12-31 08:30" in say("compare", "cosmos-2024", "--as-of", "2999-12-31T08:30")
    with pytest.raises(TallybedError, match="does not reach back"):
        say("compare", "cosmos-2024", "--as-of", "2001-01-01")


def test_an_unlikely_correction_needs_somebody_to_answer_for_it(say: Say, tmp_path: Path) -> None:
    other = tmp_path / "other.csv"
    other.write_text(RECOUNTED.read_text("utf-8").replace(",13,", ",90013,"), "utf-8")
    with pytest.raises(RecordsHeld, match="--accept"):
        say("correct", str(other), "--why", "miscounted")
    said = say("correct", str(other), "--why", "miscounted", "--accept", "counted twice")
    assert "90013" in said
