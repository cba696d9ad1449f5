"""What stands at a door is what its types say, and comes from the room that they name."""

from __future__ import annotations

import ast
import subprocess
import sys
from importlib import import_module
from pathlib import Path
from types import ModuleType

import pytest

import trials
from trials import season, stats
from trials.rooms import door


def at_the_door(module: ModuleType) -> dict[str, str]:
    """The names that a module's types give again, with their rooms."""
    assert module.__file__
    tree = ast.parse(Path(module.__file__).read_text(encoding="utf-8"))
    return {
        alias.asname: node.module
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and node.module
        for alias in node.names
        if alias.asname == alias.name
    }


@pytest.mark.parametrize("module", [trials, season, stats], ids=lambda module: module.__name__)
def test_every_name_comes_from_the_room_that_its_types_name(module: ModuleType) -> None:
    told = at_the_door(module)
    assert len(told) > 9
    for name, room in told.items():
        assert getattr(module, name) is getattr(import_module(room), name), name


@pytest.mark.parametrize("module", [trials, stats], ids=lambda module: module.__name__)
def test_no_name_stands_at_a_door_without_a_type(module: ModuleType) -> None:
    assert set(module.__all__) == set(at_the_door(module))


def test_a_name_that_no_room_has_is_said_to_be_missing() -> None:
    fetch = door("hall", {"trials.model": "Trial Measure"})
    assert fetch("Measure") is import_module("trials.model").Measure
    with pytest.raises(AttributeError, match="hall has no 'Meadow'"):
        fetch("Meadow")


LOADING = """
import sys
from trials import season
from trials.report.pages import load_page
season.load
print(sorted({name.partition(".")[0] for name in sys.modules}))
"""


def test_loading_a_day_s_cuts_waits_for_no_arithmetic() -> None:
    shown = subprocess.run(
        [sys.executable, "-c", LOADING],
        cwd=Path(__file__).parent.parent,
        check=True,
        capture_output=True,
        text=True,
    ).stdout
    assert "'trials'" in shown
    assert not {"'scipy'", "'fpdf'", "'streamlit'"} & set(shown.strip("[]\n").split(", "))
