"""Names that stand at a door and are fetched from their rooms when they are first asked for."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module


def names_at(rooms: Mapping[str, str]) -> dict[str, str]:
    """The room of each name; ``rooms`` has the names of each room with spaces between them."""
    return {name: room for room, names in rooms.items() for name in names.split()}


def door(module: str, rooms: Mapping[str, str]) -> Callable[[str], object]:
    """The ``__getattr__`` of a module (PEP 562) whose names are those of other rooms."""
    room_of = names_at(rooms)

    def fetch(name: str) -> object:
        room = room_of.get(name)
        if room is None:
            raise AttributeError(f"{module} has no {name!r}")
        return getattr(import_module(room), name)

    return fetch
