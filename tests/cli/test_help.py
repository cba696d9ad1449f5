"""What --help, help, completion and a pipe show."""

from __future__ import annotations

import io
import json
import os
import shlex
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from trials import season
from trials.cli import loading, safety, seed, tallybed
from trials.cli.completion import SHELLS
from trials.cli.examples import EXAMPLES
from trials.cli.terminal import CLEAR_LINE, coloured, progress_bar
from trials.cli.verbs import HEADINGS

ROOT = Path(__file__).parents[2]
FARM = ROOT / "data" / "farm"


def every_command(
    command: click.Command = tallybed, path: str = ""
) -> list[tuple[str, click.Command]]:
    below = command.commands.items() if isinstance(command, click.Group) else ()
    found = [(f"{path} {name}".strip(), each) for name, each in below]
    return [*found, *(pair for name, each in found for pair in every_command(each, name))]


COMMANDS = dict(every_command())


def helped(*words: str) -> str:
    return CliRunner().invoke(tallybed, [*words, "--help"], prog_name="tallybed").output


def test_no_summary_is_cut_and_every_command_has_one_heading() -> None:
    for text in (helped(), helped("people")):
        assert "…" not in text
        assert "..." not in text.replace("[ARGS]...", "")
    listed = [(name, verb.summary) for verbs in HEADINGS.values() for name, verb in verbs.items()]
    commands = tallybed.commands.items()
    assert listed == [(name, command.get_short_help_str(200)) for name, command in commands]
    assert all(heading in helped() for heading in HEADINGS)
    assert max(len(each.get_short_help_str(200)) for each in COMMANDS.values()) <= 66


@pytest.mark.parametrize("path", COMMANDS)
def test_every_command_and_option_is_explained_with_an_example(path: str) -> None:
    command = COMMANDS[path]
    shown = helped(*path.split())
    assert "…" not in shown
    for option in command.params:
        assert isinstance(option, click.Argument) or getattr(option, "help", None), option.name
    for line in EXAMPLES[path]:
        assert line in shown
        words = shlex.split(line.partition(" < ")[0])
        assert " ".join(words[1:]).startswith(path)
        known = {
            name for each in COMMANDS.values() for option in each.params for name in option.opts
        }
        assert {word for word in words if word.startswith("--")} <= known


def test_every_example_has_its_command() -> None:
    assert set(EXAMPLES) == set(COMMANDS)


@pytest.mark.parametrize("topic", ["terms", "methods", "compare", None])
def test_help_explains(topic: str | None) -> None:
    ran = CliRunner().invoke(tallybed, ["help", *([topic] if topic else [])], prog_name="tallybed")
    assert ran.exit_code == 0
    assert len(ran.output.splitlines()) > 20


def test_help_reaches_the_commands_of_a_command() -> None:
    ran = CliRunner().invoke(tallybed, ["help", "people", "add"], prog_name="tallybed")
    assert ran.exit_code == 0
    assert ran.output == helped("people", "add")


@pytest.mark.slow
def test_whatever_takes_over_a_second_has_a_bar(
    farm_store: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    doing: list[str] = []

    @contextmanager
    def bar(words: str) -> Iterator[None]:
        doing.append(words)
        yield

    for module in (loading, safety, seed):
        monkeypatch.setattr(module, "progress_bar", bar)
    for words in (
        ["load", str(FARM / "sites.csv"), "--dry-run"],
        ["verify"],
        ["backup", "--to", str(tmp_path / "copies")],
        ["package", "cosmos-2024", "--to", str(tmp_path / "package")],
        ["choose", "cosmos"],  # refused, as no trial is closed, but not before the bar
        ["order", "cosmos", "--bed-metres", "24"],
    ):
        before = len(doing)
        CliRunner().invoke(tallybed, [*words, "--store", str(farm_store)])
        assert len(doing) == before + 1, words


def test_help_on_something_unknown_says_what_there_is() -> None:
    ran = CliRunner().invoke(tallybed, ["help", "tractor"])
    assert ran.exit_code == 2
    assert "Name a command, terms or methods." in ran.output


@pytest.mark.parametrize("shell", SHELLS)
def test_a_completion_script_is_printed(shell: str) -> None:
    ran = CliRunner().invoke(tallybed, ["completion", shell])
    assert ran.exit_code == 0
    assert f"{shell}_complete" in ran.stdout


def test_completion_is_installed_where_the_shell_looks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    ran = CliRunner().invoke(tallybed, ["completion", "bash", "--install"])
    assert ran.exit_code == 0
    script = tmp_path / ".local/share/bash-completion/completions/tallybed"
    subprocess.run(["bash", "-n", script], check=True)


@pytest.mark.parametrize(
    ("shell", "variables"),
    [
        ("bash", {"COMP_WORDS": "tallybed comp", "COMP_CWORD": "1"}),
        ("powershell", {"COMP_WORDS": "tallybed comp", "COMP_INCOMPLETE": "comp"}),
    ],
)
def test_a_shell_gets_the_commands_that_begin_so(shell: str, variables: dict[str, str]) -> None:
    asked = {**os.environ, **variables, "_TALLYBED_COMPLETE": f"{shell}_complete"}
    ran = subprocess.run(
        [sys.executable, "-m", "trials.cli"],
        env=asked,
        check=False,
        capture_output=True,
        text=True,
        cwd=ROOT,
    )
    assert "compare" in ran.stdout
    assert "completion" in ran.stdout
    assert "choose" not in ran.stdout


def test_standard_input_is_loaded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    store = tmp_path / "farm.tallybed"
    content = (FARM / "sites.csv").read_bytes()
    ran = CliRunner().invoke(tallybed, ["load", "-", "--store", str(store), "--json"], content)
    assert ran.exit_code == 0, ran.output
    assert dict(json.loads(ran.stdout)["added"])["sites"] == content.count(b"\n") - 1
    assert season.trials(store) == ()


def test_a_fault_in_standard_input_names_its_row(tmp_path: Path) -> None:
    with pytest.raises(Exception, match=r"standard-input\.csv, row 2"):
        CliRunner().invoke(
            tallybed,
            ["load", "-", "--store", str(tmp_path / "farm.tallybed")],
            "site,place,bed_width_m\nNorth,Hill,wide\n",
            catch_exceptions=False,
        )


def test_every_key_and_column_can_be_looked_up() -> None:
    keys = CliRunner().invoke(tallybed, ["plan", "--keys"]).output
    columns = CliRunner().invoke(tallybed, ["load", "--columns"]).output
    assert "plants_per_plot " in keys
    assert "cuts.csv, one row per plot" in columns
    assert max(len(line) for line in (keys + columns).splitlines()) <= 100


class Screen(io.StringIO):
    """A terminal."""

    def isatty(self) -> bool:
        return True


def test_colour_is_for_terminals_that_want_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """By https://no-color.org: any text in NO_COLOR turns colour off."""
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    assert coloured("red", io.StringIO(), fg="red") == "red"
    assert coloured("red", Screen(), fg="red") == "\033[31mred\033[0m"
    monkeypatch.setenv("NO_COLOR", "1")
    assert coloured("red", Screen(), fg="red") == "red"


def test_a_bar_is_shown_only_for_what_takes_a_second(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = Screen()
    monkeypatch.setattr(sys, "stderr", screen)
    with progress_bar("Reading"):
        pass
    assert screen.getvalue() == ""
    with progress_bar("Reading"):
        time.sleep(1.3)
    assert "Reading" in screen.getvalue()
    assert screen.getvalue().endswith(CLEAR_LINE)
