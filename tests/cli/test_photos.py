"""``tallybed photo``: photos added, listed and withdrawn, and refusals that say what to do."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.photographs import photo, photo_with_place
from trials import season
from trials.cli import tallybed
from trials.model.rows import Signed


@pytest.fixture
def farm(farm_store: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(farm_store, tmp_path / "farm.tallybed"))


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    path = tmp_path / "wrenlatch.jpg"
    path.write_bytes(photo_with_place())
    return path


def ran(farm: Path, *words: object) -> tuple[int, str]:
    said = CliRunner().invoke(tallybed, ["photo", *map(str, words), "--store", str(farm)])
    return said.exit_code, said.output + str(said.exception or "")


@pytest.mark.slow
def test_a_photo_is_added_listed_withdrawn_and_comes_back(farm: Path, picture: Path) -> None:
    added = ["add", picture, "--plot", "C4222", "--day", "2024-08-08", "--caption", "first flower"]
    code, said = ran(farm, *added, "--who", "Ann")
    assert code == 0, said
    assert "1 photo stored. Place, camera and names are removed from every photo." in said
    code, said = ran(farm, *added)
    assert "Nothing new. 1 photo stored already." in said
    (kept,) = season.photos(farm)
    code, said = ran(farm, "list", "--variety", kept.variety)
    assert kept.sha256[:12] in said
    assert f"{kept.variety}, plot C4222 of cosmos-2024" in said
    code, said = ran(farm, "withdraw", kept.sha256[:12], "--why", "blurred")
    assert code == 0, said
    assert "Why: blurred" in said
    assert season.photos(farm) == ()
    season.undo(farm, season.history(farm)[-1].number, Signed("Ann"))
    assert len(season.photos(farm)) == 1


def test_json_is_one_document(farm: Path, picture: Path) -> None:
    _, said = ran(farm, "add", picture, "--variety", "Wrenlatch", "--day", "2026-08-14", "--json")
    (added,) = json.loads(said)["added"]
    assert (added["variety"], added["taken_on"]) == ("Wrenlatch", "2026-08-14")
    _, said = ran(farm, "list", "--json")
    assert [each["sha256"] for each in json.loads(said)] == [added["sha256"]]
    _, said = ran(farm, "withdraw", added["sha256"], "--why", "blurred", "--json")
    assert json.loads(said)["what"] == "withdrawal"


def test_no_photos_is_said(farm: Path) -> None:
    assert ran(farm, "list") == (0, "There are no photos yet.\n")


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["--day", "2026-08-14"], "Name either --variety or --plot."),
        (["--variety", "a", "--plot", "b", "--day", "2026-08-14"], "Name either"),
        (["--variety", "Wrenlatch", "--day", "14 August"], "is not a day"),
        (["--variety", "Wrenlach", "--day", "2026-08-14"], "Did you mean 'Wrenlatch'?"),
        (["--plot", "C9999999", "--day", "2026-08-14"], "No plot is called"),
        (["--variety", "Wrenlatch", "--day", "2999-01-01"], "Photos cannot be of 2999-01-01"),
    ],
)
def test_a_refusal_says_what_to_do(
    farm: Path, picture: Path, words: list[str], expected: str
) -> None:
    code, said = ran(farm, "add", picture, *words)
    assert code != 0
    assert expected in said
    assert season.photos(farm) == ()


def test_files_that_are_no_photos_are_named(farm: Path, tmp_path: Path) -> None:
    bad = tmp_path / "notes.txt"
    bad.write_text("no photo", encoding="utf-8")
    good = tmp_path / "good.jpg"
    good.write_bytes(photo())
    code, said = ran(farm, "add", good, bad, "--variety", "Wrenlatch", "--day", "2026-08-14")
    assert code != 0
    assert "notes.txt: This is no photo. Choose a JPEG, PNG or WebP file." in said
    assert season.photos(farm) == ()
