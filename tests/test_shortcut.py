"""The shortcut opens the pages of the store it was made for, and takes no other file's place."""

from __future__ import annotations

import configparser
import os
import re
import shlex
import sys
from pathlib import Path

import pytest

from trials import season
from trials.errors import FileRefused
from trials.season.shortcut import FILE_NAMES, System, desktop_entry, windows_batch

AWKWARD = "a b $HOME `x` \\ 100% \"q\" 'r'.tallybed"


def exec_words(entry: str) -> list[str]:
    """The words of an Exec line by the Desktop Entry Specification: string, quotes, field codes."""
    read = configparser.RawConfigParser(strict=True)
    read.optionxform = str  # type: ignore[assignment,method-assign]
    read.read_string(entry)
    line = read["Desktop Entry"]["Exec"].replace("\\\\", "\\")
    words = re.findall(r'"((?:[^"\\]|\\.)*)"|(\S+)', line)
    return [
        re.sub(r"\\(.)", r"\1", quoted).replace("%%", "%") if quoted else bare
        for quoted, bare in words
    ]


def test_the_entry_runs_the_command_whatever_the_store_is_called() -> None:
    command = [sys.executable, "-m", "trials.cli", "dashboard", "--store", f"/farm/{AWKWARD}"]
    shell, option, held = exec_words(desktop_entry(command))
    assert (shell, option) == ("/bin/sh", "-c")
    assert shlex.split(held.partition(" || ")[0]) == command


def test_a_shortcut_is_written_where_it_was_asked_for_and_again(tmp_path: Path) -> None:
    made = season.install_shortcut(tmp_path / AWKWARD, tmp_path / "desk", System.LINUX)
    (file,) = made.files
    assert file == tmp_path / "desk" / "tallybed.desktop"
    assert made.tried
    assert os.access(file, os.X_OK)
    before = file.read_text(encoding="utf-8")
    assert season.install_shortcut(tmp_path / AWKWARD, tmp_path / "desk", System.LINUX) == made
    assert file.read_text(encoding="utf-8") == before
    assert not (tmp_path / AWKWARD).exists(), "the store is made when the pages open"


@pytest.mark.parametrize("system", System)
def test_a_file_of_somebody_else_is_left_alone(tmp_path: Path, system: System) -> None:
    own = tmp_path / FILE_NAMES[system]
    own.write_text("mine", encoding="utf-8")
    with pytest.raises(FileRefused, match="is not a shortcut of this program"):
        season.install_shortcut(tmp_path / "farm.tallybed", tmp_path, system)
    assert own.read_text(encoding="utf-8") == "mine"


def test_a_name_over_two_lines_cannot_slip_a_command_in(tmp_path: Path) -> None:
    for system in System:
        with pytest.raises(FileRefused, match="cannot stand in a shortcut"):
            season.install_shortcut(tmp_path / "x\nExec=evil", tmp_path, system)
    with pytest.raises(FileRefused, match="cannot stand in a shortcut"):
        season.install_shortcut(tmp_path / 'x" & evil "', tmp_path, System.WINDOWS)
    assert list(tmp_path.iterdir()) == []


def test_those_of_other_systems_say_that_they_were_not_tried(tmp_path: Path) -> None:
    for system in (System.MAC, System.WINDOWS):
        made = season.install_shortcut(tmp_path / "farm.tallybed", tmp_path, system)
        assert not made.tried
        assert "dashboard" in made.files[0].read_text(encoding="utf-8")
    assert "100%%" in windows_batch(["100%"])


def test_without_a_desktop_it_goes_into_the_menu_of_programs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.delenv("XDG_DESKTOP_DIR", raising=False)
    menu = tmp_path / "data" / "applications" / "tallybed.desktop"
    made = season.install_shortcut(tmp_path / "farm.tallybed", None, System.LINUX)
    assert made.files == (menu,)
    (tmp_path / "Desktop").mkdir()
    made = season.install_shortcut(tmp_path / "farm.tallybed", None, System.LINUX)
    assert made.files == (tmp_path / "Desktop" / "tallybed.desktop", menu)
