"""How a farm begins: a store where none is, and the invented farm's to look at next to it."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

from trials.errors import FileRefused
from trials.season.demo import fill
from trials.store import Store
from trials.store.file.places import move_to_free_place
from trials.store.file.private import make_folder, working_folder

EXAMPLE_NAME = "example-farm.tallybed"


def begin(store: Path) -> bool:
    """Make an empty store where none is; whether one was made.

    Raises
    ------
    FileRefused
        The place cannot be written to.
    """
    if store.expanduser().exists():
        return False
    Store.create(store)
    return True


def example_farm(beside: Path) -> Path:
    """The invented farm's store in the folder of another; made when it is first asked for.

    It appears whole or not at all. One that is there is opened as it is.

    Raises
    ------
    FileRefused
        The folder cannot be written to, or the invented farm's files are missing.
    StoreRefused
        The file of that name is no store.
    """
    folder = beside.expanduser().absolute().parent
    place = folder / EXAMPLE_NAME
    if not place.exists():
        try:
            make_folder(folder)
            with working_folder(".example-", folder) as working:
                fill(working / EXAMPLE_NAME, lambda step: None)
                with suppress(FileExistsError):  # another page made it meanwhile
                    move_to_free_place(working / EXAMPLE_NAME, place)
        except OSError as problem:
            raise FileRefused(
                f"{folder}: {problem.strerror}. The example farm needs a folder you may write in."
            ) from None
    return Store.open(place).path
