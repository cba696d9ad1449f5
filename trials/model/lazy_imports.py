"""Names that stand at a door and are fetched from their rooms when they are first asked for."""

from __future__ import annotations

import ast
from collections.abc import Callable
from importlib import import_module
from pathlib import Path


def named_for_types(source: str) -> dict[str, str]:
    """The names that a module imports for its types and hands on (``from a import b as b``).

    Each with the module it comes from.
    """
    return {
        alias.name: str(node.module)
        for block in ast.parse(source).body
        if isinstance(block, ast.If) and ast.unparse(block.test) == "TYPE_CHECKING"
        for node in block.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
        if alias.asname == alias.name
    }


def door(module: str, file: str) -> tuple[list[str], Callable[[str], object]]:
    """The names of a door, and its ``__getattr__`` (PEP 562), which fetches each when it is used.

    They are read from the door's own imports for types, so that each name is written once.
    """
    room_of = named_for_types(Path(file).read_text(encoding="utf-8"))

    def fetch(name: str) -> object:
        room = room_of.get(name)
        if room is None:
            raise AttributeError(f"{module} has no {name!r}")
        return getattr(import_module(room), name)

    return sorted(room_of), fetch
