"""Checks a store while nobody else writes to it; one that cannot be written to, by a copy of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from trials.store import migrate
from trials.store.copies import integrity, occasions
from trials.store.file.connection import hold_of
from trials.store.file.photo_files import photo_folder
from trials.store.file.private import is_writable
from trials.store.file.turns import Turns


def check(
    turns: Turns, told: integrity.Told | None = None, photos: Path | None = None
) -> integrity.Wholeness:
    """Compare the store's history with this program's and read all; ``told`` hears how far.

    ``photos`` is the folder of its photos, by default the one beside it.

    Raises
    ------
    StoreDamaged
        The history was altered, or the file is so broken that reading came to an end.
    """
    beside = photos or photo_folder(turns.path)
    if not is_writable(turns.path):  # to look a row up by its key is to try to store it again
        with occasions.copied_apart(turns) as copy:
            apart = Turns(hold_of(copy), turns.wait_s)
            occasions.bring_forward(apart)
            return replace(check(apart, told, beside), store=str(turns.path))
    steps = migrate.all_migrations()
    with turns.alone() as cursor:
        migrate.require_current(cursor, steps, turns.path)
        heard = (told,) if told is not None else ()
        return integrity.read_everything(cursor, turns.path, beside, *heard)
