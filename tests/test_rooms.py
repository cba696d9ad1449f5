"""What stands at a door is what its types say, and comes from the room that they name."""

from __future__ import annotations

import ast
from importlib import import_module
from pathlib import Path
from types import ModuleType

import pytest

import trials
from trials import season
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


@pytest.mark.parametrize("module", [trials, season], ids=lambda module: module.__name__)
def test_every_name_comes_from_the_room_that_its_types_name(module: ModuleType) -> None:
    told = at_the_door(module)
    assert len(told) > 20
    for name, room in told.items():
        assert getattr(module, name) is getattr(import_module(room), name), name


def test_the_front_door_has_no_name_without_a_type() -> None:
    assert set(trials.__all__) == set(at_the_door(trials))


def test_a_name_that_no_room_has_is_said_to_be_missing() -> None:
    fetch = door("hall", {"trials.model": "Trial Measure"})
    assert fetch("Measure") is import_module("trials.model").Measure
    with pytest.raises(AttributeError, match="hall has no 'Meadow'"):
        fetch("Meadow")
