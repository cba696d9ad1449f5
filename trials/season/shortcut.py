"""A file to double-click that opens the pages, for whoever starts programs with the mouse.

The Linux entry follows the Desktop Entry Specification 1.5 (freedesktop.org).
"""

from __future__ import annotations

import re
import shlex
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from trials.errors import FileRefused

NAME = "Tallybed"
# By this word in its text a file is known as ours, and may be written again.
MARK = "tallybed-shortcut"
_ICON = Path(__file__).resolve().parents[2] / "dashboard" / "mark.svg"
_RESERVED = re.compile(r'(["`$\\])')
_CONTROL = re.compile(r"[\x00-\x1f\x7f]")


class System(StrEnum):
    """The systems that a shortcut is written for."""

    LINUX = "linux"
    MAC = "macos"
    WINDOWS = "windows"


@dataclass(frozen=True, slots=True)
class Shortcut:
    """The files that were written; ``tried`` says whether this kind was tried by its makers."""

    files: tuple[Path, ...]
    system: System
    tried: bool


def this_system() -> System:
    """The system that the program runs on."""
    if sys.platform == "win32":
        return System.WINDOWS
    return System.MAC if sys.platform == "darwin" else System.LINUX


def install_shortcut(
    store: Path, into: Path | None = None, system: System | None = None
) -> Shortcut:
    """Write the shortcut to the pages of a store; one of ours that is there is written again.

    ``into`` is the folder, by default the desktop; on Linux the menu of programs as well.

    Raises
    ------
    FileRefused
        A file of that name is not ours, a path cannot stand in a shortcut, or the folder cannot
        be written to.
    """
    system = system or this_system()
    store = store.expanduser().absolute()
    for path in (store, Path(sys.executable)):
        if _CONTROL.search(str(path)) or (system is System.WINDOWS and '"' in str(path)):
            raise FileRefused(f"{path} cannot stand in a shortcut. Rename the file or its folder.")
    text = TEXTS[system]([sys.executable, "-m", "trials.cli", "dashboard", "--store", str(store)])
    files = tuple(folder / FILE_NAMES[system] for folder in _folders(into, system))
    for file in files:
        _require_own(file)
    for file in files:
        _write(file, text)
    return Shortcut(files, system, tried=system is System.LINUX)


def desktop_entry(command: list[str]) -> str:
    """The text of a desktop entry that runs a command in a terminal and keeps a refusal in view."""
    held = f"{shlex.join(command)} || {{ echo; echo 'Press Enter to close.'; read -r _; }}"
    exec_line = " ".join(["/bin/sh", "-c", _exec_argument(held)])
    lines = [
        "[Desktop Entry]",
        f"# {MARK}",
        "Type=Application",
        "Version=1.5",
        f"Name={NAME}",
        "Comment=Flower trials: the pages open in your browser",
        f"Exec={_string(exec_line)}",
        f"Icon={_string(str(_ICON))}",
        "Terminal=true",
        "Categories=Office;",
    ]
    return "\n".join(lines) + "\n"


def mac_command(command: list[str]) -> str:
    """The text of a file that the terminal of macOS runs when it is double-clicked."""
    return f"#!/bin/sh\n# {MARK}\nexec {shlex.join(command)}\n"


def windows_batch(command: list[str]) -> str:
    """The text of a batch file that leaves its window open after a refusal."""
    words = " ".join(f'"{word}"' for word in command).replace("%", "%%")
    lines = ["@echo off", f"rem {MARK}", "chcp 65001 > nul", words, "if errorlevel 1 pause"]
    return "\r\n".join(lines) + "\r\n"


TEXTS: Mapping[System, Callable[[list[str]], str]] = {
    System.LINUX: desktop_entry,
    System.MAC: mac_command,
    System.WINDOWS: windows_batch,
}
FILE_NAMES: Mapping[System, str] = {
    System.LINUX: "tallybed.desktop",
    System.MAC: f"{NAME}.command",
    System.WINDOWS: f"{NAME}.bat",
}


def _exec_argument(text: str) -> str:
    """One argument of an Exec line, in double quotes; a per cent sign begins a field code there."""
    return '"' + _RESERVED.sub(r"\\\1", text).replace("%", "%%") + '"'


def _string(text: str) -> str:
    """A value of the type string, in which a backslash escapes."""
    return text.replace("\\", "\\\\")


def _folders(into: Path | None, system: System) -> tuple[Path, ...]:
    if into is not None:
        return (into.expanduser().absolute(),)
    from platformdirs import user_data_path, user_desktop_path

    desktop = user_desktop_path()
    if system is not System.LINUX:
        return (desktop,)
    menu = user_data_path() / "applications"
    return (desktop, menu) if desktop.is_dir() else (menu,)


def _require_own(file: Path) -> None:
    if not file.exists() and not file.is_symlink():
        return
    try:
        own = file.is_file() and MARK in file.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        own = False
    if not own:
        raise FileRefused(
            f"{file} is not a shortcut of this program, so it is left as it is. Move it away, or "
            "name another folder with --into."
        )


def _write(file: Path, text: str) -> None:
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8", newline="")
        file.chmod(0o755)  # a desktop starts only what may be run
    except OSError as problem:
        raise FileRefused(
            f"{file}: {problem.strerror}. Name a folder you may write in with --into."
        ) from None
