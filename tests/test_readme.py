"""The README is live: its lines run, its commands exist, its tables are the program's."""

from __future__ import annotations

import re
import shlex
import shutil
import tomllib
from pathlib import Path

import click
import pandas as pd
import pytest

from trials import season
from trials.model.rows import Sheet
from trials.records.rules.forms import FORMS, Need
from trials.report.file_reference import columns_page

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")

STAYS_OPEN = {"dashboard"}
ASKS = {"people"}  # for a passphrase, or about one who has one
MY_TRIAL = """variety,block,stems
my old one,1,7.1
my old one,2,6.4
my old one,3,7.0
another,1,9.2
another,2,8.1
another,3,9.3
"""


def code_lines(text: str, language: str) -> list[str]:
    """Every line of the fenced blocks of a language, continued lines joined."""
    blocks = re.findall(rf"^[ ]*```{language}\n(.*?)^[ ]*```", text, flags=re.MULTILINE | re.DOTALL)
    lines = "".join(blocks).replace("\\\n", " ").splitlines()
    return [" ".join(line.split()) for line in lines if line.strip()]


def tallybed_lines() -> list[str]:
    return [line for line in code_lines(README, "sh") if line.startswith("tallybed ")]


def test_a_copy_opens_by_the_lines_that_it_gives(
    tmp_path: Path,
    farm_store: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Without this program: only what the lines themselves import."""
    store = Path(shutil.copy(farm_store, tmp_path))
    made = season.backup(store, tmp_path / "copies")
    made.folder.rename(tmp_path / "copies" / "farm-20261012-090000")
    monkeypatch.chdir(tmp_path)
    lines = code_lines(README[README.index("## Keeping copies") :], "python")
    assert len(lines) == 3
    exec("\n".join(lines), {})
    cuts = pd.read_csv(ROOT / "data" / "farm" / "cuts.csv")
    days = cuts[["plot", "cut_on"]].drop_duplicates().sort_values(["plot", "cut_on"])
    printed = capsys.readouterr().out
    assert f"[{len(days)} rows x 3 columns]" in printed
    first = days.iloc[0]
    of_day = cuts[(cuts["plot"] == first["plot"]) & (cuts["cut_on"] == first["cut_on"])]
    of_day = of_day[of_day["grade_cm"].notna()]
    stems = {
        int(grade): int(n) for grade, n in zip(of_day["grade_cm"], of_day["stems"], strict=True)
    }
    held = pd.read_parquet(tmp_path / "copies" / "farm-20261012-090000" / "tables" / "cut.parquet")
    held = held.sort_values(["plot", "cut_on"])
    assert dict(held["stems_by_grade"].iloc[0]) == stems


def set_up_lines(language: str, ending: str) -> list[str]:
    return [line for line in code_lines(README, language) if re.search(ending, line)]


@pytest.mark.parametrize("ending", [r"tallybed demo$", r"-m pytest\b.*$"])
def test_one_line_does_it_all_on_either_system(ending: str) -> None:
    (posix,) = set_up_lines("sh", ending)
    (windows,) = set_up_lines("powershell", ending)
    make, *installs, run = posix.split(" && ")
    pip = ".venv/bin/python -m pip install -q"
    assert make == "python3 -m venv .venv"
    # pip checks digests only where every requirement has one, which a folder has not.
    assert installs == [
        f"{pip} -r requirements.lock",
        f"{pip} --no-deps --no-build-isolation -e .",
    ]
    as_on_windows = [
        make.replace("python3", "py -3"),
        *(step.replace(".venv/bin/", ".venv\\Scripts\\") for step in (*installs, run)),
    ]
    assert windows.split("; ") == as_on_windows


def test_the_continuous_check_runs_the_same_line() -> None:
    pattern = re.search(
        r"test_line=\$\(grep -E '(.*?)' README\.md\)", (ROOT / ".ci/run").read_text()
    )
    assert pattern
    matched = [line for line in README.splitlines() if re.search(pattern[1], line)]
    assert matched == set_up_lines("sh", r"-m pytest\b")


def test_there_are_commands_to_check() -> None:
    assert len(tallybed_lines()) >= 5


@pytest.mark.parametrize("line", tallybed_lines())
def test_every_command_shown_exists_with_its_options(line: str) -> None:
    from trials.cli import tallybed

    words = shlex.split(line, comments=True)[1:]
    shown: click.Command = tallybed
    if not words[0].startswith("-"):
        assert words[0] in tallybed.commands
        shown = tallybed.commands[words[0]]
        if isinstance(shown, click.Group):
            assert words[1] in shown.commands
            shown = shown.commands[words[1]]
    known = {name for parameter in shown.params for name in parameter.opts} | {"--help"}
    options = {word.partition("=")[0] for word in words if word.startswith("--")}
    assert options <= known


@pytest.mark.slow
def test_the_season_runs_as_shown(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from trials.cli import tallybed

    shutil.copytree(ROOT / "data" / "farm", tmp_path / "data" / "farm")
    for name in ("plan-example.toml", "winter-example.toml", "recounted.csv"):
        shutil.copy(ROOT / "data" / name, tmp_path / "data")
    (tmp_path / "my-trial.csv").write_text(MY_TRIAL, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TALLYBED_STORE", str(tmp_path / "farm.tallybed"))
    for line in tallybed_lines():
        words = shlex.split(line)[1:]
        if words[0] in STAYS_OPEN | ASKS:
            continue
        tallybed.main(words, standalone_mode=False)
        assert capsys.readouterr().out, line
    assert (tmp_path / "order.csv").exists()
    assert (tmp_path / "order.pdf").exists()
    assert (tmp_path / "winter-2027" / "calendar.ics").exists()


def test_every_command_is_shown() -> None:
    from trials.cli import tallybed

    mentioned = set(re.findall(r"\btallybed ([a-z-]+)\b", README))
    assert set(tallybed.commands) <= mentioned


def test_the_python_lines_run(capsys: pytest.CaptureFixture[str]) -> None:
    block = re.findall(r"^```python\n(.*?)^```", README, flags=re.MULTILINE | re.DOTALL)[0]
    assert len(block.splitlines()) <= 10
    exec(block, {})
    assert "new is about" in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(("text", "most"), [(README, 200), (DEVELOPERS, 180)])
def test_a_document_can_be_read_at_one_sitting(text: str, most: int) -> None:
    assert len(text.splitlines()) <= most


@pytest.mark.parametrize("sheet", Sheet)
def test_every_column_can_be_looked_up(sheet: Sheet) -> None:
    page = columns_page()
    described = page[page.index(f"\n{sheet}.csv, one row per ") + 1 :].partition("\n\n")[0]
    listed = [line.split()[0] for line in described.splitlines()[1:] if line[2] != " "]
    form = FORMS[sheet]
    names = [each.name + ("" if each.need is Need.FILLED else "?") for each in form.columns]
    assert listed == [*names, *(["a"] if form.factor_columns else [])]


def test_the_wheel_names_the_licence_of_the_font_too() -> None:
    """By the core metadata specification, fields License-Expression and License-File."""
    wheel = pytest.importorskip("hatchling.builders.wheel")
    metadata = wheel.WheelBuilder(str(ROOT)).metadata.core
    assert metadata.license_expression == "Apache-2.0 AND Bitstream-Vera"
    assert any("DejaVu" in file for file in metadata.license_files)
    assert "LICENSE" in metadata.license_files


def test_the_map_shows_each_room_and_no_other() -> None:
    _, plan, _ = DEVELOPERS.split("```\n", 2)
    _, _, rooms = plan.partition("trials/\n")
    shown = {line.split()[0].strip("/") for line in rooms.splitlines() if line.startswith("  ")}
    there = {path.name for path in (ROOT / "trials").iterdir()}
    assert shown == there - {"__pycache__"}


@pytest.mark.parametrize("path", sorted(set(re.findall(r"`([a-z_]+/[\w/.]*)`", DEVELOPERS))))
def test_the_recipes_name_what_is_there(path: str) -> None:
    assert (ROOT / path).exists()


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README.md", "DEVELOPERS.md"])
def test_links_lead_somewhere(text: str) -> None:
    targets = re.findall(r"\]\(([^)#\s]+)[^)]*\)", text)
    broken = [to for to in targets if "://" not in to and not (ROOT / to).exists()]
    assert not broken


def test_every_release_is_named_with_its_digests_and_no_place_to_get_it_from() -> None:
    """Read as pip's requirements format says: https://pip.pypa.io/en/stable/topics/secure-installs."""
    lock = (ROOT / "requirements.lock").read_text(encoding="utf-8")
    entries = [
        entry
        for entry in lock.replace("\\\n", " ").splitlines()
        if entry.strip() and not entry.startswith("#")
    ]
    assert len(entries) > 100
    for entry in entries:
        release, *digests = re.split(r"\s+--hash=", entry.strip())
        assert re.match(r"[a-z0-9-]+==[^ ]+( ; .+)?$", release), entry
        assert digests, entry
        assert all(re.fullmatch(r"sha256:[0-9a-f]{64}", digest) for digest in digests), entry
    assert "://" not in lock
    named = {entry.partition("==")[0] for entry in entries}
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    wanted = [
        *project["build-system"]["requires"],
        *project["project"]["dependencies"],
        *(each for extra in project["project"]["optional-dependencies"].values() for each in extra),
    ]
    assert {re.split(r"[<>=]", each)[0] for each in wanted} <= named


def test_the_command_that_renews_the_lock_is_the_one_that_made_it() -> None:
    (command,) = [line for line in code_lines(DEVELOPERS, "sh") if "pip compile" in line]
    head = (ROOT / "requirements.lock").read_text(encoding="utf-8").splitlines()[1]
    assert head.removeprefix("#").strip() == command
